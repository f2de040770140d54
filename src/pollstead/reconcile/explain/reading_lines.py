"""One number that was read: every way in which it may stand above or below what closes the rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from pollstead.election.fault_odds import FaultKind
from pollstead.election.station_type import CountUnit
from pollstead.reconcile.diagnosis.costs import Prices
from pollstead.reconcile.explain.odds import Odds, among
from pollstead.reconcile.explain.slips import meant_by, slip_of
from pollstead.reconcile.explain.terms import Bound, FromWhere, OtherNumber

MOST_SIZE = 12
"""Things counted one by one are looked at up to this many; more are another number, or something else."""
BOUND_BROKEN = 4_605
"""Millinats: one note of the day in a hundred says what is not so."""


MOST_SITES_ALIKE = 2
"""A number that more other sites have says nothing about where it was copied from."""
SELDOM_LARGE = frozenset(
    (
        "public_counter_open",
        "ballots_auxiliary",
        "ballots_damaged",
        "ballots_fled",
        "ballots_held_apart",
        "ballots_reissued",
        "ballots_resupplied",
        "ballots_spoiled",
        "ballots_transferred_out",
        "check_ins_added",
        "check_ins_cancelled",
        "provisional_entries",
        "provisional_envelopes",
        "provisional_issued",
        "test_sheets",
        "voters_left",
    )
)
"""Numbers that are small on most nights: twice as large is half as likely. Common practice, no source."""
_COUNTS = (FaultKind.MISCOUNTED, FaultKind.PACK_MISCOUNTED)


class Option(NamedTuple):
    """One way: its kind, the cost that it happens, the cost of these readings given that, what was written.

    `is_free` ways fit any amount.
    """

    kind: FaultKind
    prior: int
    likelihood: int
    other: str = ""
    size: int = 0
    is_free: bool = False

    @property
    def cost(self) -> int:
        """Both together."""
        return self.prior + self.likelihood


class Neighbor(NamedTuple):
    """A number near enough to be written for another one: how it lies, its column, of how many."""

    kind: FaultKind
    column: str
    choices: int


class ReadingLine(NamedTuple):
    """A number as read, with all that is needed to say how it may be wrong. `amount` is read minus meant."""

    column: str
    value: int
    readers: int
    by_hand: bool
    unit: str
    sheets: int
    is_opening_counter: bool
    copied: tuple[Option, ...]
    others: tuple[OtherNumber, ...]
    bounds: tuple[Bound, ...]
    provisional: int | None
    pack_sizes: tuple[int, ...]
    seldom_large: bool
    odds: Odds
    prices: Prices

    def options(self, amount: int) -> list[Option]:
        """Every way in which the number stands `amount` above what is meant; none where that is below 0."""
        meant = self.value - amount
        if not amount or meant < 0:
            return []
        found = [*self._slip(meant), *self._counted(amount), *self.copied, *self._added_up(amount, meant)]
        beside = self._beside_bounds(meant)
        larger = self._rarity(meant) - self._rarity(self.value)
        if not beside and not larger:
            return found
        return [
            one._replace(likelihood=one.likelihood + beside + (0 if one.kind in _COUNTS else larger))
            for one in found
        ]

    def amounts(self) -> list[int]:
        """Every amount that some way which is not free can give, ascending."""
        found = {self.value - meant for meant in meant_by(self.value)}
        if self.by_hand:
            found.update(range(-MOST_SIZE, MOST_SIZE + 1))
            found.update(sign * size for size in self.pack_sizes for sign in (-1, 1))
        found.update(
            sign * one.value for one in self.others if one.where is FromWhere.PART for sign in (-1, 1)
        )
        if self.value % 2 == 0:
            found.add(self.value // 2)
        if self.sheets > 1 and self.by_hand:
            found.add(self.value - self.value // self.sheets)
            found.add(self.value - self.value * self.sheets)
        if self.provisional:
            found.add(self.provisional)
        return sorted(amount for amount in found if amount and amount <= self.value)

    def least_of_free(self) -> int:
        """No way that fits any amount costs less than this, whatever the amount."""
        free = min(one.cost for one in (*self.copied, *self._not_written()))
        return (
            free - self._rarity(self.value) - BOUND_BROKEN * sum(_breaks(b, self.value) for b in self.bounds)
        )

    def _rarity(self, number: int) -> int:
        """How rare a number is where it is seldom large; what comes in packs is counted in packs."""
        if not self.seldom_large:
            return 0
        pack = max((size for size in self.pack_sizes if number and number % size == 0), default=1)
        return among(1 + number // pack)

    def _slip(self, meant: int) -> list[Option]:
        slip = slip_of(meant, self.value, self.prices)
        return [] if slip is None else [Option(slip[0], 0, slip[1] * self.readers)]

    def _counted(self, amount: int) -> list[Option]:
        found = []
        either_way = among(2)
        if self.by_hand and abs(amount) <= MOST_SIZE:
            found.append(miscount(amount, self.readers, self.odds))
        if self.by_hand and abs(amount) in self.pack_sizes:
            prior = self.odds.of(FaultKind.PACK_MISCOUNTED) * self.readers + either_way
            found.append(Option(FaultKind.PACK_MISCOUNTED, prior, among(len(self.pack_sizes))))
        return found

    def _added_up(self, amount: int, meant: int) -> list[Option]:
        of = self.odds.of
        found = []
        parts = [one for one in self.others if one.where is FromWhere.PART]
        for part in parts:
            if part.value and abs(amount) == part.value:
                kind = FaultKind.PART_TWICE if amount > 0 else FaultKind.PART_LEFT_OUT
                found.append(Option(kind, of(kind), among(len(parts)), other=part.name))
        if meant and self.value == 2 * meant:
            found.append(Option(FaultKind.WRITTEN_DOUBLE, of(FaultKind.WRITTEN_DOUBLE), 0))
        found += self._not_written()
        if self.sheets > 1 and self.by_hand:
            if self.unit != CountUnit.SHEETS.value and self.value == self.sheets * meant:
                kind = FaultKind.SHEETS_FOR_BALLOTS
                found.append(Option(kind, of(kind), 0))
            if self.unit == CountUnit.SHEETS.value and self.value * self.sheets == meant:
                kind = FaultKind.BALLOTS_FOR_SHEETS
                found.append(Option(kind, of(kind), 0))
        if self.provisional and amount == self.provisional:
            found.append(
                Option(FaultKind.PROVISIONAL_INSIDE, of(FaultKind.PROVISIONAL_INSIDE), 0),
            )
        return found

    def _not_written(self) -> list[Option]:
        if self.value:
            return []
        kind = FaultKind.OPENING_NOT_ZERO if self.is_opening_counter else FaultKind.NOT_WRITTEN
        return [Option(kind, self.odds.of(kind), 0, is_free=True)]

    def _beside_bounds(self, meant: int) -> int:
        """What the day's notes say for (below 0) or against (above 0) `meant` in place of the reading."""
        return BOUND_BROKEN * sum(_breaks(b, meant) - _breaks(b, self.value) for b in self.bounds)


