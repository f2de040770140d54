"""When voters come, held to a published curve of a real day: Philadelphia, primary of 21 May 2019.

Share of a division's in-person voters who had voted by each clock hour, medians of 771 reports ("my voter
number, at this time"), polls 07:00 to 20:00. Cite: J. Tannen, Sixty-Six Wards turnout tracker, 2019. Reports
are within half an hour of the hour, and those of 20:00 are late (their first quartile is 0.25): the curve
ends at 1 here. The table is read from the folder that POLLSTEAD_DATA names; it is not in this repository.
"""

from __future__ import annotations

import csv
import datetime as dt
import os
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from pollstead.election.county import ArrivalShare
from pollstead.election.values import frozen_array
from pollstead.plan.demand.shape import assumed_arrivals, slot_weights
from pollstead.plan.lines.fit_shape import CountedDay, fit_shape
from pollstead.plan.lines.trials import Trials
from pollstead.plan.terms.lines import HOUR_MS, ArrivalDay, ServiceLaw, SitePath, StageWork, WaitLimit

pytestmark = pytest.mark.full

OPENS, CLOSES = 7, 20
DAY = dt.date(2019, 5, 21)


@pytest.fixture(scope="module")
def published() -> dict[int, float]:
    """Share voted by clock hour, as published."""
    folder = os.environ.get("POLLSTEAD_DATA")
    file = Path(folder or ".") / "arrivals" / "philadelphia_2019_primary_cumulative.csv"
    if not folder or not file.is_file():
        pytest.skip("absent: POLLSTEAD_DATA names no folder of open data")
    with file.open(encoding="utf-8") as opened:
        return {int(row["clock_hour"]): float(row["median_share"]) for row in csv.DictReader(opened)}


@pytest.fixture(scope="module")
def table(published: dict[int, float]) -> tuple[ArrivalShare, ...]:
    """The county's table as the fit of counted days makes it: three divisions that voted by the curve."""
    curve = [0.0, *(published[hour] for hour in range(OPENS + 1, CLOSES)), 1.0]
    counts = tuple(round(10_000 * share) for share in np.diff(curve))
    days = tuple(
        CountedDay(site=f"D{k}", date=DAY, first_min=60 * OPENS, step_min=60, counts=counts) for k in range(3)
    )
    fit = fit_shape(days)
    assert fit is not None and fit.first_hour == OPENS
    return tuple(ArrivalShare(hour=OPENS + n, share_ppm=ppm) for n, ppm in enumerate(fit.hours_ppm))


def cumulative(shares: tuple[ArrivalShare, ...]) -> np.ndarray:
    """Share of the day's voters before each quarter hour from opening to closing, by the model's weights."""
    weights = np.array(slot_weights(shares, 60 * OPENS, 60 * CLOSES), float)
    return np.concatenate([[0.0], np.cumsum(weights / weights.sum())])


def by_clock(shares: tuple[ArrivalShare, ...], hour: float) -> float:
    """Share of the day's voters who came by a clock hour."""
    return float(np.interp(hour, OPENS + np.arange(4 * (CLOSES - OPENS) + 1) / 4, cumulative(shares)))


def test_the_fitted_shape_gives_the_published_shares_back(
    published: dict[int, float], table: tuple[ArrivalShare, ...]
) -> None:
    """Each hour's share voted within 2 in 1,000 (the table has steps of 1); at 07:00 within its half hour."""
    for hour in range(OPENS + 1, CLOSES):
        assert by_clock(table, hour) == pytest.approx(published[hour], abs=2e-3)
    assert 0 < published[OPENS] < by_clock(table, OPENS + 0.5)
    assert by_clock(table, CLOSES) == pytest.approx(1)


def arrivals(shares: tuple[ArrivalShare, ...], days: int, voters: int) -> np.ndarray:
    """Clock hours at which the engine's voters come on these days."""
    day = ArrivalDay(
        date=DAY,
        open_ms=OPENS * HOUR_MS,
        close_ms=CLOSES * HOUR_MS,
        slot_weights=frozen_array(slot_weights(shares, 60 * OPENS, 60 * CLOSES), "int64"),
        totals=frozen_array([voters], "int64"),
    )
    path = SitePath(check_in=StageWork(law=ServiceLaw(mean_ms=60_000)))
    trials = Trials(path, day, WaitLimit(limit_ms=0, risk_ppm=0), 19)
    return np.concatenate([trials.one_day((2, 0, 0, 0), n)[0] for n in range(days)]) / HOUR_MS


def test_the_voters_that_the_engine_draws_come_by_the_published_curve(
    published: dict[int, float], table: tuple[ArrivalShare, ...]
) -> None:
    """10,000 voters: chi-square by hour, Kolmogorov-Smirnov by moment; both refuse two wrong curves.

    Wrong: the trade's assumption that stands where a county has no table, and the curve an hour late.
    """
    came = arrivals(table, 20, 500)
    curve = np.array([0.0, *(published[hour] for hour in range(OPENS + 1, CLOSES)), 1.0])
    clock = np.arange(OPENS, CLOSES + 1)

    def chances(of: np.ndarray) -> tuple[float, float]:
        counted = np.histogram(of, clock)[0]
        by_hour = stats.chisquare(counted, np.diff(curve) * len(of)).pvalue
        return float(by_hour), float(stats.kstest(of, lambda at: np.interp(at, clock, curve)).pvalue)

    assert min(chances(came)) > 1e-3
    assert max(chances(arrivals(assumed_arrivals(), 20, 500))) < 1e-6
    assert max(chances(np.minimum(came + 1, CLOSES - 0.001))) < 1e-6


def test_the_assumed_curve_is_early_on_this_day_with_a_like_peak(
    published: dict[int, float], table: tuple[ArrivalShare, ...]
) -> None:
    """Where a county has no table: 20 of 100 ahead at 14:00, the busiest hour 12.5 % for 11.7 %."""
    ahead = {hour: by_clock(assumed_arrivals(), hour) - published[hour] for hour in range(OPENS + 1, CLOSES)}
    assert max(ahead, key=lambda hour: ahead[hour]) == 14
    assert ahead[14] == pytest.approx(0.197, abs=5e-4)
    assert min(ahead.values()) > 0
    busiest, assumed = (max(one.share_ppm for one in shares) for shares in (table, assumed_arrivals()))
    assert (busiest, assumed) == (117_000, 125_000)
