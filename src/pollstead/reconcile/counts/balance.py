"""Evaluate balance equations on what was read: differences with their sign, missing numbers by name.

A number that was not read is missing, never zero. Two people who read one number differently are
both kept: the line then says every difference that is possible.
"""

from __future__ import annotations

import enum
import itertools
from collections.abc import Iterable, Mapping

from pollstead.election.station_type import CountUnit, Moment
from pollstead.election.values import Value
from pollstead.reconcile.counts.equations import Balance, Equation
from pollstead.reconcile.counts.terms import BY_ID, TermUnit, split_key

MOST_COMBINATIONS = 64
"""More combinations of differing readings than this are not listed one by one."""


class Origin(Value, frozen=True, kw_only=True):
    """Where one reading came from: from what it was read, by whom, when, on which paper or by telephone.

    `source` is the word of the entry (screen, report, memory_device, hand, sheet …); `sheet` and `line` name
    the paper that it was typed from, `by_phone` is set where the giver said it on the telephone.
    """

    event: str
    source: str
    people: tuple[str, ...] = ()
    utc_ms: int = 0
    sheet: str = ""
    line: str = ""
    by_phone: str = ""


class Reading(Value, frozen=True, kw_only=True):
    """One standing reading of one number: the value, who read it, which event says so.

    `times` is how often the number was read or counted by anyone, corrected readings included. `origins` are
    all entries that say this value, the earliest first.
    """

    key: str
    value: int
    event: str = ""
    people: tuple[str, ...] = ()
    utc_ms: int = 0
    times: int = 1
    origins: tuple[Origin, ...] = ()


class LineState(enum.StrEnum):
    """What an equation says."""

    ZERO = "zero"
    DIFFERENCE = "difference"
    NOT_READ = "not read yet"
    TWO_VALUES = "two values"


class TermValue(Value, frozen=True, kw_only=True):
    """One term of an evaluated line: coefficient, key and every value that was read for it.

    `readings` are those values with where each was read, by whom and when.
    """

    coefficient: int
    key: str
    values: tuple[int, ...]
    readings: tuple[Reading, ...] = ()


class BalanceLine(Value, frozen=True, kw_only=True):
    """One equation evaluated.

    `difference` is the sum of coefficient x reading, in `unit`, None unless every number was read
    and no two people differ. `possible` holds each difference that differing readings allow.
    `missing` are the keys without a reading; `waits_for_receiving` when all of those are read only
    after the site has sent its things in.
    """

    equation: str
    words: str
    subject: str
    unit: CountUnit | TermUnit
    state: LineState
    terms: tuple[TermValue, ...]
    difference: int | None = None
    possible: tuple[int, ...] = ()
    missing: tuple[str, ...] = ()
    waits_for_receiving: bool = False
    times_counted: int = 0

    @property
    def divisible_by_9(self) -> bool:
        """Whether 9 divides the difference, as it does where two digits of one number changed places.

        10a + b minus 10b + a is 9 (a - b); other slips may give such a difference as well.
        """
        return bool(self.difference) and (self.difference or 0) % 9 == 0


def evaluate(equations: Iterable[Equation], readings: Iterable[Reading]) -> tuple[BalanceLine, ...]:
    """Each equation on the readings, in the order of the equations; the order of readings is no matter."""
    by_key: dict[str, list[Reading]] = {}
    for reading in readings:
        by_key.setdefault(reading.key, []).append(reading)
    return tuple(_line(equation, by_key) for equation in equations)


def evaluate_rows(
    rows: Iterable[tuple[tuple[int, str], ...]], values: Mapping[str, int]
) -> tuple[int | None, ...]:
    """The bare arithmetic of the rows: a difference each, None where a number is missing.

    The small interpreter of the site bundle does this and no more; both are held to one table.
    """
    return tuple(
        sum(coefficient * values[key] for coefficient, key in row)
        if all(key in values for _, key in row)
        else None
        for row in rows
    )


def _line(equation: Equation, by_key: Mapping[str, list[Reading]]) -> BalanceLine:
    terms = tuple(
        TermValue(
            coefficient=coefficient,
            key=key,
            values=tuple(sorted({reading.value for reading in by_key.get(key, ())})),
            readings=tuple(sorted(by_key.get(key, ()), key=lambda r: (r.value, r.utc_ms, r.event))),
        )
        for coefficient, key in equation.terms
    )
    missing = tuple(term.key for term in terms if not term.values)
    possible = () if missing else _possible(terms)
    difference = possible[0] if len(possible) == 1 and all(len(t.values) == 1 for t in terms) else None
    if missing:
        state = LineState.NOT_READ
    elif any(len(term.values) > 1 for term in terms):
        state = LineState.TWO_VALUES
    else:
        state = LineState.ZERO if difference == 0 else LineState.DIFFERENCE
    return BalanceLine(
        equation=equation.id,
        words=equation.words,
        subject=equation.subject,
        unit=equation.unit,
        state=state,
        terms=terms,
        difference=difference,
        possible=() if difference is not None else possible,
        missing=missing,
        waits_for_receiving=bool(missing) and all(_read_at_receiving(key) for key in missing),
        times_counted=_times_counted(equation, by_key),
    )


def _possible(terms: tuple[TermValue, ...]) -> tuple[int, ...]:
    combinations = 1
    for term in terms:
        combinations *= len(term.values)
    if combinations > MOST_COMBINATIONS:
        low = sum(min(t.coefficient * v for v in t.values) for t in terms)
        high = sum(max(t.coefficient * v for v in t.values) for t in terms)
        return (low, high)
    sums = {
        sum(term.coefficient * value for term, value in zip(terms, chosen, strict=True))
        for chosen in itertools.product(*(term.values for term in terms))
    }
    return tuple(sorted(sums))


def _read_at_receiving(key: str) -> bool:
    term = BY_ID.get(split_key(key)[0])
    return term is not None and term.moment is Moment.RECEIVING


def _times_counted(equation: Equation, by_key: Mapping[str, list[Reading]]) -> int:
    """How often the numbers that are counted by hand were counted, the most of any."""
    counts = [0]
    for _, key in equation.terms:
        term = BY_ID.get(split_key(key)[0])
        if term is not None and term.source == "hand" and term.moment is not Moment.OPENING:
            counts.extend(reading.times for reading in by_key.get(key, ()))
    return max(counts)


def table_of(balance: Balance) -> dict[str, object]:
    """The balance as plain lists for the site bundle: keys in reading order, rows of [coefficient, index]."""
    keys = [line.key for line in balance.lines]
    place = {key: index for index, key in enumerate(keys)}
    return {
        "keys": keys,
        "rows": [
            {
                "id": equation.id,
                "subject": equation.subject,
                "unit": equation.unit.value,
                "words": equation.words,
                "terms": [[coefficient, place[key]] for coefficient, key in equation.terms],
            }
            for equation in balance.equations
        ],
        "sheets_per_ballot": balance.sheets_per_ballot,
        "site": balance.site,
    }
