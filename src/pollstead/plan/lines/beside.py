"""What happens on a site-day besides services and lines, as whole numbers for the fast engine.

Jams, failures and the curb come by chance and are drawn with the voters; absences are known beforehand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from pollstead.plan.lines import draws
from pollstead.plan.lines.laws import gap_table, law_table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pollstead.plan.terms.lines import ArrivalDay, ServiceLaw, SitePath

    Ints = np.ndarray[Any, np.dtype[np.int64]]


def tables_of(path: SitePath) -> Ints:
    """The law tables in the order of ``kernel_draws``: int64, shape (LAWS, KNOTS)."""
    works = path.works()
    laws: list[ServiceLaw | None] = [None if work is None else work.law for work in works]
    laws.append(None if path.jams is None else path.jams.time)
    laws.append(None if path.curbside is None else path.curbside.law)
    laws += [None if work is None or work.failures is None else work.failures.repair for work in works]
    return np.stack([gap_table(), *(law_table(law) for law in laws)])


def chances_of(path: SitePath) -> Ints:
    """The chances in the order of ``kernel_draws``: int64, shape (CHANCES,); where there is no line nothing
    fails."""
    found = [
        0
        if work is None or work.failures is None or not work.limited
        else draws.use_rate(work.failures.mean_use_ms)
        for work in path.works()
    ]
    found.append(0 if path.jams is None else draws.chance_threshold(path.jams.chance_ppm))
    found.append(0 if path.curbside is None else draws.accessible_threshold(path.curbside.share_ppm))
    return np.array(found, np.int64)


class Absences(NamedTuple):
    """Absences of some candidates: `rows`, int64, shape (absences, 3), from, lasts, until in ms.

    `spans`, int64, shape (candidates, 4, 2): where the rows of each stage begin and end.
    """

    rows: Ints
    spans: Ints

    def of(self, chosen: Ints) -> Absences:
        """Those of the candidates that are chosen, by place or by yes and no."""
        return Absences(self.rows, self.spans[chosen])

    def lengths_ms(self, stage: int) -> tuple[int, int]:
        """The most that a candidate's absences of a stage can last together, and the longest one."""
        each = np.maximum(self.rows[:, 1], self.rows[:, 2] - self.rows[:, 0])
        together, longest = 0, 0
        for first, last in {(a, b) for a, b in self.spans[:, stage].tolist()}:
            mine = each[first:last].tolist()
            together, longest = max(together, sum(mine)), max(longest, *mine, 0)
        return together, longest

    def latest_until_ms(self) -> int:
        """The latest moment until which anybody is away, 0 for none."""
        return int(self.rows[:, 2].max()) if len(self.rows) > 0 else 0


def no_absences(candidates: int) -> Absences:
    """Nobody is away."""
    return Absences(np.zeros((0, 3), np.int64), np.zeros((candidates, 4, 2), np.int64))


def absences_of(day: ArrivalDay, candidates: Sequence[tuple[int, int, int, int]]) -> Absences:
    """The absences of a day for each candidate, as ``ArrivalDay.absences_of`` has them."""
    none = no_absences(len(candidates))
    if not day.breaks and not day.absences:
        return none
    rows: list[tuple[int, int, int]] = []
    known: dict[tuple[int, int], tuple[int, int]] = {}
    for c, counts in enumerate(candidates):
        for stage, count in enumerate(counts):
            if (stage, count) not in known:
                alone = [0, 0, 0, 0]
                alone[stage] = count
                mine = day.absences_of((alone[0], alone[1], alone[2], alone[3]))[stage]
                begins = len(rows)
                rows += [(min(a.from_ms, _FAR_MS), a.lasts_ms, a.until_ms) for a in mine]
                known[stage, count] = (begins, len(rows))
            none.spans[c, stage] = known[stage, count]
    return Absences(np.array(rows, np.int64).reshape(-1, 3), none.spans)


_FAR_MS = 1 << 50
"""Later than any moment of a key: an absence from there on never comes."""
