"""Service laws as tables of whole numbers, so that every machine draws the same milliseconds.

A draw looks up one of 256 equal cells of the quantile function and goes straight between the cell's two
ends; the first and the last cell are cut into 256 again, and the tails end at a chance of 2**-20. The knots
are scaled so that the mean of what is drawn is the law's mean.
"""

from __future__ import annotations

import math
from functools import lru_cache, partial
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

from pollstead.election.values import frozen_array
from pollstead.plan.lines.gamma import gamma_quantile
from pollstead.plan.terms.lines import LawKind, ServiceLaw

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

CELLS = 256
LOW_TAIL = CELLS + 1  # where the knots of the first cell's cut begin
HIGH_TAIL = 2 * (CELLS + 1)  # where the knots of the last cell's cut begin
KNOTS = 3 * (CELLS + 1)
TAIL_CHANCE = 2.0**-20
PARTS_PER_MS = 256
"""A knot is held in 1/256 ms; a draw is rounded to whole milliseconds at the very end."""

GAP_MEAN = 1 << 14
"""Mean of the unit gaps between arrivals, in a unit that drops out when they are scaled to the day."""


def _uniforms() -> list[float]:
    """The chances at which the quantile function is taken, in the order of the table."""
    inner = [k / CELLS for k in range(CELLS + 1)]
    inner[0], inner[-1] = inner[1], inner[-2]  # never read: these two cells are cut again
    low = [max(j / CELLS**2, TAIL_CHANCE) for j in range(CELLS + 1)]
    high = [1.0 - max((CELLS - j) / CELLS**2, TAIL_CHANCE) for j in range(CELLS + 1)]
    return inner + low + high


def _mean(knots: tuple[float, ...]) -> float:
    """Mean of the straight-line pieces between `knots`, each with its chance."""

    def halves(first: int, last: int) -> float:
        return math.fsum((knots[k] + knots[k + 1]) / 2 for k in range(first, last))

    inner = halves(1, CELLS - 1) / CELLS
    tails = halves(LOW_TAIL, LOW_TAIL + CELLS) + halves(HIGH_TAIL, HIGH_TAIL + CELLS)
    return inner + tails / CELLS**2


def _scaled(raw: tuple[float, ...], mean_parts: int) -> np.ndarray[Any, Any]:
    """Knots with the shape `raw`, scaled to the mean: int64, shape (KNOTS,), 1/256 ms, each >= 1 ms."""
    scale = mean_parts / _mean(raw)
    return frozen_array([max(PARTS_PER_MS, round(x * scale)) for x in raw], "int64")


@lru_cache(maxsize=1)
def _normal_scores() -> dict[float, float]:
    inverse = NormalDist().inv_cdf
    return {u: inverse(u) for u in _uniforms()}


def _between(knots: tuple[int, ...], u: float) -> float:
    """The straight line through `knots`, which stand at equal steps of chance, at the chance `u`."""
    place = u * (len(knots) - 1)
    at = min(int(place), len(knots) - 2)
    return knots[at] + (knots[at + 1] - knots[at]) * (place - at)


@lru_cache(maxsize=256)
def _shape(kind: LawKind, cv_ppm: int, knots: tuple[int, ...]) -> tuple[float, ...]:
    """The quantile function of a law at the table's chances, up to its scale."""
    quantile: Callable[[float], float]
    if kind is LawKind.EXPONENTIAL:
        quantile = _exponential
    elif kind is LawKind.EMPIRICAL:
        quantile = partial(_between, knots)
    elif kind is LawKind.GAMMA and cv_ppm > 0:
        quantile = partial(gamma_quantile, (1_000_000 / cv_ppm) ** 2)
    else:
        sigma = math.sqrt(math.log1p((cv_ppm / 1_000_000) ** 2))
        scores = _normal_scores()
        return tuple(math.exp(sigma * scores[u]) for u in _uniforms())
    return tuple(quantile(u) for u in _uniforms())


def _exponential(u: float) -> float:
    return -math.log1p(-u)


@lru_cache(maxsize=4096)
def law_table(law: ServiceLaw | None) -> np.ndarray[Any, Any]:
    """The table of a service law: int64, shape (KNOTS,), in 1/256 ms; all zero for a step not there.

    Lognormal: sigma**2 = ln(1 + cv**2), the scale fixed by the mean. Exponential: -ln(1 - u). Gamma: shape
    1 / cv**2. Empirical: straight lines between the times given.
    """
    if law is None:
        return frozen_array([0] * KNOTS, "int64")
    parts = law.mean_ms * PARTS_PER_MS
    if law.kind is LawKind.DETERMINISTIC:
        return frozen_array([parts] * KNOTS, "int64")
    return _scaled(_shape(law.kind, law.cv_ppm, law.quantiles_ms), parts)


@lru_cache(maxsize=1)
def gap_table() -> np.ndarray[Any, Any]:
    """The table of the unit gaps between arrivals (exponential): int64, shape (KNOTS,)."""
    return _scaled(_shape(LawKind.EXPONENTIAL, 0, ()), GAP_MEAN * PARTS_PER_MS)
