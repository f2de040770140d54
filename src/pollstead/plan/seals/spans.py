"""Runs of seal numbers: from and to as text, and sets of numbers as sorted runs that do not touch."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from pollstead.election.check_characters import CheckScheme, fits, scheme_character
from pollstead.election.seal_stock import body_of, split_number
from pollstead.election.values import Value

Run = tuple[int, int]
"""From and to, inclusive."""


class Shape(Value, frozen=True, kw_only=True):
    """What numbers of one run share: kind of seal, text before and after the digits, how many digits.

    `check` is how the character behind them all is made; it takes no part in counting.
    """

    seal_kind: str
    before: str
    digits: int
    after: str
    check: CheckScheme = CheckScheme.NONE

    def body(self, value: int) -> str:
        """The number without its check character."""
        return f"{self.before}{value:0{self.digits}d}{self.after}"

    def text(self, value: int) -> str:
        """The number as it stands on the seal, with its check character where it has one."""
        body = self.body(value)
        return body + scheme_character(self.check, body)


class Span(Value, frozen=True, kw_only=True):
    """One run of numbers of a shape and series, and where it was told."""

    shape: Shape
    series: str
    low: int
    high: int
    source: str

    @property
    def count(self) -> int:
        """How many numbers it holds."""
        return self.high - self.low + 1


def shape_of(seal_kind: str, number: str, check: CheckScheme = CheckScheme.NONE) -> tuple[Shape, int] | None:
    """The shape and value of a number; None where it has no digit or its check character does not fit."""
    if not fits(check, number):
        return None
    body = body_of(number, check)
    try:
        before, value, after = split_number(body)
    except ValueError:
        return None
    digits = len(body) - len(before) - len(after)
    return Shape(seal_kind=seal_kind, before=before, digits=digits, after=after, check=check), value


def span_of(
    seal_kind: str, series: str, first: str, last: str, source: str, check: CheckScheme = CheckScheme.NONE
) -> Span | None:
    """The run from `first` to `last`, whole numbers; None where `shape_of` of one is None, or they are of two
    shapes or the wrong way round."""
    low, high = shape_of(seal_kind, first, check), shape_of(seal_kind, last, check)
    if low is None or high is None or low[0] != high[0] or low[1] > high[1]:
        return None
    return Span(shape=low[0], series=series, low=low[1], high=high[1], source=source)


def joined(runs: Iterable[Run]) -> tuple[Run, ...]:
    """The same numbers as sorted runs that neither overlap nor touch."""
    found: list[Run] = []
    for low, high in sorted(runs):
        if found and low <= found[-1][1] + 1:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        else:
            found.append((low, high))
    return tuple(found)


def without(runs: tuple[Run, ...], taken: Iterable[Run]) -> tuple[Run, ...]:
    """The numbers of `runs` (joined) that are not in `taken`."""
    left: list[Run] = []
    gone = joined(taken)
    at = 0
    for run in runs:
        low, high = run
        while at < len(gone) and gone[at][1] < low:
            at += 1
        here = at
        while here < len(gone) and gone[here][0] <= high:
            if gone[here][0] > low:
                left.append((low, gone[here][0] - 1))
            low = gone[here][1] + 1
            here += 1
        if low <= high:
            left.append((low, high))
    return tuple(left)


def both(one: tuple[Run, ...], other: tuple[Run, ...]) -> tuple[Run, ...]:
    """The numbers that stand in both (each joined)."""
    return without(one, without(one, other))


def gaps(runs: tuple[Run, ...]) -> tuple[Run, ...]:
    """The numbers between the first and the last run (joined) that no run holds."""
    return tuple((high + 1, low - 1) for (_, high), (low, _) in pairwise(runs))


def size(runs: Iterable[Run]) -> int:
    """How many numbers the runs hold."""
    return sum(high - low + 1 for low, high in runs)


def holds(runs: tuple[Run, ...], value: int) -> bool:
    """Whether one of the runs holds the value."""
    return any(low <= value <= high for low, high in runs)
