"""Calls: whom to call in which window; one call taken down in two clicks, undone in one; its history."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar, Literal

from litestar import Request, Response, get, post

from pollstead.election.county import Election
from pollstead.election.instants import format_clock, parse_hasty_clock
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.readiness.heard import Calls
from pollstead.reconcile.readiness.ready import ReadyList
from pollstead.reconcile.readiness.states import Ask as Question
from pollstead.reconcile.readiness.states import Call
from pollstead.reconcile.readiness.windows import WINDOW_WORDS, windows_of
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.calls import CallMade, CallResult
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.day import days_now
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.ready import coming_day
from pollstead.show.web.ready_view import (
    RESULT_WORDS,
    SHORT,
    CallLine,
    HeardLine,
    Sight,
    call_line,
    call_lines,
    history_of,
    list_of,
    mark_of,
    names_of,
    present_election,
    seen_call,
    sight_of,
)
from pollstead.show.web.typed import Wrong
from pollstead.work.calling import events_of_call, not_reached

REACHED: dict[str, CallResult] = {"answered_yes": "answered_yes", "answered_no": "answered_no"}
NOT_REACHED: dict[str, CallResult] = {
    "no_answer": "no_answer",
    "left_message": "left_message",
    "wrong_number": "wrong_number",
}
UNDO_REASON = "Undone on the page of calls"


class WindowLine(Value, frozen=True, kw_only=True):
    """One call-back window: its words, when it begins, whether it is the present one."""

    words: str
    starts: dt.date
    clock: str
    now: bool


class CallsPage(Page, frozen=True, kw_only=True):
    """Whom to call."""

    template: ClassVar[str] = "calls.html"

    day: dt.date
    days: tuple[dt.date, ...]
    windows: tuple[WindowLine, ...]
    lines: tuple[CallLine, ...]
    reached: tuple[tuple[str, str], ...]
    chosen: CallLine | None
    history: tuple[HeardLine, ...]
    zone: str
    sight: Sight
    cautions: tuple[Caution, ...]
    faults: tuple[Wrong, ...]
    typed: tuple[TypedValue, ...]
    done: str
    undone: bool


class Desk:
    """The list of one moment with all that the page needs of it."""

    def __init__(self, ask: Ask) -> None:
        self.date, self.dates = coming_day(ask)
        self.days = days_now(ask.folder)
        self.election: Election = present_election(ask, self.days)
        self.found: ReadyList = list_of(ask, self.days, self.date, self.election)
        self.names = names_of(ask, self.election)
        self.sight = sight_of(ask)

    def call(self, person: str, *, every: bool) -> Call | None:
        """The call to one person, with the open questions or with every one."""
        calls = self.found.people if every else self.found.calls
        call = next((c for c in calls if c.person.removeprefix("person/") == person), None)
        return None if call is None else seen_call(call, self.sight)


def calls_page(ask: Ask, faults: tuple[Wrong, ...] = ()) -> CallsPage:
    """The page; with `faults` what was typed is kept."""
    desk = Desk(ask)
    person = ask.query.get("person", "") or ask.form.text("person")
    allowed = desk.sight.call and desk.sight.names
    call = desk.call(person, every=True) if allowed and person else None
    if person and allowed and call is None:
        raise Trouble(404, N_("Nobody of that id is to be asked here."), N_("Choose a person."), "/calls")
    lines = call_lines(desk.found.calls, desk.names, desk.sight) if allowed else ()
    waiting = {line.person for line in lines}
    calls = Calls(desk.days.folded)
    fields = [f for f in ask.form if f not in ("person", "mark", "do", "day")]
    return CallsPage(
        **ask.frame(N_("Whom to call in which window?")),
        day=desk.date,
        days=desk.dates,
        windows=tuple(
            WindowLine(
                words=WINDOW_WORDS[one.word],
                starts=one.starts,
                clock=format_clock(one.from_min) if one.from_min else "",
                now=one.word == desk.found.window,
            )
            for one in windows_of(desk.election, desk.date)
        ),
        lines=lines,
        reached=tuple(
            (one.person, desk.names.get(one.person, one.person))
            for one in desk.found.people
            if allowed and one.person not in waiting and seen_call(one, desk.sight) is not None
        ),
        chosen=None if call is None else call_line(0, call, desk.names, desk.sight),
        history=history_of(calls, person, desk.names) if call is not None else (),
        zone=desk.days.election.zone_name,
        sight=desk.sight,
        cautions=for_place(Place.WORKERS) if allowed else (),
        faults=faults,
        typed=tuple(TypedValue(field=f, value=ask.form.text(f)) for f in fields) if faults else (),
        done=str(ask.query.get("done") or "") if not faults else "",
        undone=bool(ask.query.get("undone")) and not faults,
    )


def take_call(ask: Ask) -> tuple[Wrong, ...] | str:
    """Record one call; the short ids of its events, or what needs another look."""
    form, desk = ask.form, Desk(ask)
    quick = form.text("all")
    call = desk.call(form.text("person"), every=not quick)
    if call is None:
        raise Trouble(
            409,
            N_("This person has no open question any more: somebody has called meanwhile."),
            N_("Look at the list again."),
            "/calls",
        )
    if form.text("mark") not in ("", mark_of(call)):
        return (_wrong("call", N_("The questions have changed meanwhile. Look at them, then answer again.")),)
    window = desk.found.window or "first"
    phone, words = form.text("phone"), form.text("words")
    if quick in NOT_REACHED:
        made = not_reached(call, NOT_REACHED[quick], window=window, phone=phone, words=words)
    else:
        answers, there_by, faults = _answers(ask, call, quick)
        if faults:
            return faults
        made = events_of_call(call, answers, window=window, phone=phone, words=words, there_by_min=there_by)
    if not made:
        return (_wrong("call", N_("Say what was answered to at least one question.")),)
    written = [
        ask.folder.write(one.body, who=ask.person(), subject=one.subject, private=one.private).id
        for one in made
    ]
    return ",".join(event[:SHORT] for event in written)


def _answers(
    ask: Ask, call: Call, quick: str
) -> tuple[tuple[tuple[Question, CallResult], ...], int | None, tuple[Wrong, ...]]:
    if quick:
        if quick not in REACHED:
            raise Trouble(400, N_("This form is not known here."), N_("Open the page again."), "/calls")
        return tuple((one, REACHED[quick]) for one in call.asks), None, ()
    given = [
        (one, REACHED[ask.form.text(f"answer-{place}")])
        for place, one in enumerate(call.asks)
        if ask.form.text(f"answer-{place}") in REACHED
    ]
    there_by = None
    if ask.form.text("there_by"):
        try:
            there_by = parse_hasty_clock(ask.form.text("there_by"))
        except ValueError:
            return (), None, (_wrong("there_by", N_("Type a time such as 05:15, or leave it blank.")),)
    return tuple(given), there_by, ()


def undo_call(ask: Ask) -> None:
    """Withdraw the calls of one act, each by a correction; both stay in the record."""
    wanted = {one for one in ask.form.text("events").split(",") if len(one) == SHORT}
    found = [
        (fact.subject, reading.event)
        for fact in ask.folder.fold().named("call.made")
        for reading in fact.current
        if reading.event[:SHORT] in wanted
    ]
    if not found:
        raise Trouble(409, N_("This call was taken back already."), N_("Look at the list again."), "/calls")
    for subject, event in found:
        ask.folder.write(
            EntryCorrected(corrects=event, of_kind=CallMade.kind, value=FrozenObject()),
            who=ask.person(),
            subject=subject,
            private=CorrectionPrivate(reason=UNDO_REASON),
        )


def _wrong(field: str, words: str) -> Wrong:
    return Wrong(field=field, words=message(words))


@get("/calls")
@in_thread
def calls(request: Request[Any, Any, Any]) -> Response[str]:
    """Whom to call."""
    ask = Ask(request)
    return answer(ask, calls_page(ask))


@post("/calls")
@in_thread
def take_calls(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take a call, or take one back."""
    ask = Ask(request)
    what: Literal["undo", ""] = "undo" if ask.form.text("do") == "undo" else ""
    if what == "undo":
        undo_call(ask)
        return go(f"/calls?undone=1&day={coming_day(ask)[0].isoformat()}")
    taken = take_call(ask)
    if isinstance(taken, tuple):
        return answer(ask, calls_page(ask, taken), status=422)
    return go(f"/calls?done={taken}&day={coming_day(ask)[0].isoformat()}")


assert set(RESULT_WORDS) == {*REACHED, *NOT_REACHED}  # noqa: S101 - two lists of one thing
