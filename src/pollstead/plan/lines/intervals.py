"""Intervals and tests for a share of days, from counts alone."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

WHOLE_PPM = 1_000_000


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Continued fraction of the incomplete beta function (NIST DLMF 8.17.22), by Lentz's method."""
    tiny = 1e-300
    c = 1.0
    d = 1.0 / max(1.0 - (a + b) * x / (a + 1.0), tiny)
    value = d
    for m in range(1, 500):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        step = 1.0
        for term in (even, odd):
            d = 1.0 + term * d
            d = 1.0 / (d if abs(d) > tiny else tiny)
            c = 1.0 + term / (c if abs(c) > tiny else tiny)
            step = c * d
            value *= step
        if abs(step - 1.0) < 1e-13:
            break
    return value


def beta_cdf(a: float, b: float, x: float) -> float:
    """Regularised incomplete beta function I_x(a, b), 0 <= x <= 1."""
    if x <= 0.0 or x >= 1.0:
        return min(max(x, 0.0), 1.0)
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _beta_fraction(a, b, x) / a
    return 1.0 - front * _beta_fraction(b, a, 1.0 - x) / b


def _beta_quantile(a: float, b: float, chance: float) -> float:
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = (low + high) / 2
        if beta_cdf(a, b, middle) < chance:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@lru_cache(maxsize=65536)
def exact_interval_ppm(over: float, days: float) -> tuple[int, int]:
    """The 95 % interval of a share after `over` of `days`, in ppm, rounded outwards.

    Neither needs to be whole: days may be worth more than their number.

    Source: Clopper and Pearson 1934, Biometrika 26, 404-413 (quantiles of the beta distribution).
    """
    if not 0 <= over <= days or days < 1:
        raise ValueError(f"over must be 0 to days and days >= 1, got {over} of {days}")
    low = 0.0 if over == 0 else _beta_quantile(over, days - over + 1, 0.025)
    high = 1.0 if over == days else _beta_quantile(over + 1, days - over, 0.975)
    return math.floor(low * WHOLE_PPM), math.ceil(high * WHOLE_PPM)


@lru_cache(maxsize=4096)
def hopeless_from(days: int, risk_ppm: int, once_in: int = 1000) -> int:
    """The least number of days over the limit that is too many to be chance.

    At a true risk of `risk_ppm` as many come up less than once in `once_in`. Exact, in whole numbers.
    A candidate at or above it is dropped without more days.
    """
    whole = WHOLE_PPM**days
    tail = whole
    for k in range(days + 1):
        if tail * once_in < whole:
            return k
        tail -= math.comb(days, k) * risk_ppm**k * (WHOLE_PPM - risk_ppm) ** (days - k)
    return days + 1


@lru_cache(maxsize=4096)
def surely_over_from(days: int, risk_ppm: int) -> int:
    """The least number of days over the limit whose 95 % interval lies above `risk_ppm`, else days + 1."""
    low, high = 0, days + 1
    while low < high:
        middle = (low + high) // 2
        if exact_interval_ppm(middle, days)[0] > risk_ppm:
            high = middle
        else:
            low = middle + 1
    return low


def nearest_rank(ordered: Sequence[int], percent: int) -> int:
    """The percentile of a sorted sequence by nearest rank: its ceil(percent % of n)-th entry."""
    return int(ordered[max(0, -(-len(ordered) * percent // 100) - 1)])
