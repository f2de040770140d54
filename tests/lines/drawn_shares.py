"""Days whose chance of a long wait is known, in place of simulated ones, for tests of how days decide."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np

from pollstead.election.values import frozen_array
from pollstead.plan.lines.trials import FRESH_FROM, stride
from pollstead.plan.terms.lines import ArrivalDay, WaitLimit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pollstead.plan.lines.trials import Counts

DRAWS = 200
LIMIT = WaitLimit(limit_ms=1_800_000, risk_ppm=100_000)


def a_day(draws: int = DRAWS) -> ArrivalDay:
    """A day whose demand has so many draws, all different, in no order."""
    totals = np.random.default_rng(3).permutation(np.arange(500, 500 + draws))
    return ArrivalDay(
        date=dt.date(2028, 11, 7),
        open_ms=0,
        close_ms=3_600_000,
        slot_weights=frozen_array([1, 1, 1, 1], "int64"),
        totals=frozen_array(totals, "int64"),
    )


def rising(share: float, steepness: float, base: float = 0.2, draws: int = DRAWS) -> np.ndarray[Any, Any]:
    """Chances of the draws from the smallest on: flat, then up to 1; the mean is `share`."""
    at = (np.arange(draws) + 0.5) / draws
    low, high = -1.0, 2.0
    for _ in range(60):
        middle = (low + high) / 2
        chances = base * share + (1 - base * share) / (
            1 + np.exp(np.clip((middle - at) / steepness, -500, 500))
        )
        low, high = (middle, high) if chances.mean() > share else (low, middle)
    return chances * (share / chances.mean())


class DrawnShares:
    """Stands for trials: on each day every candidate meets the same luck, its chance is that of the draw."""

    def __init__(self, chances: dict[Counts, np.ndarray[Any, Any]], seed: int, day: ArrivalDay) -> None:
        self.day, self.limit = day, LIMIT
        rank = np.argsort(np.argsort(day.totals))
        self._chances = {counts: by_size[rank] for counts, by_size in chances.items()}
        self._luck = np.random.default_rng(seed).random(4000)

    def rows(self, candidates: Sequence[Counts], first_day: int, days: int) -> np.ndarray[Any, Any]:
        """Rows as the engine's: a longest wait below or above the limit, nothing else."""
        draws = len(self.day.totals)
        numbers = np.arange(first_day, first_day + days)
        draw = numbers % draws * stride(draws) % draws
        luck = self._luck[numbers % FRESH_FROM]
        rows = np.zeros((len(candidates), days, 10), np.int64)
        for c, counts in enumerate(candidates):
            rows[c, :, 0] = np.where(luck < self._chances[counts][draw], LIMIT.limit_ms + 1, 0)
        return rows
