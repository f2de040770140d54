"""Ready to open: every site on one operating day, the one to call first at the top."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar, Literal

from litestar import Request, Response, get, post

from pollstead.election.instants import Instant
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.readiness.ready import ReadyState
from pollstead.reconcile.readiness.ten_calls import TEN
from pollstead.reconcile.readiness.windows import WINDOW_WORDS
from pollstead.record.kinds.body import Body, Private, Reason
from pollstead.record.kinds.calls import ReadyEvidence, ReadyUnknown, SeenPrivate
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.asked_day import planned_days
from pollstead.show.web.day import all_days, county_day, days_now
from pollstead.show.web.pages.county import site_link
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.ready_view import (
    MICRO,
    CallLine,
    Sight,
    SiteLine,
    call_lines,
    list_of,
    names_of,
    present_election,
    sight_of,
    site_line,
)
from pollstead.show.web.typed import Wrong

HALF_DAY_MS = 12 * 3_600_000
READY_SHAPES = {ReadyState.GOOD: "square", ReadyState.BAD: "diamond", ReadyState.UNKNOWN: "ring"}
TOLD_WORDS = (
    ("delivery", N_("Delivery: cart and boxes")),
    ("supplies", N_("Supplies packed")),
    ("crew", N_("Hands for the set-up")),
    ("building-way-in", N_("Keys and the way in")),
    ("building-power", N_("Power")),
    ("building-room", N_("Room")),
    ("building-other", N_("Around the building")),
)
DESK_LINKS = {
    "plan-approved": "/versions",
    "packets": "/jobs",
    "rules": "/open",
    "open-items": "/open",
}


class DeskAct(Value, frozen=True, kw_only=True):
    """What the office itself can do: one kind of act for some sites, and where."""

    words: Message
    sites: int
    worth: int
    link: str


class ReadyPage(Page, frozen=True, kw_only=True):
    """Which ten calls make the morning open on time, and how each site stands."""

    template: ClassVar[str] = "ready.html"

    day: dt.date
    days: tuple[dt.date, ...]
    window_words: str
    now_ms: int
    zone: str
    calls: tuple[CallLine, ...]
    more: int
    stay: int
    desk: tuple[DeskAct, ...]
    sites: tuple[SiteLine, ...]
    ready: int
    sight: Sight
    told: tuple[tuple[str, str], ...]
    shapes: tuple[tuple[str, str], ...]
    cautions: tuple[Caution, ...]
    faults: tuple[Wrong, ...]
    typed: tuple[TypedValue, ...]
    done: str


def chosen_county_day(ask: Ask) -> tuple[dt.date, tuple[dt.date, ...]]:
    """The day of the address, else the one that is due; raises Trouble before there is a plan."""
    days = planned_days(ask)
    dates = all_days(days.version, days.election)
    text = ask.query.get("day", "")
    if not text:
        now_ms = ask.folder.clock()
        return county_day(days, days.version, days.election, now_ms, until_closed=True), dates
    found = next((date for date in dates if date.isoformat() == text), None)
    if found is None:
        raise Trouble(404, N_("No site is open on that day."), N_("Choose another day."), ask.path)
    return found, dates


def ready_page(ask: Ask, faults: tuple[Wrong, ...] = ()) -> ReadyPage:
    """Ready to open, on one day."""
    date, dates = coming_day(ask)
    days = days_now(ask.folder)
    election = present_election(ask, days)
    found = list_of(ask, days, date, election)
    names, sight = names_of(ask, election), sight_of(ask)
    lines = call_lines(found.calls, names, sight)
    return ReadyPage(
        **ask.frame(N_("Ready to open?")),
        day=date,
        days=dates,
        window_words=WINDOW_WORDS.get(found.window, ""),
        now_ms=found.now_ms,
        zone=days.election.zone_name,
        calls=lines[:TEN],
        more=max(0, len(lines) - TEN),
        stay=sum(line.stays for line in lines[:TEN]),
        desk=tuple(
            DeskAct(
                words=one.asks[0].words,
                sites=len(one.sites),
                worth=round(one.worth_micro / MICRO),
                link=DESK_LINKS.get(one.asks[0].question, f"/site/{one.sites[0]}"),
            )
            for one in found.desk
        ),
        sites=tuple(
            site_line(number, site, site_link(site.site), names, sight, found.now_ms)
            for number, site in enumerate(found.sites, start=1)
        ),
        ready=sum(site.ready for site in found.sites),
        sight=sight,
        told=TOLD_WORDS,
        shapes=tuple((state.value, shape) for state, shape in READY_SHAPES.items()),
        cautions=for_place(Place.READY_PAGE),
        faults=faults,
        typed=tuple(TypedValue(field=n, value=ask.form.text(n)) for n in ("site", "question", "seen"))
        if faults
        else (),
        done=str(ask.query.get("done") or ""),
    )


def take_evidence(ask: Ask) -> tuple[Wrong, ...]:
    """Record what somebody saw of a question, or that it counts no longer."""
    form, faults = ask.form, []
    site, question, seen, result = (form.text(n) for n in ("site", "question", "seen", "result"))
    version = ask.folder.current()
    if version is None or site not in {plan.site for plan in version.sites}:
        raise Trouble(404, N_("There is no such site."), N_("Open the page again."), "/ready")
    if question not in dict(TOLD_WORDS) or result not in ("good", "bad", "unknown"):
        raise Trouble(400, N_("This form is not known here."), N_("Open the page again."), "/ready")
    if not seen:
        words = message(N_("Say what was seen, and who saw it."))
        faults.append(Wrong(field=f"seen-{site}", words=words))
        return tuple(faults)
    subject = f"site/{site}"
    body: Body
    private: Private
    if result == "unknown":
        body, private = ReadyUnknown(question=question), Reason(reason=seen)
    else:
        word: Literal["good", "bad"] = "good" if result == "good" else "bad"
        body, private = ReadyEvidence(question=question, result=word), SeenPrivate(seen=seen)
    heads = ask.folder.fold().heads(subject, "ready", question=question)
    ask.folder.write(body, who=ask.person(), subject=subject, site=subject, after=heads, private=private)
    return ()


def coming_day(ask: Ask) -> tuple[dt.date, tuple[dt.date, ...]]:
    """The day of the address or the form; else today before noon, the next operating day from noon on."""
    date, dates = chosen_county_day(ask)
    typed = ask.query.get("day", "") or ask.form.text("day")
    if typed:
        date = next((one for one in dates if one.isoformat() == typed), date)
        return date, dates
    noon_on = ask.folder.clock() + HALF_DAY_MS
    today = Instant(utc_ms=noon_on).local(ask.folder.zone_name).date()
    return next((one for one in dates if one >= today), dates[-1] if dates else date), dates


@get("/ready")
@in_thread
def ready(request: Request[Any, Any, Any]) -> Response[str]:
    """Ready to open?"""
    ask = Ask(request)
    return answer(ask, ready_page(ask))


@post("/ready")
@in_thread
def take_ready(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take what somebody saw."""
    ask = Ask(request)
    faults = take_evidence(ask)
    if faults:
        return answer(ask, ready_page(ask, faults), status=422)
    return go(f"/ready?done=seen&day={coming_day(ask)[0].isoformat()}")
