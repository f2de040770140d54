"""Correct an entry: another value or none, with a reason; the first entry stays and both are shown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any, ClassVar, cast

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.instants import format_clock, parse_hasty_clock
from pollstead.election.words import N_, message
from pollstead.reconcile.observed import Observation, What, observation_of
from pollstead.reconcile.paper.progress import waiting_keyings
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Body
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected, SiteClosed, SiteOpened
from pollstead.record.kinds.heard import HeardStep, SiteHeard
from pollstead.record.kinds.registry import body_object
from pollstead.show.web.day import days_now
from pollstead.show.web.entered import Entered, entries_of, phoned, says
from pollstead.show.web.misread import MISREAD, misread_of
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread, own_address
from pollstead.show.web.readings import Asked, Line, closing_lines, opening_lines
from pollstead.show.web.typed import Said, Wrong, field_names, read_line

ASKED = {
    What.SERIAL: Asked.SERIAL,
    What.SEAL: Asked.SEAL,
    What.CLOCK: Asked.CLOCK,
    What.COUNT: Asked.COUNT,
    What.REPORT: Asked.REPORT,
    What.MEMORY_DEVICE: Asked.PACKED,
}
IN_PLACE_STATES = ("intact", "not_intact", "closure_opens")
"""States that a seal without a recorded number may have; one that is not there is asked for its number."""
MINUTES: dict[What, Callable[[Observation, int], Body]] = {
    What.OPENED: lambda seen, at_min: SiteOpened(at_min=at_min),
    What.CLOSED: lambda seen, at_min: SiteClosed(at_min=at_min),
    What.HEARD: lambda seen, at_min: SiteHeard(step=cast(HeardStep, seen.detail), at_min=at_min),
}


class CorrectPage(Page, frozen=True, kw_only=True):
    """One entry and the form that corrects it."""

    template: ClassVar[str] = "correct.html"

    subject: str
    what: str
    shown: str
    by: tuple[str, ...]
    phoned: str
    utc_ms: int
    zone: str
    line: Line | None
    next: str
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    misread_offered: bool
    entries: tuple[Entered, ...]


def entry_of(ask: Ask, event: str) -> Observation:
    """The entry that an address names; raises Trouble where it is not one, or was corrected already."""
    found = observation_of(ask.folder.fold(), event)
    if found is None or (found.what not in ASKED and found.what not in MINUTES):
        raise Trouble(
            404, N_("There is no entry here that can be corrected."), N_("Begin with the site's page.")
        )
    if not found.stands:
        raise Trouble(
            409,
            N_("This entry was corrected already."),
            N_("The site's page shows the entry that stands now; correct that one."),
            site_page_of(found),
        )
    if waits_for_another(ask, found):
        raise Trouble(
            403,
            N_("Another person entered this, and the line waits for a second one."),
            N_("Enter what you read first; then both entries are shown."),
            site_page_of(found),
        )
    return found


def waits_for_another(ask: Ask, seen: Observation) -> bool:
    """Whether an entry is another person's on a line that is not finished: then it must not be seen yet."""
    if ask.person().person in seen.entered_by or not ask.folder.current_digest() or not seen.day:
        return False
    days = days_now(ask.folder)
    day = days.site(seen.site, dt.date.fromisoformat(seen.day))
    if day is None:
        return False
    if any(o.event == seen.event for o in waiting_keyings(day)):
        return True
    lines = (*opening_lines(day, days.election), *closing_lines(day, days.election))
    return any(not line.complete and any(o.event == seen.event for o in line.answers) for line in lines)


def site_page_of(seen: Observation) -> str:
    """The address of the site that an entry belongs to."""
    return f"/site/{seen.site}" if seen.site else "/"


def line_of(seen: Observation) -> Line | None:
    """The line whose form asks for the entry's right value; None for a minute of the clock."""
    if seen.what not in ASKED:
        return None
    asked = ASKED[seen.what]
    if asked is Asked.SEAL and not seen.value and seen.state in IN_PLACE_STATES:
        asked = Asked.SEAL_IN_PLACE
    return Line(
        id="right",
        group="",
        ask=asked,
        words=seen.detail.replace("_", " ") or seen.subject.rpartition("/")[2],
        own_words=False,
        subject=seen.subject,
        detail=seen.detail,
        source=seen.source,
        device=seen.subject.rpartition("/")[0] if seen.what is What.MEMORY_DEVICE else "",
    )


