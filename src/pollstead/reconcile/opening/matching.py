"""Which observation speaks about which expected item, and whether it says what is expected."""

from __future__ import annotations

import datetime as dt
from types import MappingProxyType
from typing import Final

from pollstead.election.county import Election
from pollstead.election.instants import format_clock
from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import CARRIED_OVER, ExpectedItem
from pollstead.reconcile.counts.terms import counter_term
from pollstead.reconcile.diagnosis.known import plain_value
from pollstead.reconcile.observed import Observation, What
from pollstead.reconcile.opening.clock import check_clock

IN_PLACE = "in place"
"""The expected value of a seal whose number is not recorded: it must be there and whole."""

PUT_ON_STEPS = ("applied", "resealed")
"""Steps of ``seen.seal`` that say a seal was put on; its number is recorded, not compared."""

NOT_HOLDING: Final = MappingProxyType(
    {
        "not_there": "",
        "not_intact": N_("The number is the one expected; the seal is not whole."),
        "closure_opens": N_("The number is the one expected; the closure opens although the seal is whole."),
    }
)
"""States of a seal that differ whatever its number, each with what to say where the number matches."""

WHAT_OF_ITEM = {
    "serial": What.SERIAL,
    "seal": What.SEAL,
    "counter": What.COUNT,
    "clock": What.CLOCK,
    "date": What.CLOCK,
    "report": What.REPORT,
    "memory device": What.SERIAL,
}
"""Which sort of observation answers which sort of expected item."""


class Wanted(Value, frozen=True, kw_only=True):
    """The value to compare with; empty while unknown. `source` says where a carried value was read."""

    value: str
    source: Message | None = None


class Answer(Value, frozen=True, kw_only=True):
    """What one observation says about an item: the value as shown, and whether it matches.

    `matches` is None where it cannot be told (no expected value, or the number is not given here).
    """

    shown: str
    matches: bool | None
    explanation: Message | None = None


def plain_word(text: str) -> str:
    """A coded word without regard to hyphens, blanks and capitals."""
    return text.strip().lower().replace("-", "_").replace(" ", "_")


def tail_of(item: ExpectedItem) -> str:
    """The last part of an item's subject, which names its counter, report or position."""
    return item.subject.rpartition("/")[2]


def owner_of(item: ExpectedItem) -> str:
    """The device, or station part, that an item is about."""
    if item.what in ("serial", "seal"):
        return item.device or item.subject
    return item.device or item.subject.rpartition("/")[0]


def speaks_of(item: ExpectedItem, seen: Observation) -> bool:
    """Whether an observation of the item's day answers the item."""
    if WHAT_OF_ITEM.get(item.what) is not seen.what:
        return False
    if item.what in ("serial", "memory device"):
        return seen.subject == item.subject
    if item.what == "seal":
        return seen.subject == item.subject and plain_word(seen.detail) == plain_word(item.moment.value)
    if seen.subject not in (item.subject, owner_of(item)):
        return False
    if item.what == "counter":
        return seen.detail == counter_term(tail_of(item), item.moment)
    if item.what == "report":
        word = plain_word(tail_of(item))
        return plain_word(seen.detail) in (word, word.removesuffix("_report"))
    return True


def wanted_of(item: ExpectedItem, date: dt.date, earlier: tuple[Observation, ...]) -> Wanted:
    """The value an item is compared with; a carried one comes from the record.

    `earlier` are all standing observations of the record up to the item's moment, in order. Two
    earlier readings that differ leave the value unknown.
    """
    if item.value != CARRIED_OVER:
        return Wanted(value=item.value)
    candidates = _carried(item, date, earlier)
    values = {shown for _, shown in candidates}
    if len(values) != 1:
        return Wanted(value="")
    day = candidates[-1][0].day
    return Wanted(value=values.pop(), source=message(N_("from the reading of {day} in the record"), day=day))


