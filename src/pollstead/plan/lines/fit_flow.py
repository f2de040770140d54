"""From counts: check-in time where all stations were busy, and the share in line when doors open."""

from __future__ import annotations

import datetime as dt
import math

from pollstead.election.timings import Band
from pollstead.election.values import Value, require
from pollstead.plan.lines.fit_laws import WANTED_WIDTH, WHOLE_PPM, band, samples_wanted
from pollstead.plan.lines.fit_likelihood import student_quantile

FEWEST_CHECK_INS = 30
"""Below so many check-ins in busy stretches no mean is told: our choice."""

MOST_SPREAD_PPM = 1_000_000
"""Spread of check-in times where nobody knows it: that of an exponential law, more than usual."""


class BusyStretch(Value, frozen=True, kw_only=True):
    """A time through which every open check-in station was busy and people stood in line."""

    site: str
    date: dt.date
    from_min: int
    lasts_min: int
    stations: int
    check_ins: int

    def __post_init__(self) -> None:
        require(self.lasts_min > 0, f"lasts_min must be > 0, got {self.lasts_min}")
        require(self.stations > 0, f"stations must be > 0, got {self.stations}")
        require(self.check_ins >= 0, f"check_ins must be >= 0, got {self.check_ins}")


class FlowFit(Value, frozen=True, kw_only=True):
    """Mean check-in time from busy stretches, 95 % interval; `wanted` check-ins give it within 10 %."""

    mean_ms: Band
    check_ins: int
    stretches: int
    sites: int
    first: dt.date
    last: dt.date
    wanted: int
    thin: bool


def fit_flow(stretches: tuple[BusyStretch, ...], cv_ppm: int = MOST_SPREAD_PPM) -> FlowFit | None:
    """Mean service time = station time over check-ins; None with too few check-ins.

    While all stations are busy, completed services are a renewal process: their number in a time T has mean
    c T / m and variance about c T cv**2 / m (Cox 1962, "Renewal theory", from memory). Where the stretches
    differ more than that (ratio estimator; Cochran 1977, "Sampling techniques", chapter 6, from memory),
    their own difference sets the interval, with Student's t.
    """
    counted = sum(one.check_ins for one in stretches)
    if counted < FEWEST_CHECK_INS:
        return None
    worked = [60.0 * one.lasts_min * one.stations for one in stretches]
    mean = math.fsum(worked) / counted
    by_chance = 1.96 * (cv_ppm / WHOLE_PPM) / math.sqrt(counted)
    wanted = samples_wanted(cv_ppm / WHOLE_PPM)
    n = len(stretches)
    if n >= 3:
        apart = math.fsum((s.check_ins - w / mean) ** 2 for s, w in zip(stretches, worked, strict=True))
        error = math.sqrt(n / (n - 1) * apart) / counted
        by_chance = max(by_chance, student_quantile(0.975, n - 1) * error)
        wanted = (
            max(wanted, math.ceil(counted * (by_chance / WANTED_WIDTH) ** 2))
            if by_chance > WANTED_WIDTH
            else wanted
        )
    return FlowFit(
        mean_ms=band(1000 * mean, 1000 * mean * math.exp(-by_chance), 1000 * mean * math.exp(by_chance)),
        check_ins=counted,
        stretches=n,
        sites=len({one.site for one in stretches}),
        first=min(one.date for one in stretches),
        last=max(one.date for one in stretches),
        wanted=wanted,
        thin=by_chance > WANTED_WIDTH,
    )


class OpeningCount(Value, frozen=True, kw_only=True):
    """People in line when doors were set to open, and the voters of that day at the same site."""

    site: str
    date: dt.date
    in_line: int
    voters: int

    def __post_init__(self) -> None:
        require(self.voters > 0, f"voters must be > 0, got {self.voters}")
        require(self.in_line >= 0, f"in_line must be >= 0, got {self.in_line}")


class OpeningFit(Value, frozen=True, kw_only=True):
    """The share of the day's voters in line at opening, with a 95 % interval."""

    share_ppm: Band
    days: int
    in_line: int
    voters: int
    wanted: int
    thin: bool


def fit_opening(counts: tuple[OpeningCount, ...]) -> OpeningFit | None:
    """Share in line at opening: people in line over voters, added up; None without a count.

    The interval is the wider of the binomial one (Wilson 1927) and the ratio estimator's over site-days
    (Cochran 1977, chapter 6, from memory).
    """
    if not counts:
        return None
    voters, line = sum(one.voters for one in counts), sum(min(one.in_line, one.voters) for one in counts)
    share, n, z = line / voters, len(counts), 1.96
    bottom = 1 + z * z / voters
    half = z / bottom * math.sqrt(share * (1 - share) / voters + z * z / (4 * voters**2))
    middle = (share + z * z / (2 * voters)) / bottom
    low, high = middle - half, middle + half
    if n >= 3:
        apart = math.fsum((one.in_line - share * one.voters) ** 2 for one in counts)
        error = student_quantile(0.975, n - 1) * math.sqrt(n / (n - 1) * apart) / voters
        low, high = min(low, share - error), max(high, share + error)
    width = max(high - share, share - low) / share if share else math.inf
    return OpeningFit(
        share_ppm=band(WHOLE_PPM * share, WHOLE_PPM * max(0.0, min(low, share)), WHOLE_PPM * min(1.0, high)),
        days=n,
        in_line=line,
        voters=voters,
        wanted=max(3, math.ceil(n * (width / WANTED_WIDTH) ** 2)) if math.isfinite(width) else 3,
        thin=width > WANTED_WIDTH or n < 3,
    )
