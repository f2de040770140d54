"""When voters come: shares of the day by quarter hour or hour with intervals, each site drawn to the county.

Model: on each site-day the arrivals are drawn by shares that differ from the county's as a Dirichlet law
says; its concentration tells how alike days are. So a day with few voters says little, and a hundred quiet
days say no more than they differ. A time when a site was closed, or that nobody counted, says nothing. Source
of the model: Mosimann 1962, Biometrika 49, 65-82 (from memory); shrinkage is its posterior mean.
"""

from __future__ import annotations

import datetime as dt
import math
from functools import lru_cache
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

from pollstead.election.timings import UNKNOWN, Band
from pollstead.election.values import Value, require
from pollstead.plan.lines.fit_laws import WHOLE_PPM, band
from pollstead.plan.lines.fit_likelihood import student_quantile

if TYPE_CHECKING:
    import numpy as np

ASSUMED_ALIKE = 200
"""Concentration taken where fewer than three site-days were counted: one day's share of 8 % then stands
for 4 to 12 %. Our choice."""
FEWEST_DAYS = 3
LEAST_ALIKE, MOST_ALIKE = 5.0, 1e6
PRIOR_VOTERS = 200
"""The county's present table counts as so many counted voters: our choice."""
_ROUNDS = 12
_GOLDEN = (math.sqrt(5) - 1) / 2


class CountedDay(Value, frozen=True, kw_only=True):
    """Arrivals of one site-day in steps of `step_min` from `first_min`; `UNKNOWN` where not counted."""

    site: str
    date: dt.date
    first_min: int
    step_min: int
    counts: tuple[int, ...]

    def __post_init__(self) -> None:
        require(self.step_min in (15, 60), f"step_min must be 15 or 60, got {self.step_min}")
        require(self.first_min % self.step_min == 0, f"first_min must be a step's, got {self.first_min}")
        require(min(self.counts, default=0) >= UNKNOWN, "counts must be >= 0, or UNKNOWN")


class SiteShape(Value, frozen=True, kw_only=True):
    """A site's own shape drawn to the county's: its voters counted, the weight of its own, the shares."""

    site: str
    days: int
    voters: int
    own_weight_ppm: int
    shares_ppm: tuple[Band, ...]


class ShapeFit(Value, frozen=True, kw_only=True):
    """The county's shape: share of the day's voters in each step from `first_min`, and by clock hour.

    `counted_ppm` are the hours' shares from the counts alone; `hours_ppm` with the present table counted as
    `PRIOR_VOTERS`. `alike` is the Dirichlet concentration; `effective` how many independent voters the counts
    are worth; `wanted` about how many site-days give the busiest hour's share within 10 %.
    """

    step_min: int
    first_min: int
    shares_ppm: tuple[Band, ...]
    first_hour: int
    counted_ppm: tuple[Band, ...]
    hours_ppm: tuple[int, ...]
    busiest_hour: int
    days: int
    voters: int
    alike: int
    effective: int
    wanted: int
    thin: bool
    sites: tuple[SiteShape, ...]


