"""The voters of one simulated day in plain Python, as chance draws them: for the event-by-event telling."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from pollstead.plan.lines import draws
from pollstead.plan.lines.laws import gap_table, law_table
from pollstead.plan.lines.reference import NEVER_FAILS, Voter
from pollstead.plan.terms.lines import SLOT_MS, ArrivalDay, ServiceLaw, SitePath, StageWork

if TYPE_CHECKING:
    from collections.abc import Sequence


@lru_cache(maxsize=256)
def _listed(law: ServiceLaw | None) -> tuple[int, ...]:
    return tuple(law_table(law).tolist())


@lru_cache(maxsize=1)
def _gaps() -> tuple[int, ...]:
    return tuple(gap_table().tolist())


def slot_edges_ms(day: ArrivalDay) -> list[int]:
    """The edges of the day's quarter hours, opening and closing included."""
    return [min(day.open_ms + k * SLOT_MS, day.close_ms) for k in range(day.slots + 1)]


def cumulative_shares(day: ArrivalDay) -> list[int]:
    """The share of arrivals before each edge, on the scale of 2**28."""
    weights = [int(w) for w in day.slot_weights[: day.slots]]
    whole = sum(weights)
    sums = [0]
    for weight in weights:
        sums.append(sums[-1] + weight)
    return [(s << draws.SHARE_BITS) // whole for s in sums]


def drawn_voters(path: SitePath, day: ArrivalDay, key: int, number: int, total: int) -> list[Voter]:
    """The `total` voters of the simulated day `number`, in order of arrival."""
    waiting = draws.opening_line(total, day.opening_line_share_ppm)
    times = draws.arrivals_ms(
        key, number, total, waiting, slot_edges_ms(day), cumulative_shares(day), _gaps()
    )
    drawing = _Drawing(path, key, number)
    return [drawing.voter(v, arrives) for v, arrives in enumerate(times)]


class _Drawing:
    """The chances of one path on one day."""

    def __init__(self, path: SitePath, key: int, number: int) -> None:
        self.path, self.key, self.number = path, key, number
        self.accessible = draws.accessible_threshold(path.accessible_share_ppm)
        curb = path.curbside
        self.curb = 0 if curb is None else draws.accessible_threshold(curb.share_ppm)
        self.jams = 0 if path.jams is None else draws.chance_threshold(path.jams.chance_ppm)

    def voter(self, v: int, arrives_ms: int) -> Voter:
        path, key, day = self.path, self.key, self.number
        patience = None
        if path.patience is not None:
            bits = draws.word(key ^ draws.OTHER_KEY, day, v, draws.PATIENCE)
            patience = draws.quantile(_listed(path.patience), bits)
        if path.curbside is not None and draws.at_curb(key, day, v, self.curb):
            bits = draws.word(key, day, v, draws.CHECK_IN)
            whole = draws.quantile(_listed(path.curbside.law), bits)
            return Voter(arrives_ms, False, whole, 0, 0, curbside=True)
        special = self.accessible > 0 and draws.needs_accessible(key, day, v, self.accessible)
        works: Sequence[StageWork | None] = (
            path.check_in,
            path.accessible if special else path.mark,
            path.cast,
        )
        times, repairs = [], []
        for step, work in enumerate(works):
            bits = draws.word(key, day, v, (draws.CHECK_IN, draws.MARK, draws.CAST)[step])
            takes = draws.quantile(_listed(None if work is None else work.law), bits)
            times.append(takes)
            repairs.append(self._repair_ms(v, step, work, bits, takes))
        jam = 0
        if path.jams is not None and draws.jams(key, day, v, self.jams):
            bits = draws.word(key ^ draws.OTHER_KEY, day, v, draws.JAM_TIME)
            jam = draws.quantile(_listed(path.jams.time), bits)
        return Voter(
            arrives_ms, special, times[0], times[1], times[2],
            repair_ms=(repairs[0], repairs[1], repairs[2]) if any(repairs) else NEVER_FAILS,
            jam_ms=jam, patience_ms=patience,
        )  # fmt: skip

    def _repair_ms(self, v: int, step: int, work: StageWork | None, bits: int, takes_ms: int) -> int:
        if work is None or work.failures is None or not work.limited:
            return 0
        if not draws.fails(bits, takes_ms, draws.use_rate(work.failures.mean_use_ms)):
            return 0
        repair = draws.word(self.key, self.number, v, draws.REPAIR[step])
        return draws.quantile(_listed(work.failures.repair), repair)
