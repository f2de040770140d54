"""Phone-in: which site calls, who, which step; then read back; only what they said yes to is written."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar
from urllib.parse import urlencode

import msgspec
from litestar import Request, Response, get, post

from pollstead.election.county import Person, Site
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.heard.silence import SiteHeard
from pollstead.reconcile.heard.steps import STEP_WORDS
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.day import issued
from pollstead.show.web.heard_view import Silence, SiteLine
from pollstead.show.web.open_folder import person_id
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.phone_call import (
    StepChoice,
    TakenCall,
    choices_of,
    count_lines,
    events_of,
    giver_of,
    read_call,
    written,
)
from pollstead.show.web.phone_sites import site_meant
from pollstead.show.web.readings import Line
from pollstead.show.web.typed import Wrong

MINUTE_MS = 60_000
WORDS_BY_KEY = {step.value: words for step, words in STEP_WORDS.items()}


class ReadBack(Value, frozen=True, kw_only=True):
    """What is read back: the call as typed, who called, and what looks odd about its minute."""

    call: TakenCall
    caller: str
    new_caller: bool
    later_than_now: bool


class PhonePage(Page, frozen=True, kw_only=True):
    """One call: the site, then what was told, then the read-back. Never an expected number."""

    template: ClassVar[str] = "phone.html"

    day: dt.date
    days: tuple[dt.date, ...]
    now_ms: int
    zone: str
    asked: str
    choose: tuple[Site, ...]
    site: SiteLine | None
    address: str
    near: tuple[Site, ...]
    step: StepChoice | None
    steps: tuple[StepChoice, ...]
    callers: tuple[Person, ...]
    lines: tuple[Line, ...]
    back: ReadBack | None
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    partial_offered: bool
    new_offered: bool
    done: str
    done_words: str
    done_site: str
    done_events: tuple[str, ...]
    cautions: tuple[Caution, ...]


class Desk:
    """What a request is about: the day, the site, the step, and what the step asks for."""

    def __init__(self, ask: Ask) -> None:
        self.ask = ask
        self.silence = Silence(ask)
        self.election = self.silence.election
        self.asked = ask.query.get("site", "") or ask.form.text("site")
        meant = site_meant(self.election, (s.site for s in self.silence.found.sites), self.asked)
        self.site, self.others = meant.site, meant.others
        self.heard: SiteHeard | None = None if self.site is None else self.silence.site(self.site.id)
        self.steps: tuple[StepChoice, ...] = ()
        self.step: StepChoice | None = None
        self.lines: tuple[Line, ...] = ()
        if self.site is not None and self.heard is not None:
            self._look_up(self.site, self.heard)

    def _look_up(self, site: Site, heard: SiteHeard) -> None:
        date = self.silence.date
        plan = self.silence.days.version.site(site.id)
        plan = msgspec.structs.replace(plan, stations=plan.stations_on(date))
        self.steps = choices_of(self.election, plan, date)
        do = self.ask.form.text("do")
        wanted = do.removeprefix("step:") if do.startswith("step:") else self.ask.form.text("step")
        known = next((one for one in self.steps if one.key == wanted), None)
        if wanted and known is None:
            raise Trouble(
                409,
                N_("This step is not asked for any more: the county's rules changed meanwhile."),
                N_("Open the site again; nothing was written."),
                "/phone",
            )
        wanted = self.ask.query.get("step", "") or self._likely(heard)
        self.step = known or next((one for one in self.steps if one.key == wanted), self.steps[0])
        expected = issued(self.ask.folder).of(site.id, date)
        self.lines = count_lines(self.step, plan, expected, self.election)

    def _likely(self, heard: SiteHeard) -> str:
        """The step that a call is most likely about: of those not heard yet, the one due nearest to now."""
        waiting = [one for one in heard.calls if not one.words]
        nearest = min(waiting, key=lambda one: abs(one.due_ms - self.silence.now_ms), default=None)
        return "" if nearest is None else nearest.call.key

    def callers(self) -> tuple[Person, ...]:
        """The people of the site and those who open it, the most likely callers."""
        if self.heard is None:
            return ()
        order = [one.person for one in self.heard.callees]
        mine = [
            p
            for p in self.election.people
            if p.site.removeprefix("site/") == self.heard.site or short_id(p) in order
        ]
        return tuple(sorted(mine, key=lambda p: (short_id(p) not in order, p.name)))

    def caller(self) -> tuple[str, bool] | Wrong:
        """The caller's id and whether the name is new; typed as a name, an id, or the beginning of a name."""
        typed = self.ask.form.text("caller")
        if not typed:
            return Wrong(field="caller", words=message(N_("Who is calling? Type a name or an id.")))
        text = typed.casefold()
        near, everyone = self.callers(), self.ask.folder.people()
        found = (
            [p for p in everyone if text in (p.name.casefold(), p.id.casefold(), person_id(p).casefold())]
            or [p for p in near if any(word.startswith(text) for word in p.name.casefold().split())]
            or [p for p in near if p.name.casefold().startswith(text)]
        )
        ids = tuple(dict.fromkeys(person_id(p) for p in found))
        if len(ids) > 1:
            names = ", ".join(f"{p.name} ({short_id(p)})" for p in found[:4])
            words = message(N_("{typed} may be {names}: type the id."), typed=typed, names=names)
            return Wrong(field="caller", words=words)
        if ids and ids[0] == self.ask.person().person:
            return Wrong(field="caller", words=message(N_("The caller must be somebody else than you.")))
        if ids:
            return ids[0], False
        if self.ask.form.text("new_caller") == "yes":
            return typed, True
        words = message(
            N_("{typed} is nobody known here: correct it, or take the name as typed."), typed=typed
        )
        return Wrong(field="caller", words=words)