def ways_of_copying(
    value: int,
    readers: int,
    neighbors: Iterable[Neighbor],
    others: Iterable[OtherNumber],
    values: Mapping[str, int],
    odds: Odds,
) -> tuple[Option, ...]:
    """How `value` may be the number of something else: of whatever number is meant, it is as likely.

    `values` holds each number by its column.
    """
    found = [
        Option(kind, odds.of(kind), among(choices), other=column, is_free=True)
        for kind, column, choices in neighbors
        if values[column] == value
    ]
    for where, kind in (
        (FromWhere.ANOTHER_SITE, FaultKind.OTHER_SITE),
        (FromWhere.DAY_BEFORE, FaultKind.DAY_BEFORE),
    ):
        offered = [one for one in others if one.where is where]
        alike = [one for one in offered if one.value == value]
        if len(alike) <= MOST_SITES_ALIKE:
            found += [
                Option(kind, odds.of(kind), among(one.among or len(offered)), one.name, is_free=True)
                for one in alike
            ]
    other = FaultKind.OTHER_NUMBER
    found.append(Option(other, odds.of(other), len(str(value)) * among(10), is_free=True))
    # Two people who read the same apart from one another both took the wrong number.
    return tuple(
        one._replace(prior=one.prior * readers, likelihood=one.likelihood * readers) for one in found
    )


def miscount(amount: int, readers: int, odds: Odds) -> Option:
    """A count by hand that is off by `amount`; too many is as likely as too few."""
    prior = odds.of(FaultKind.MISCOUNTED) * readers + among(2)
    size = odds.size(FaultKind.MISCOUNTED, abs(amount)) * readers
    return Option(FaultKind.MISCOUNTED, prior, size, size=abs(amount))


def _breaks(bound: Bound, value: int) -> int:
    too_low = bound.least is not None and value < bound.least
    too_high = bound.most is not None and value > bound.most
    return int(too_low or too_high)
