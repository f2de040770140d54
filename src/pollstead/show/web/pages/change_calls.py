"""Whom a change has to be told: each call with who was reached and when, kept as events."""

from __future__ import annotations

from operator import itemgetter
from typing import Final

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.changed.terms import Consequence
from pollstead.record.kinds.calls import CallMade, CallResult, PhoneCalled
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.change_review import CallRow, call_rows
from pollstead.show.web.pages.frame import Ask, Trouble

RESULTS: Final[dict[str, CallResult]] = {
    "told": "answered_yes",
    "no_answer": "no_answer",
    "left_message": "left_message",
}
RESULT_WORDS: Final = {
    "answered_yes": N_("told"),
    "no_answer": N_("no answer"),
    "left_message": N_("message left, not told yet"),
}


class ChangeCall(Value, frozen=True, kw_only=True):
    """One call of a change. `result` is the last one's word, "" before any; `utc_ms` its moment.

    `person` is empty where the facts do not say whom to call: such a call has a box to tick on paper alone.
    """

    row: CallRow
    person: str
    result: str
    told: bool
    by: str
    utc_ms: int | None


def change_calls(ask: Ask, event: str, found: Consequence) -> tuple[ChangeCall, ...]:
    """The calls of a change, those who are not told yet first; none for a role that sees no names."""
    if not ask.may(Capability.SEE_PEOPLE):
        return ()
    last = _last(ask, event)
    rows = []
    for call, row in zip(found.calls, call_rows(ask, found), strict=True):
        person = f"person/{call.person.removeprefix('person/')}" if call.person else ""
        result, by, at = last.get(person, ("", "", None))
        rows.append(
            ChangeCall(
                row=row,
                person=person,
                result=RESULT_WORDS.get(result, ""),
                told=result == "answered_yes",
                by=ask.folder.person_name(by) if by else "",
                utc_ms=at,
            )
        )
    return tuple(sorted(rows, key=lambda one: one.told))


def _last(ask: Ask, event: str) -> dict[str, tuple[str, str, int]]:
    """The last call about this change to each person: result, by whom, when."""
    folded = ask.folder.fold()
    calls = [
        (folded.moment(reading.event, reading.utc_ms), fact.subject, reading)
        for fact in folded.named(CallMade.kind)
        for reading in fact.current
        if reading.value.get("change") == event
    ]
    return {
        subject: (str(reading.value["result"]), reading.people[0].person, reading.utc_ms)
        for _, subject, reading in sorted(calls, key=itemgetter(0))
    }


def take_call(ask: Ask, number: int, event: str, found: Consequence | None) -> None:
    """Write down that somebody was told, or not reached; raises Trouble where there is no such call."""
    person, result = ask.form.text("person"), RESULTS.get(ask.form.text("result"))
    calls = {} if found is None else {c.person.removeprefix("person/"): c for c in found.calls if c.person}
    call = calls.get(person.removeprefix("person/"))
    if call is None or result is None:
        raise Trouble(
            404,
            N_("This change has no such call."),
            N_("Its page has everyone to call."),
            f"/changes/{number}",
        )
    ask.folder.write(
        CallMade(
            purpose="change",
            result=result,
            window="any",
            sites=(f"site/{call.site.removeprefix('site/')}",) if call.site else (),
            change=event,
        ),
        who=ask.person(),
        subject=person,
        private=PhoneCalled(phone=call.phone),
    )