def short_id(person: Person) -> str:
    """A person's id without ``person/``."""
    return person.id.removeprefix("person/")


def phone_page(
    desk: Desk, *, faults: tuple[Wrong, ...] = (), back: ReadBack | None = None, keep: bool = False
) -> PhonePage:
    """The page: the site to choose, the form, or the read-back; with `keep` what was typed stays."""
    ask, silence = desk.ask, desk.silence
    names = ("caller", "at", *(line.id for line in desk.lines), "new_caller", "partial")
    title = N_("Read this back to the caller") if back else N_("Which site is calling, and what does it say?")
    done = ask.query.get("done", "") if not desk.asked else ""
    done_site = next((one for one in silence.found.sites if one.site == ask.query.get("of", "")), None)
    return PhonePage(
        **ask.frame(title),
        day=silence.date,
        days=silence.dates,
        now_ms=silence.now_ms,
        zone=silence.election.zone_name,
        asked=desk.asked,
        choose=desk.others if desk.site is None else (),
        site=None if desk.heard is None else silence.line(desk.heard),
        address="" if desk.site is None else desk.site.address,
        near=desk.others if desk.site is not None else (),
        step=desk.step,
        steps=desk.steps,
        callers=desk.callers(),
        lines=desk.lines,
        back=back,
        typed=tuple(TypedValue(field=n, value=ask.form.text(n)) for n in names) if keep or back else (),
        faults=faults,
        partial_offered=any(fault.field.startswith("count-") for fault in faults)
        or ask.form.text("partial") == "yes",
        new_offered=_unknown(desk, faults) or ask.form.text("new_caller") == "yes",
        done=done if done_site is not None else "",
        done_words=WORDS_BY_KEY.get(done.partition("-")[0], ""),
        done_site=f"{done_site.site} {done_site.name}" if done_site is not None else "",
        done_events=tuple(one for one in ask.query.get("event", "").split(",") if one.isalnum()),
        cautions=for_place(Place.PHONE),
    )


def _unknown(desk: Desk, faults: tuple[Wrong, ...]) -> bool:
    """Whether the caller is nobody known, so that the name may be taken as typed."""
    return any(fault.field == "caller" for fault in faults) and bool(desk.ask.form.text("caller"))


def read_back(desk: Desk, step: StepChoice) -> tuple[ReadBack | None, str, tuple[Wrong, ...]]:
    """What is read back, the caller's id or new name, and all that needs another look."""
    caller = desk.caller()
    call, faults = read_call(step, desk.lines, desk.ask.form)
    if isinstance(caller, Wrong):
        return None, "", (caller, *faults)
    if faults:
        return None, "", faults
    who, new = caller
    clock = desk.election.operating_day(desk.silence.date)
    later = (
        call.at_min is not None and clock.at_wall_clock(call.at_min).utc_ms > desk.silence.now_ms + MINUTE_MS
    )
    shown = who if new else desk.ask.folder.person_name(who)
    return ReadBack(call=call, caller=shown, new_caller=new, later_than_now=later), who, ()


def write_call(desk: Desk, back: ReadBack, who: str) -> tuple[str, ...]:
    """Write what they said yes to, each event once; their ids."""
    ask, day = desk.ask, desk.silence.date.isoformat()
    assert desk.site is not None  # noqa: S101 - a call is read back for a site
    giver = ask.folder.add_person(who) if back.new_caller else who
    folded = ask.folder.fold()
    made = []
    for one in events_of(back.call, desk.site.id):
        known = written(folded, one, day, giver)
        made.append(
            known
            or ask.folder.write(
                one.body,
                who=ask.person(),
                subject=one.subject,
                site=f"site/{desk.site.id}",
                day=day,
                hands=giver_of(giver),
            ).id
        )
    return tuple(made)


@get("/phone")
@in_thread
def phone(request: Request[Any, Any, Any]) -> Response[str]:
    """The site, or the form of a site."""
    return answer(ask := Ask(request), phone_page(Desk(ask)))


@post("/phone")
@in_thread
def take_phone(request: Request[Any, Any, Any]) -> Response[Any]:
    """Read back, go back with everything kept, or write what they said yes to."""
    ask = Ask(request)
    desk = Desk(ask)
    if desk.site is None or desk.step is None:
        raise Trouble(409, N_("It is not clear which site calls."), N_("Choose the site again."), "/phone")
    do = ask.form.text("do")
    if do not in ("read", "yes"):
        return answer(ask, phone_page(desk, keep=True))
    back, who, faults = read_back(desk, desk.step)
    if back is None:
        return answer(ask, phone_page(desk, faults=faults, keep=True), status=422)
    if do == "read":
        return answer(ask, phone_page(desk, back=back))
    made = write_call(desk, back, who)
    query = {
        "day": desk.silence.date.isoformat(),
        "done": desk.step.key,
        "of": desk.site.id,
        "event": made[-1] if made else "",
    }
    return go(f"/phone?{urlencode(query)}")
