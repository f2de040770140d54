"""The odds in use: the usual ones with a county's own lines in their place, as costs.

A cost is a negative natural logarithm in thousandths, as everywhere in the diagnosis; whole numbers, so
that two machines rank alike.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable
from decimal import ROUND_HALF_EVEN, Context, Decimal

from pollstead.election.fault_odds import USUAL_ODDS, FaultKind, FaultOdds
from pollstead.election.reading_errors import ReadingError
from pollstead.election.values import Value
from pollstead.reconcile.diagnosis.costs import Costs, costs_of

NEVER = 10_000_000
"""The cost of what a county says never happens."""
FITS_WITHIN = 2_996
"""Millinats: an explanation more than twenty times less likely than the likeliest is not told as fitting."""
_EXACT = Context(prec=40, rounding=ROUND_HALF_EVEN)
_PLACE = {kind: place for place, kind in enumerate(FaultKind)}


def millinats(share: Decimal) -> int:
    """The cost of a share above 0: minus its natural logarithm in thousandths."""
    return -int(_EXACT.multiply(_EXACT.ln(share), Decimal(1000)).to_integral_value(ROUND_HALF_EVEN))


@functools.lru_cache(maxsize=1 << 16)
def among(count: int) -> int:
    """The cost of one of `count` things that are as likely."""
    return 0 if count <= 1 else millinats(1 / Decimal(count))


class Odds(Value, frozen=True, kw_only=True):
    """Costs of every kind in the order of `FaultKind`, and the costs of reading errors.

    `of_kind` is the cost that it happens at all, `first` that it is one and no more, `further` of each one
    more (both 0 where the kind has no size), `in_jam` the cost where a jam record leaves it open.
    """

    costs: Costs
    of_kind: tuple[int, ...]
    first: tuple[int, ...]
    further: tuple[int, ...]
    in_jam: tuple[int, ...]
    fits_within: int = FITS_WITHIN

    def of(self, kind: FaultKind, *, jam: bool = False) -> int:
        """The cost that a kind happens; with a jam record behind it, the cheaper of both."""
        place = _PLACE[kind]
        return min(self.of_kind[place], self.in_jam[place]) if jam else self.of_kind[place]

    def size(self, kind: FaultKind, size: int) -> int:
        """The cost that it happened `size` times, given that it happened; `size` >= 1."""
        place = _PLACE[kind]
        return self.first[place] + (size - 1) * self.further[place]

    def is_sized(self, kind: FaultKind) -> bool:
        """Whether the kind is counted one by one."""
        return self.further[_PLACE[kind]] > 0


def odds_of(own: Iterable[FaultOdds] = (), reading_errors: Iterable[ReadingError] = ()) -> Odds:
    """The usual odds and costs with a county's own lines in place of ours."""
    lines = {FaultKind(line.kind): line for line in USUAL_ODDS}
    lines.update({FaultKind(line.kind): line for line in own})
    kinds = [lines.get(kind) for kind in FaultKind]
    return Odds(
        costs=costs_of(reading_errors),
        of_kind=tuple(NEVER if line is None else _cost(line.per_million) for line in kinds),
        first=tuple(0 if line is None else _first(line.more_per_thousand) for line in kinds),
        further=tuple(0 if line is None else _further(line.more_per_thousand) for line in kinds),
        in_jam=tuple(NEVER if line is None else _cost(line.jam_per_million or 0) for line in kinds),
    )


def _cost(per_million: int) -> int:
    return NEVER if per_million == 0 else millinats(Decimal(per_million) / 1_000_000)


def _first(more: int | None) -> int:
    return 0 if more is None else millinats(Decimal(1000 - more) / 1000)


def _further(more: int | None) -> int:
    return 0 if more is None else max(1, millinats(Decimal(more) / 1000))


USUAL = odds_of()