def correct_page(ask: Ask, seen: Observation, faults: tuple[Wrong, ...] = ()) -> CorrectPage:
    """The page; with `faults`, what was typed is kept."""
    line = line_of(seen)
    names = ("reason", "right", *(field_names(line) if line is not None else ()))
    return CorrectPage(
        **ask.frame(N_("What was wrong with this entry?")),
        subject=seen.subject,
        what=seen.what.value,
        shown=minute_or_words(seen),
        by=tuple(ask.folder.person_name(p) for p in seen.entered_by),
        phoned=phoned(ask.folder, seen),
        utc_ms=seen.utc_ms,
        zone=ask.folder.zone_name,
        line=line,
        next=back_of(ask, seen),
        typed=tuple(TypedValue(field=n, value=ask.form.text(n)) for n in dict.fromkeys(names))
        if faults
        else (),
        faults=faults,
        misread_offered=any(fault.words.template == MISREAD for fault in faults),
        entries=_entries(ask, seen),
    )


def _entries(ask: Ask, seen: Observation) -> tuple[Entered, ...]:
    """Every entry of the thing by its author, once as many people have entered it as must."""
    if not ask.folder.current_digest() or not seen.day:
        return ()
    days = days_now(ask.folder)
    day = days.site(seen.site, dt.date.fromisoformat(seen.day))
    if day is None:
        return ()
    lines = (*opening_lines(day, days.election), *closing_lines(day, days.election))
    answered = [line for line in lines if any(o.event == seen.event for o in line.answers)]
    return entries_of(ask.folder, answered[0]) if answered and all(x.complete for x in answered) else ()


def minute_or_words(seen: Observation) -> str:
    """What the entry says, as it was typed."""
    return format_clock(seen.number or 0) if seen.what in MINUTES else says(seen)


def back_of(ask: Ask, seen: Observation) -> str:
    """Where to go after the correction: the page the person came from, else the site's."""
    asked = ask.form.text("next") or ask.query.get("next", "")
    return own_address(asked) if asked else site_page_of(seen)


@get("/entry/{event:str}")
@in_thread
def entry(request: Request[Any, Any, Any], event: FromPath[str]) -> Response[str]:
    """One entry with the form that corrects it."""
    ask = Ask(request)
    return answer(ask, correct_page(ask, entry_of(ask, event)))


@post("/entry/{event:str}")
@in_thread
def correct_entry(request: Request[Any, Any, Any], event: FromPath[str]) -> Response[Any]:
    """Record the correction."""
    ask = Ask(request)
    seen = entry_of(ask, event)
    reason, faults = ask.form.text("reason"), []
    body: Body | None = None
    private: FrozenObject | None = None
    if ask.form.text("withdraw") != "yes":
        said = read_right(seen, ask)
        if isinstance(said, Wrong):
            faults.append(said)
        else:
            body = said.body
            private = None if said.private is None else body_object(said.private)
    if not reason:
        faults.append(Wrong(field="reason", words=message(N_("Say in a few words what was wrong."))))
    if faults:
        return answer(ask, correct_page(ask, seen, tuple(faults)), status=422)
    site = f"site/{seen.site}" if seen.site else ""
    ask.folder.write(
        EntryCorrected(
            corrects=seen.event,
            of_kind=seen.kind,
            value=FrozenObject() if body is None else body_object(body),
            sheet=seen.sheet,
            line=seen.line,
        ),
        who=ask.person(),
        subject=seen.subject,
        site=site,
        day=seen.day,
        private=CorrectionPrivate(reason=reason, fields=private),
    )
    return go(back_of(ask, seen))


def read_right(seen: Observation, ask: Ask) -> Said | Wrong:
    """The right value as typed."""
    line = line_of(seen)
    if line is not None:
        misread = misread_of(ask.folder.tables_election(), ask.folder.current(), ask.form)
        return read_line(line, ask.form, misread)
    try:
        minute = parse_hasty_clock(ask.form.text("right"))
    except ValueError:
        return Wrong(field="right", words=message(N_("Type the time like 06:00; past midnight like 24:40.")))
    return Said(body=MINUTES[seen.what](seen, minute))
