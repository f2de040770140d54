"""Which numbers of the seal stock carry a check character, and whether a number that was read fits it.

A series is told by its ranges. A whole number is its body, which counts up, and the check character behind.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Self

from pollstead.election.check_characters import CheckScheme, fits
from pollstead.election.county import SealRange
from pollstead.election.seal_stock import body_of, split_number
from pollstead.election.values import Value


class CheckedRun(Value, frozen=True, kw_only=True):
    """One range: its kind of seal, its check character, the shape of its bodies, and from and to."""

    seal_kind: str
    scheme: CheckScheme
    before: str
    digits: int
    after: str
    low: int
    high: int


class SealChecks(Value, frozen=True, kw_only=True):
    """The ranges of a county as far as check characters go; nothing where no range has one."""

    runs: tuple[CheckedRun, ...] = ()

    @classmethod
    def of(cls, ranges: Iterable[SealRange]) -> Self:
        """From the ranges of the stock; one whose ends cannot be read says nothing here."""
        rows = tuple(ranges)
        if all(row.scheme is CheckScheme.NONE for row in rows):
            return cls()
        found = []
        for row in rows:
            first, last = (_parts(body_of(text, row.scheme)) for text in (row.first, row.last))
            if first is not None and last is not None:
                before, digits, after, low = first
                found.append(
                    CheckedRun(
                        seal_kind=row.seal_kind,
                        scheme=row.scheme,
                        before=before,
                        digits=digits,
                        after=after,
                        low=low,
                        high=last[3],
                    )
                )
        return cls(runs=tuple(found))

    def scheme_of(self, seal_kind: str, number: str) -> CheckScheme:
        """The check character that a number of this kind has: that of the range it lies in.

        Of a number in no range, that of a range of its shape; where all of its kind have the same, that one.
        An empty kind stands for every kind.
        """
        mine = self._of(seal_kind)
        if not mine:
            return CheckScheme.NONE
        plain = number.strip().upper()
        alike = [run for run in mine if _alike(run, plain)]
        inside = [run for run in alike if _holds(run, plain) and fits(run.scheme, plain)]
        right = [run for run in alike if fits(run.scheme, plain)]
        for found in (inside, right, alike):
            if found:
                return found[0].scheme
        schemes = {run.scheme for run in mine}
        return schemes.pop() if len(schemes) == 1 else CheckScheme.NONE

    def misread(self, seal_kind: str, number: str) -> bool:
        """Whether a number has a check character and it does not fit, so that something was misread.

        Where a kind has series with and without one, only a number of the shape of those with one is held
        against it, and none that has the shape of one without. An empty kind stands for every kind.
        """
        mine = self._of(seal_kind)
        plain = number.strip().upper()
        if not plain or not any(run.scheme is not CheckScheme.NONE for run in mine):
            return False
        if any(run.scheme is CheckScheme.NONE for run in mine):
            mine = tuple(run for run in mine if _alike(run, plain))
        return bool(mine) and not any(fits(run.scheme, plain) for run in mine)

    def _of(self, seal_kind: str) -> tuple[CheckedRun, ...]:
        return tuple(run for run in self.runs if not seal_kind or run.seal_kind == seal_kind)


def _parts(body: str) -> tuple[str, int, str, int] | None:
    """What stands before the digits, how many they are, what stands after, their value."""
    try:
        before, value, after = split_number(body.strip().upper())
    except ValueError:
        return None
    return before, len(body.strip()) - len(before) - len(after), after, value


def _alike(run: CheckedRun, number: str) -> bool:
    parts = _parts(body_of(number, run.scheme))
    return parts is not None and parts[:3] == (run.before, run.digits, run.after)


def _holds(run: CheckedRun, number: str) -> bool:
    parts = _parts(body_of(number, run.scheme))
    return parts is not None and run.low <= parts[3] <= run.high
