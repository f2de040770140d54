"""The costs in use: the usual ones with a county's own lines in their place."""

from __future__ import annotations

import functools
from collections.abc import Iterable
from decimal import ROUND_HALF_EVEN, Context

from pollstead.election.reading_errors import LOOK_ALIKES, NEIGHBOR_KEYS, USUAL, ErrorKind, ReadingError
from pollstead.election.values import Value

_EXACT = Context(prec=40, rounding=ROUND_HALF_EVEN)


class Costs(Value, frozen=True, kw_only=True):
    """A cost in millinats for every kind, in the order of `ErrorKind`, and those of single pairs."""

    of_kind: tuple[int, ...]
    pairs: tuple[tuple[str, str, int], ...] = ()

    def of(self, kind: ErrorKind) -> int:
        """The cost of a kind."""
        return self.of_kind[_PLACE[kind]]

    def substitution(self, wanted: str, found: str) -> int:
        """The cost of reading `wanted` (one character) as `found`: its own, else that of its class."""
        for one, other, cost in self.pairs:
            if (one, other) == (wanted, found):
                return cost
        classes = [ErrorKind.SUBSTITUTION]
        if (wanted, found) in LOOK_ALIKES:
            classes.append(ErrorKind.LOOK_ALIKE)
        if (wanted, found) in NEIGHBOR_KEYS:
            classes.append(ErrorKind.NEIGHBOR_KEY)
        return min(self.of(kind) for kind in classes)

    def among(self, count: int) -> int:
        """The cost of one of `count` things that are as likely: natural logarithm times ``choice``."""
        if count <= 1:
            return 0
        # A decimal logarithm is rounded right on every machine; a float's last digit need not be.
        return int(
            _EXACT.multiply(
                _EXACT.ln(_EXACT.create_decimal(count)), self.of(ErrorKind.CHOICE)
            ).to_integral_value(ROUND_HALF_EVEN)
        )

    def times(self, up: int, down: int = 1) -> Costs:
        """Every cost times up / down, rounded down to whole millinats."""
        return Costs(
            of_kind=tuple(cost * up // down for cost in self.of_kind),
            pairs=tuple((one, other, cost * up // down) for one, other, cost in self.pairs),
        )


_PLACE = {kind: place for place, kind in enumerate(ErrorKind)}


def costs_of(own: Iterable[ReadingError] = ()) -> Costs:
    """The usual costs with a county's own lines in place of ours; letters count in capitals."""
    of_kind = {ErrorKind(line.kind): line.cost_millinats for line in USUAL}
    pairs: dict[tuple[str, str], int] = {}
    for line in own:
        if line.from_:
            pairs[line.from_.upper(), line.to.upper()] = line.cost_millinats
        else:
            of_kind[ErrorKind(line.kind)] = line.cost_millinats
    return Costs(
        of_kind=tuple(of_kind[kind] for kind in ErrorKind),
        pairs=tuple((one, other, cost) for (one, other), cost in sorted(pairs.items())),
    )


USUAL_COSTS = costs_of()


class Prices:
    """The costs of slips looked up once for many comparisons. Not a value: it remembers pairs."""

    def __init__(self, costs: Costs) -> None:
        self._costs = costs
        self._pairs: dict[tuple[str, str], int] = {}
        self.transposition = costs.of(ErrorKind.TRANSPOSITION)
        self.dropped = costs.of(ErrorKind.DROPPED)
        self.doubled = costs.of(ErrorKind.DOUBLED)
        self.inserted = costs.of(ErrorKind.INSERTED)
        self.twin = costs.of(ErrorKind.TWIN)
        self.zeros = costs.of(ErrorKind.LEADING_ZEROS)

    def substitution(self, wanted: str, found: str) -> int:
        """The cost of reading one character as another one."""
        pair = (wanted, found)
        if pair not in self._pairs:
            self._pairs[pair] = self._costs.substitution(wanted, found)
        return self._pairs[pair]


@functools.lru_cache(maxsize=8)
def prices_of(costs: Costs) -> Prices:
    """The prices of these costs, made once."""
    return Prices(costs)
