"""What the office's own choices cost at the split's prices; law and accessibility rules have no price."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.plan.lines.split_tables import Range, Tables, four, within_bounds
from pollstead.plan.terms.lines import SIZED, Stage
from pollstead.plan.terms.split import FleetKind, PolicyPrice, Response, SplitSite

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

HOLD_BACK = "hold back"
LEAST_NUMBER = "least number"
ACCESSIBLE = SIZED.index(Stage.MARK_ACCESSIBLE)


def policy_prices(
    sites: Sequence[SplitSite],
    allowed: Sequence[Range],
    fleet: Sequence[FleetKind],
    tables: Tables,
    rows: Sequence[Response],
    multipliers: Sequence[int],
    priced: Callable[[int, Response, tuple[int, ...]], int],
) -> tuple[PolicyPrice, ...]:
    """One device fewer held back, one station fewer than a least number of the office's own; those above 0.

    The price of a device held back is the multiplier of its kind. For a least number the days are simulated
    with one station fewer there; the saving is counted at the multipliers, which is the most that it can be.
    """
    prices = [
        PolicyPrice(policy=HOLD_BACK, kind=kind.id, worth_ms=price // tables.days)
        for kind, price in zip(fleet, multipliers, strict=True)
        if kind.held_back and kind.hold_back_is_policy and price >= tables.days
    ]
    below = []
    for at, (site, row) in enumerate(zip(sites, rows, strict=True)):
        for k in range(4):
            floor = allowed[at].low[k]
            least_of_law = max(1, site.law_floor[k])
            if k == ACCESSIBLE or not allowed[at].chosen[k] or not row.counts[k] == floor > least_of_law:
                continue
            fewer = list(row.counts)
            fewer[k] -= 1
            if within_bounds(site, four(fewer)):
                below.append((at, k, four(fewer)))
    apart = Tables(tuple(sites), tables.seed, tables.days, tables.workers)
    apart.try_((at, [counts]) for at, _, counts in below)
    tables.passes += apart.passes
    weights = tuple(multipliers)
    for at, k, counts in below:
        tried = apart.row(at, counts)
        if tried is None:
            continue
        least = min(priced(at, row, weights) for row in tables.rows(at))
        saves = least - priced(at, tried, weights)
        if saves >= tables.days:
            prices.append(
                PolicyPrice(
                    policy=LEAST_NUMBER,
                    site=sites[at].id,
                    stage=SIZED[k].value,
                    worth_ms=saves // tables.days,
                )
            )
    return tuple(prices)