def fit_shape(days: tuple[CountedDay, ...], present: dict[int, int] | None = None) -> ShapeFit | None:
    """The county's shape from counted days; None without a voter. `present` is ppm by clock hour.

    Days counted by quarter hour and by hour together are fitted by hour. Deterministic.
    """
    days = tuple(sorted(days, key=lambda day: (day.site, day.date)))
    if not any(count > 0 for day in days for count in day.counts):
        return None
    import numpy as np

    step = max(day.step_min for day in days)
    first, counts = _table(days, step)
    share, alike = _fit(counts)
    totals = np.nansum(counts, axis=1)
    effective = totals.sum() ** 2 / (totals * (totals + alike) / (1 + alike)).sum()
    z = _score(len(days))
    per_hour = 60 // step
    by_hour = share.reshape(-1, per_hour).sum(axis=1)
    counted = tuple(_interval(p, effective, z) for p in by_hour.tolist())
    busiest = max(range(len(counted)), key=lambda hour: counted[hour].value)
    peak = by_hour[busiest]
    each = effective / len(days)
    wanted = math.ceil((1 - peak) / peak * (1.96 / 0.1) ** 2 / each)
    half = max(counted[busiest].high - counted[busiest].value, counted[busiest].value - counted[busiest].low)
    return ShapeFit(
        step_min=step,
        first_min=first * step,
        shares_ppm=tuple(_interval(p, effective, z) for p in share.tolist()),
        first_hour=first * step // 60,
        counted_ppm=counted,
        hours_ppm=_with_present(by_hour.tolist(), first * step // 60, effective, present),
        busiest_hour=first * step // 60 + busiest,
        days=len(days),
        voters=int(counts[counts > 0].sum()),
        alike=round(alike),
        effective=round(effective),
        wanted=max(len(days) + 1 if half > 0.1 * counted[busiest].value else 1, wanted),
        thin=bool(half > 0.1 * counted[busiest].value),
        sites=_sites(days, counts, share, alike),
    )


def _table(days: tuple[CountedDay, ...], step: int) -> tuple[int, np.ndarray[Any, Any]]:
    """Counts by site-day and step, from a whole hour to a whole hour; NaN where not counted."""
    import numpy as np

    first = min(day.first_min for day in days) // 60 * (60 // step)
    last = max(-(-(day.first_min + len(day.counts) * day.step_min) // 60) for day in days) * (60 // step)
    table = np.full((len(days), last - first), np.nan)
    for row, day in zip(table, days, strict=True):
        width = step // day.step_min
        end = -(-(day.first_min + len(day.counts) * day.step_min) // step) - first
        for place in range(day.first_min // step - first, end):
            low = (place + first) * width - day.first_min // day.step_min
            part = day.counts[max(0, low) : low + width]
            row[place] = sum(part) if part and UNKNOWN not in part else np.nan
    return first, table


def _fit(counts: np.ndarray[Any, Any]) -> tuple[np.ndarray[Any, Any], float]:
    """Shares, what is not known filled by its expectation again and again (EM), and the concentration."""
    import numpy as np

    known = ~np.isnan(counts)
    zeroed = np.where(known, counts, 0.0)
    share = np.full(counts.shape[1], 1 / counts.shape[1])
    for _ in range(_ROUNDS if not known.all() else 1):
        seen = (known * share).sum(axis=1)
        whole = np.where(seen > 0, zeroed.sum(axis=1) / np.maximum(seen, 1e-12), 0.0)
        filled = np.where(known, zeroed, whole[:, None] * share[None, :])
        share = filled.sum(axis=0) / filled.sum()
    counted = zeroed.sum(axis=1) > 0
    if int(counted.sum()) < FEWEST_DAYS:
        return share, float(ASSUMED_ALIKE)
    return share, _alike(zeroed[counted], known[counted], share)


def _alike(counts: np.ndarray[Any, Any], known: np.ndarray[Any, Any], share: np.ndarray[Any, Any]) -> float:
    """The concentration of greatest likelihood, golden section over its logarithm."""
    import numpy as np

    totals = counts.sum(axis=1)

    def likelihood(log_alike: float) -> float:
        alike = math.exp(log_alike)
        mass = np.where(known, alike * np.maximum(share, 1e-12)[None, :], 0.0)
        whole = mass.sum(axis=1)
        told = _log_gamma(whole) - _log_gamma(whole + totals)
        parts = np.where(known, _log_gamma(mass + counts + ~known) - _log_gamma(mass + ~known), 0.0)
        return float(told.sum() + parts.sum())

    low, high = math.log(LEAST_ALIKE), math.log(MOST_ALIKE)
    a, b = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    fa, fb = likelihood(a), likelihood(b)
    for _ in range(40):
        if fa < fb:
            low, a, fa = a, b, fb
            b = low + _GOLDEN * (high - low)
            fb = likelihood(b)
        else:
            high, b, fb = b, a, fa
            a = high - _GOLDEN * (high - low)
            fa = likelihood(a)
    return math.exp((low + high) / 2)


def _log_gamma(x: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """ln Gamma for x > 0: eight steps up, then Stirling's series (NIST DLMF 5.11.1)."""
    import numpy as np

    product = np.ones_like(x)
    for k in range(8):
        product = product * (x + k)
    y = x + 8
    series = 1 / (12 * y) - 1 / (360 * y**3) + 1 / (1260 * y**5) - 1 / (1680 * y**7)
    result: np.ndarray[Any, Any] = (
        (y - 0.5) * np.log(y) - y + 0.5 * math.log(2 * math.pi) + series - np.log(product)
    )
    return result


@lru_cache(maxsize=1024)
def _score(days: int) -> float:
    """How many standard errors an interval reaches: Student's t where the days tell the spread."""
    if days < FEWEST_DAYS:
        return NormalDist().inv_cdf(0.975)
    return student_quantile(0.975, days - 1)


def _interval(share: float, effective: float, z: float) -> Band:
    """A share with its interval (Wilson 1927, JASA 22, 209-212) for the effective number of voters."""
    bottom = 1 + z * z / effective
    middle = (share + z * z / (2 * effective)) / bottom
    half = z / bottom * math.sqrt(share * (1 - share) / effective + z * z / (4 * effective**2))
    ends = (max(0.0, min(share, middle - half)), min(1.0, max(share, middle + half)))
    return band(WHOLE_PPM * share, *(WHOLE_PPM * end for end in ends))


def _with_present(
    by_hour: list[float], first_hour: int, effective: float, present: dict[int, int] | None
) -> tuple[int, ...]:
    """Hours' shares in tenths of a percent that sum to 100 %, the present table counted as some voters."""
    shares = list(by_hour)
    if present:
        own = [present.get((first_hour + place) % 24, 0) for place in range(len(shares))]
        # Only where both tables speak of the same hours can one stand in for the other.
        if sum(own) > 0 and all(own):
            weight = effective / (effective + PRIOR_VOTERS)
            shares = [weight * s + (1 - weight) * p / sum(own) for s, p in zip(shares, own, strict=True)]
    tenths = [1000 * s / math.fsum(shares) for s in shares]
    whole = [math.floor(t) for t in tenths]
    rest = sorted(range(len(tenths)), key=lambda place: (whole[place] - tenths[place], place))
    for place in rest[: 1000 - sum(whole)]:
        whole[place] += 1
    return tuple(1000 * t for t in whole)


def _sites(
    days: tuple[CountedDay, ...], counts: np.ndarray[Any, Any], share: np.ndarray[Any, Any], alike: float
) -> tuple[SiteShape, ...]:
    """Each site's posterior shares; its days are added up."""
    import numpy as np

    z = NormalDist().inv_cdf(0.975)
    result = []
    for site in dict.fromkeys(day.site for day in days):
        own = counts[[place for place, day in enumerate(days) if day.site == site]]
        known = ~np.isnan(own)
        summed = np.where(known, own, 0.0).sum(axis=0)
        total = float(summed.sum())
        # The hours that this site never counted take the county's share.
        seen = float(share[known.any(axis=0)].sum())
        expected = summed + np.where(known.any(axis=0), 0.0, total / max(seen, 1e-12) * share)
        mass = total + alike
        posterior = (alike * share + expected * (total / max(expected.sum(), 1e-12))) / mass
        result.append(
            SiteShape(
                site=site,
                days=len(own),
                voters=round(total),
                own_weight_ppm=round(WHOLE_PPM * total / mass),
                shares_ppm=tuple(_interval(p, mass, z) for p in posterior.tolist()),
            )
        )
    return tuple(result)
