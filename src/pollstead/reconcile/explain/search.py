"""Find every single fault, and every two, after which all rows are zero; rank them by what they cost.

The rows are whole numbers: what a fault does to them is known exactly. A single fault must do just what is
seen. Of two faults along different directions the amounts follow from the rows, so that no amount is tried;
along one direction every amount that some way gives is tried against what is left. Nothing is sampled.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from pollstead.election.fault_odds import FaultKind
from pollstead.reconcile.explain.families import Exchange, Family, exchanges_of, families_of
from pollstead.reconcile.explain.groups import KEPT_WITHIN, Found, Part, explained_of
from pollstead.reconcile.explain.odds import NEVER, Odds
from pollstead.reconcile.explain.reading_lines import Option
from pollstead.reconcile.explain.system import (
    System,
    Vector,
    plus,
    primitive,
    scaled,
    stands_alone,
    system_of,
)
from pollstead.reconcile.explain.terms import Explained, SiteNight


class Way(NamedTuple):
    """One fault in one way: its family, the amount, the option."""

    family: Family
    amount: int
    option: Option


class Member:
    """A family among those of one direction. Not a value: it remembers what it was asked.

    A part is how many times the direction's shortest vector the family makes; `own` is what one of it makes.
    """

    def __init__(self, family: Family, own: int) -> None:
        self.family = family
        self.own = own
        self._ways: dict[int, tuple[int, list[Way]]] = {}
        self._finite: frozenset[int] | None = None
        self._least_of_free: int | None = None

    def ways(self, part: int) -> tuple[int, list[Way]]:
        """The cheapest cost of the ways in which the family makes `part`, and all of them."""
        if part not in self._ways:
            amount, rest = divmod(part, self.own)
            found = [] if rest else [Way(self.family, amount, o) for o in self.family.options(amount)]
            self._ways[part] = (min((w.option.cost for w in found), default=NEVER), found)
        return self._ways[part]

    def finite(self) -> frozenset[int]:
        """The parts that some way which is not free makes."""
        if self._finite is None:
            self._finite = frozenset(self.own * amount for amount in self.family.amounts())
        return self._finite

    def at_least(self, part: int) -> int:
        """A cost that no way in which the family makes `part` is below; free ways are not asked for it."""
        if part in self._ways or part in self.finite():
            return self.ways(part)[0]
        if self._least_of_free is None:
            self._least_of_free = self.family.least_of_free()
        return self._least_of_free


Classes = dict[Vector, list[Member]]


def explain(night: SiteNight, odds: Odds) -> Explained:
    """What single faults, alone or two together, explain the differences of a site.

    Without a difference there is nothing to explain. The order of readings is no matter.
    """
    system = system_of(night)
    if not system.residual:
        return explained_of(night, system, odds, ())
    classes: Classes = {}
    for family in families_of(night, system, odds):
        along, own = primitive(family.direction)
        classes.setdefault(along, []).append(Member(family, own))
    exchanges = exchanges_of(night, system, odds)
    search = _Search(system, odds, classes, exchanges)
    search.singles()
    search.apart()
    search.in_one_class()
    search.with_exchanges()
    return explained_of(night, system, odds, tuple(search.found))


class _Search:
    """What was found so far; what is ten thousand times less likely than the likeliest is not kept."""

    def __init__(self, system: System, odds: Odds, classes: Classes, exchanges: tuple[Exchange, ...]) -> None:
        self.system = system
        self.alone = odds.of(FaultKind.SPOILED_ALONE)
        self.residual = system.residual
        self.classes = classes
        self.exchanges = exchanges
        self.found: list[Found] = []
        self.most = 2 * NEVER

    def singles(self) -> None:
        """One fault that does just what is seen."""
        for part, way in self._ways(self.residual):
            self._keep((part,), (way,), ())
        for one in self.exchanges:
            if one.effect == self.residual:
                self._keep((self._part(one),), (), (one,))

    def apart(self) -> None:
        """Two faults along different directions: the rows say how much each does."""
        row, wanted = self.residual[0]
        seen = _rows_of(self.residual)
        touching = [
            (one, dict(one)[row], _rows_of(one)) for one in self.classes if any(r == row for r, _ in one)
        ]
        for place, (first, amount, rows) in enumerate(touching):
            if wanted % amount == 0:
                # The other one leaves this row alone, so the first is all that the row says.
                part = scaled(first, wanted // amount)
                left = plus(self.residual, part, -1)
                if left and primitive(left)[0] in self.classes:
                    self._two(part, left)
            for second, _, others in touching[place + 1 :]:
                # A row that one of them alone touches must be seen, and what is seen must be touched.
                if not (rows ^ others) & ~seen and not seen & ~(rows | others):
                    for one, other in _both_touch(self.residual, first, second):
                        self._two(one, other)

    def in_one_class(self) -> None:
        """Two faults along the direction of what is seen; one of them at an amount that is not free."""
        along, times = primitive(self.residual)
        members = self.classes.get(along, [])
        for place, one in enumerate(members):
            for other in members[place + 1 :]:
                if one.family.columns & other.family.columns:
                    continue
                for part in one.finite() | {times - part for part in other.finite()}:
                    rest = times - part
                    if not part or not rest:
                        continue
                    if one.at_least(part) + other.at_least(rest) > self.most:
                        continue
                    for first in one.ways(part)[1]:
                        for second in other.ways(rest)[1]:
                            if not (first.option.is_free and second.option.is_free):
                                parts = (
                                    (along, part, first.option.likelihood),
                                    (along, rest, second.option.likelihood),
                                )
                                self._keep(parts, (first, second), ())

    def with_exchanges(self) -> None:
        """Two numbers exchanged and one more fault, or two exchanges."""
        for place, one in enumerate(self.exchanges):
            left = plus(self.residual, one.effect, -1)
            for part, way in self._ways(left) if left else ():
                if not one.columns & way.family.columns:
                    self._keep((self._part(one), part), (way,), (one,))
            for other in self.exchanges[place + 1 :]:
                if other.effect == left and not one.columns & other.columns:
                    self._keep((self._part(one), self._part(other)), (), (one, other))

    def _ways(self, vector: Vector) -> Iterator[tuple[Part, Way]]:
        along, times = primitive(vector)
        for member in self.classes.get(along, ()):
            for way in member.ways(times)[1]:
                yield (along, times, way.option.likelihood), way

    @staticmethod
    def _part(one: Exchange) -> Part:
        return (*primitive(one.effect), one.option.likelihood)

    def _two(self, one: Vector, other: Vector) -> None:
        others = list(self._ways(other))
        for part, first in self._ways(one) if others else ():
            for more, second in others:
                if not first.family.columns & second.family.columns:
                    self._keep((part, more), (first, second), ())

    def _keep(self, parts: tuple[Part, ...], ways: tuple[Way, ...], exchanges: tuple[Exchange, ...]) -> None:
        cost = sum(way.option.cost for way in ways) + sum(one.option.cost for one in exchanges)
        cost += _leaning_twice(ways)
        if cost > self.most:
            return
        moves = [(c, one * way.amount) for way in ways for c, one in way.family.unit]
        moves += [move for one in exchanges for move in one.fault.moves]
        if stands_alone(self.system.values, moves):
            cost += self.alone
            parts = (*parts, ((), 0, self.alone))
            if cost > self.most:
                return
        self.most = min(self.most, cost + KEPT_WITHIN)
        self.found.append(Found(cost, tuple(sorted(parts)), ways, exchanges))


def _leaning_twice(ways: tuple[Way, ...]) -> int:
    """What it costs more that two things at one device lean on too few jam records: each is of one ballot."""
    if len(ways) < 2 or not all(way.family.jams for way in ways):
        return 0
    jams = {jam.event for way in ways for jam in way.family.jams}
    if len({way.family.device for way in ways}) > 1 or sum(way.amount for way in ways) <= len(jams):
        return 0
    return min(way.family.without_jam() - way.option.prior for way in ways)


def _rows_of(vector: Vector) -> int:
    """The rows that a vector touches, as bits."""
    return sum(1 << row for row, _ in vector)


def _both_touch(residual: Vector, first: Vector, second: Vector) -> Iterator[tuple[Vector, Vector]]:
    """Solve ``a * first + b * second = residual`` for whole a and b other than 0."""
    one, other, wanted = dict(first), dict(second), dict(residual)
    row = residual[0][0]
    for crossing in (*one, *other):
        det = one[row] * other.get(crossing, 0) - other[row] * one.get(crossing, 0)
        if det:
            a = wanted[row] * other.get(crossing, 0) - other[row] * wanted.get(crossing, 0)
            b = one[row] * wanted.get(crossing, 0) - wanted[row] * one.get(crossing, 0)
            if a and b and a % det == 0 and b % det == 0:
                parts = scaled(first, a // det), scaled(second, b // det)
                if plus(*parts) == residual:
                    yield parts
            return
