"""The barest sampling loop: the engine's words and quantiles for the same voters, added up and thrown away.

No times of arrival, nothing stored, no line: less than any simulation of these days can do.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pollstead.plan.lines import draws, kernel_draws
from pollstead.plan.lines import vectors as v
from pollstead.plan.lines.laws import gap_table, law_table

if TYPE_CHECKING:
    from bench.lines.county import SiteDay

LANES, KNOTS = v.LANES, kernel_draws.KNOTS
GAP, CLASS, CHECK_IN, MARK, CAST = range(5)


@v.compiled
def _loop(key: int, groups: int, rows: int, table: Any, bound: int, into: Any) -> None:
    """Five words and four quantiles of each voter; the sums go to `into` so that nothing is left out."""
    sums = v.all_of(0)
    for group in range(groups):
        chance = kernel_draws.bases(key, v.plus(v.load(into, LANES), v.all_of(group * LANES)))
        for row in range(rows):
            sums = v.plus(
                sums, kernel_draws.quantile(table, v.all_of(0), kernel_draws.word(chance, row, GAP))
            )
            needs = v.less(v.down(kernel_draws.word(chance, row, CLASS), 2), v.all_of(bound))
            first = v.choose(needs, v.all_of(3 * KNOTS), v.all_of(2 * KNOTS))
            check_in = kernel_draws.word(chance, row, CHECK_IN)
            sums = v.plus(sums, kernel_draws.quantile(table, v.all_of(KNOTS), check_in))
            sums = v.plus(sums, kernel_draws.quantile(table, first, kernel_draws.word(chance, row, MARK)))
            cast = kernel_draws.word(chance, row, CAST)
            sums = v.plus(sums, kernel_draws.quantile(table, v.all_of(4 * KNOTS), cast))
    v.store(into, 0, sums)


def words(one: SiteDay, days: int) -> int:
    """Draw so many mean days of a site; voters drawn."""
    rows = max(1, round(float(one.day.totals.mean())))
    groups = -(-days // LANES)
    laws = [None if work is None else work.law for work in one.path.works()]
    table = _packed(np.stack([gap_table(), *(law_table(law) for law in laws)]))
    into = np.concatenate([np.zeros(LANES, np.int64), np.arange(LANES)])
    bound = draws.accessible_threshold(one.path.accessible_share_ppm)
    _loop(int(np.uint64(one.key).view(np.int64)), groups, rows, table, bound, into)
    return groups * rows * LANES


def _packed(tables: Any) -> Any:
    """The laws' tables as the engine has them: each knot with the step to the next in its high half."""
    steps = np.zeros_like(tables)
    steps[:, :-1] = np.maximum(np.diff(tables, axis=1), 0)
    return (tables | steps << 32).reshape(-1)