def _carried(
    item: ExpectedItem, date: dt.date, earlier: tuple[Observation, ...]
) -> tuple[tuple[Observation, str], ...]:
    today = date.isoformat()
    if item.what == "counter":
        subjects = (item.subject, owner_of(item))
        term = counter_term(tail_of(item), Moment.CLOSING)
        found = [
            (seen, str(seen.number))
            for seen in earlier
            if seen.what is What.COUNT
            and seen.subject in subjects
            and seen.detail == term
            and seen.source in ("screen", "")
            and seen.number is not None
            and seen.day < today
        ]
    else:
        of_seal = [
            seen for seen in earlier if seen.what is What.SEAL and seen.subject == item.subject and seen.value
        ]
        own = [
            seen.utc_ms
            for seen in of_seal
            if seen.day == today and plain_word(seen.detail) == plain_word(item.moment.value)
        ]
        before = [
            seen for seen in of_seal if seen.day < today or (seen.day == today and _before(item, seen, own))
        ]
        put_on = [seen for seen in before if plain_word(seen.detail) in PUT_ON_STEPS]
        found = [(seen, plain_value(seen.value)) for seen in put_on or before]
    if not found:
        return ()
    last_day = max(seen.day for seen, _ in found)
    of_last_day = [(seen, shown) for seen, shown in found if seen.day == last_day]
    if item.what == "seal":
        step = of_last_day[-1][0].detail
        of_last_day = [(seen, shown) for seen, shown in of_last_day if seen.detail == step]
    return tuple(of_last_day)


def _before(item: ExpectedItem, seen: Observation, own: list[int]) -> bool:
    """Whether a seal's reading of the same day comes before those of the item's own moment (`own`).

    A seal that is cut and put on again during the day counts; one put on after the closing reading is
    for the night.
    """
    if item.moment is Moment.OPENING:
        return False
    if plain_word(seen.detail) == plain_word(item.moment.value):
        return False
    return not own or seen.utc_ms < min(own)


def answer_of(
    item: ExpectedItem, wanted: Wanted, seen: Observation, election: Election, date: dt.date
) -> Answer:
    """What an observation that speaks of the item says, compared with the wanted value."""
    if item.what in ("clock", "date"):
        return _clock_answer(item, seen, election, date)
    if item.what == "report":
        return Answer(shown=seen.state.replace("_", " "), matches=seen.state != "not_printed")
    if item.what == "counter":
        shown = "" if seen.number is None else str(seen.number)
        return Answer(shown=shown, matches=shown == wanted.value if wanted.value else None)
    if item.what == "seal":
        return _seal_answer(wanted, seen)
    known = bool(wanted.value)
    same = plain_value(seen.value) == plain_value(wanted.value)
    return Answer(shown=seen.value, matches=same if known else None)


def _seal_answer(wanted: Wanted, seen: Observation) -> Answer:
    if seen.state in NOT_HOLDING:
        state = seen.state.replace("_", " ")
        same = bool(wanted.value and seen.value) and plain_value(seen.value) == plain_value(wanted.value)
        why = message(NOT_HOLDING[seen.state]) if same and NOT_HOLDING[seen.state] else None
        return Answer(shown=f"{seen.value} {state}".strip(), matches=False, explanation=why)
    if wanted.value == IN_PLACE:
        return Answer(shown=seen.value or IN_PLACE, matches=True)
    if not seen.value_known or not seen.value:
        return Answer(shown=seen.value, matches=None)
    if not wanted.value:
        return Answer(shown=seen.value, matches=None)
    return Answer(shown=seen.value, matches=plain_value(seen.value) == plain_value(wanted.value))


def _clock_answer(item: ExpectedItem, seen: Observation, election: Election, date: dt.date) -> Answer:
    if seen.number is None or seen.other_number is None:
        return Answer(shown="", matches=None)
    try:
        shown_date = dt.date.fromisoformat(seen.date_shown)
    except ValueError:
        # A device may show a date that no calendar has; that is a difference, not a fault of ours.
        return Answer(shown=f"{seen.date_shown} {format_clock(seen.number)}", matches=False)
    lead = int(item.value) if item.what == "clock" and item.value.lstrip("-").isdigit() else 0
    found = check_clock(
        election.operating_day(date), shown_date, seen.number, seen.other_number, lead, item.tolerance
    )
    if item.what == "date":
        return Answer(shown=found.shown_date, matches=found.date_right, explanation=found.date_text)
    return Answer(
        shown=f"{found.shown_time} / {format_clock(seen.other_number)}",
        matches=found.time_right,
        explanation=found.time_text,
    )
