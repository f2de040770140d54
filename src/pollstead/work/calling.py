"""The answers of one call as events: each answer settles its own question and is one event."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.values import Value
from pollstead.reconcile.readiness.told_items import TOLD
from pollstead.record.kinds.calls import CallMade, CallPurpose, CallResult, PhoneCalled, WindowWord

if TYPE_CHECKING:
    from pollstead.reconcile.readiness.states import Ask, Call

PURPOSES: dict[str, CallPurpose] = {
    "opener-call": "opener_confirm",
    "lead-call": "lead_confirm",
    "contact-call": "contact_confirm",
    "delivery": "delivery",
}
WORDS: dict[str, WindowWord] = {"first": "first", "week": "week", "evening": "evening"}


class ToWrite(Value, frozen=True, kw_only=True):
    """One event of a call, to be written by whoever holds a recorder."""

    body: CallMade
    private: PhoneCalled
    subject: str


def settles(question: str) -> bool:
    """Whether an answer on the phone settles a question; others are settled by their own ledger."""
    return question in PURPOSES or question in TOLD


def events_of_call(
    call: Call,
    answers: tuple[tuple[Ask, CallResult], ...],
    *,
    window: str,
    phone: str,
    words: str = "",
    there_by_min: int | None = None,
) -> tuple[ToWrite, ...]:
    """The events of one call to `call.person`; raises ValueError for a window without a name.

    `there_by_min` goes with answers about coming to a building.
    """
    if window not in WORDS:
        raise ValueError(f"window must be one of {', '.join(WORDS)}, got {window!r}")
    made = []
    for ask, result in answers:
        if not settles(ask.question):
            continue
        purpose = PURPOSES.get(ask.question, "remedy")
        coming = ask.question in ("opener-call", "lead-call") and result == "answered_yes"
        made.append(
            ToWrite(
                body=CallMade(
                    purpose=purpose,
                    result=result,
                    window=WORDS[window],
                    sites=tuple(f"site/{site}" for site in ask.sites),
                    there_by_min=there_by_min if coming else None,
                    questions=() if ask.question in PURPOSES else (ask.question,),
                ),
                private=PhoneCalled(phone=phone, words=words),
                subject=f"person/{call.person.removeprefix('person/')}",
            )
        )
    return tuple(made)


def not_reached(
    call: Call, result: CallResult, *, window: str, phone: str, words: str = ""
) -> tuple[ToWrite, ...]:
    """The events of a call that reached nobody: one, or for a wrong phone one for each question."""
    asks = call.asks if result == "wrong_number" else call.asks[:1]
    given = tuple((ask, result) for ask in asks if settles(ask.question))
    if not given:
        body = CallMade(purpose="remedy", result=result, window=WORDS[window], sites=_sites(call))
        private = PhoneCalled(phone=phone, words=words)
        return (ToWrite(body=body, private=private, subject=f"person/{call.person}"),)
    return events_of_call(call, given, window=window, phone=phone, words=words)


def _sites(call: Call) -> tuple[str, ...]:
    return tuple(f"site/{site}" for site in call.sites)
