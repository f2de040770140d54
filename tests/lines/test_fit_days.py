"""When voters come, the line at opening and check-in time from counts: days of a known model, recovered."""

from __future__ import annotations

import csv
import datetime as dt
import os
from pathlib import Path

import numpy as np
import pytest
from scipy import special, stats
from tests.lines.timed_days import CLOSES_MIN, DAY, HOURS, OPENS_MIN, as_files, told_day

from pollstead.election.timings import UNKNOWN
from pollstead.intake.timings.read import read_timings
from pollstead.plan.lines.fit import CheckInTypes, FitGiven, OpenHours, TimingsFit, fit_timings
from pollstead.plan.lines.fit_flow import BusyStretch, OpeningCount, fit_flow, fit_opening
from pollstead.plan.lines.fit_shape import CountedDay, _log_gamma, fit_shape
from pollstead.plan.terms.lines import ServiceLaw

LAW = ServiceLaw(mean_ms=90_000, cv_ppm=600_000)
ZONE = "America/New_York"


def fitted(seed: int, sites: int, *, with_lines: bool = True, voters: int = 700) -> TimingsFit:
    """Site-days of 700 voters at 2 check-in stations, fitted from their files."""
    days = []
    for site in range(sites):
        ends, waits = told_day(900 + seed, site, voters + 10 * site, LAW, 2, 30_000)
        days.append((f"S{site:02}", ends, waits))
    times, lines = as_files(days, 2)
    read = read_timings("times.csv", times, zone_name=ZONE)
    counts = read_timings("lines.csv", lines, zone_name=ZONE, day=DAY)
    assert not read.refused + counts.refused
    names = [name for name, _, _ in days]
    return fit_timings(
        FitGiven(
            days=read.days,
            lines=counts.lines if with_lines else (),
            hours=tuple(
                OpenHours(site=name, date=DAY, opens_min=OPENS_MIN, closes_min=CLOSES_MIN) for name in names
            ),
            check_in=tuple(CheckInTypes(site=name, station_type="desk", cv_ppm=600_000) for name in names),
        )
    )


def test_known_days_are_recovered_inside_their_intervals() -> None:
    """Six times eight site-days: shape, line at opening and check-in time are held about 95 times of 100."""
    hours_held = opening_held = flow_held = 0
    for seed in range(6):
        fit = fitted(seed, 8)
        assert fit.shape is not None
        assert fit.opening is not None
        assert fit.line_known
        shares = fit.shape.counted_ppm
        hours_held += sum(b.low <= 1000 * p <= b.high for b, p in zip(shares, HOURS, strict=True))
        opening_held += fit.opening.share_ppm.low <= 30_000 <= fit.opening.share_ppm.high
        flow = fit.flows[0].flow
        flow_held += flow.mean_ms.low <= LAW.mean_ms <= flow.mean_ms.high
        assert not flow.thin
    assert hours_held >= 0.88 * 6 * len(HOURS)
    assert opening_held >= 5
    assert flow_held >= 5


def test_without_line_counts_the_curve_is_late_and_says_so() -> None:
    """Check-ins lag behind arrivals where a line stands: the first hour's share comes out too small."""
    fit = fitted(1, 3, with_lines=False, voters=850)
    assert fit.shape is not None
    assert not fit.line_known
    assert fit.opening is None
    assert not fit.flows
    assert fit.shape.step_min == 15
    assert fit.shape.counted_ppm[0].value < 1000 * HOURS[0]


def test_the_concentration_equals_that_of_scipys_likelihood() -> None:
    """The Dirichlet-multinomial's likelihood with scipy's gammaln over a grid has its top where we say."""
    random = np.random.default_rng(2)
    share = np.array(HOURS) / sum(HOURS)
    counts = np.array([random.multinomial(600, random.dirichlet(120 * share)) for _ in range(20)])
    fit = fit_shape(tuple(_day(f"S{k}", row.tolist()) for k, row in enumerate(counts)))
    assert fit is not None
    q = counts.sum(axis=0) / counts.sum()
    grid = np.geomspace(20, 2000, 800)
    told = [
        (special.gammaln(a) - special.gammaln(a + counts.sum(axis=1))).sum()
        + (special.gammaln(a * q + counts) - special.gammaln(a * q)).sum()
        for a in grid
    ]
    assert fit.alike == pytest.approx(grid[int(np.argmax(told))], rel=0.01)
    assert 70 <= fit.alike <= 220


def test_log_gamma_equals_scipys() -> None:
    """From a hundred-thousandth to ten million."""
    x = np.geomspace(1e-5, 1e7, 500)
    np.testing.assert_allclose(_log_gamma(x), special.gammaln(x), rtol=1e-11, atol=1e-11)


def _day(site: str, counts: list[int], first_min: int = OPENS_MIN, step: int = 60) -> CountedDay:
    return CountedDay(site=site, date=DAY, first_min=first_min, step_min=step, counts=tuple(counts))


def test_a_quiet_site_takes_the_countys_shape_and_a_busy_one_keeps_its_own() -> None:
    """Weights n / (n + alike): the quiet site's odd hour is drawn nearly all the way back."""
    usual = [50, 40, 30, 30, 30, 30, 30, 25, 25, 30, 40, 35, 15]
    odd = [2, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 6, 0]
    fit = fit_shape((*(_day(f"S{k}", usual) for k in range(6)), _day("odd", odd)))
    assert fit is not None
    sites = {one.site: one for one in fit.sites}
    assert sites["odd"].own_weight_ppm < 100_000
    own = 1_000_000 * 6 // 8
    county = fit.shares_ppm[11].value
    assert abs(sites["odd"].shares_ppm[11].value - county) < (own - county) // 5


def test_hours_that_nobody_counted_say_nothing() -> None:
    """A day without its noon gives the same shares as the whole days; as zeros it would not."""
    whole = [50, 40, 30, 30, 30, 30, 30, 25, 25, 30, 40, 35, 15]
    hole = [*whole[:4], UNKNOWN, UNKNOWN, *whole[6:]]
    plain = fit_shape(tuple(_day(f"S{k}", whole) for k in range(4)))
    holed = fit_shape((*(_day(f"S{k}", whole) for k in range(3)), _day("S3", hole)))
    assert plain is not None
    assert holed is not None
    for one, other in zip(plain.counted_ppm, holed.counted_ppm, strict=True):
        assert one.value == pytest.approx(other.value, abs=30)


def test_hours_of_the_table_sum_to_100_and_a_thin_count_leans_on_the_present_table() -> None:
    """Ten voters move the county's table little, ten thousand take its place."""
    present = {7 + k: 1000 * p for k, p in enumerate(HOURS)}
    late = [0] * 11 + [1, 9]
    thin = fit_shape((_day("S1", late),), present)
    thick = fit_shape(tuple(_day(f"S{k}", [10 * c for c in late]) for k in range(100)), present)
    assert thin is not None
    assert thick is not None
    assert sum(thin.hours_ppm) == sum(thick.hours_ppm) == 1_000_000
    assert abs(thin.hours_ppm[0] - present[7]) < 15_000
    assert thick.hours_ppm[12] > 800_000
    assert thin.thin


def test_quarter_hours_and_hours_meet_in_hours() -> None:
    """A day counted by quarter hours from 06:30 and one by hours from 07:00 share one curve by hour."""
    quarters = _day("S1", [5] * 2 + [10] * 48, first_min=390, step=15)
    fit = fit_shape((quarters, _day("S2", [40] * 12)))
    assert fit is not None
    assert (fit.step_min, fit.first_hour) == (60, 6)
    assert fit.counted_ppm[0].value == pytest.approx(1_000_000 * 10 / 490, rel=0.02)


def test_busy_time_over_check_ins_is_the_mean_with_the_renewal_interval() -> None:
    """2 stations for 60 min, 80 check-ins: 90 s; cv 0.6: 1.96 * 0.6 / sqrt(80) = 13.1 % (arithmetic here)."""
    one = BusyStretch(site="S1", date=DAY, from_min=420, lasts_min=60, stations=2, check_ins=80)
    fit = fit_flow((one,), 600_000)
    assert fit is not None
    assert fit.mean_ms.value == 90_000
    assert fit.mean_ms.high == pytest.approx(90_000 * np.exp(0.1315), rel=1e-3)
    assert fit.thin
    assert fit.wanted == 139  # (1.96 * 0.6 / 0.1)**2 = 138.3
    assert fit_flow((one,) * 0) is None


def test_stretches_that_differ_more_than_chance_widen_the_interval() -> None:
    """Half of the sites check in twice as fast: the ratio estimator's interval is the wider one."""

    def stretch(site: int, count: int) -> BusyStretch:
        return BusyStretch(site=f"S{site}", date=DAY, from_min=420, lasts_min=60, stations=2, check_ins=count)

    alike = fit_flow(tuple(stretch(k, 90) for k in range(8)), 600_000)
    apart = fit_flow(tuple(stretch(k, 60 if k % 2 else 120) for k in range(8)), 600_000)
    assert alike is not None
    assert apart is not None
    assert apart.mean_ms.value == alike.mean_ms.value
    assert apart.mean_ms.high - apart.mean_ms.low > 3 * (alike.mean_ms.high - alike.mean_ms.low)


def test_the_share_in_line_at_opening_of_one_day_has_the_binomial_interval() -> None:
    """Wilson's interval, as scipy gives it."""
    fit = fit_opening((OpeningCount(site="S1", date=DAY, in_line=20, voters=800),))
    assert fit is not None
    wilson = stats.binomtest(20, 800).proportion_ci(method="wilson")
    assert fit.share_ppm.low == pytest.approx(1e6 * wilson.low, rel=1e-3)
    assert fit.share_ppm.high == pytest.approx(1e6 * wilson.high, rel=1e-3)
    assert fit.thin


def test_the_order_of_days_changes_nothing() -> None:
    """The same days in another order give the same fit."""
    days = tuple(_day(f"S{k}", [3 + k] * 13) for k in range(5))
    assert fit_shape(days) == fit_shape(days[::-1])


def test_a_published_curve_of_votes_is_recovered() -> None:
    """Divisions drawn by the curve of a real primary give that curve back.

    Philadelphia, 21 May 2019: median share voted by clock hour, from reports of voters; cite: J. Tannen,
    Sixty-Six Wards turnout tracker, 2019. The file's quartiles at noon, 0.17 and 0.40, are those of a
    concentration near 8.
    """
    folder = os.environ.get("POLLSTEAD_DATA")
    file = Path(folder or ".") / "arrivals" / "philadelphia_2019_primary_cumulative.csv"
    if not folder or not file.is_file():
        pytest.skip("absent: POLLSTEAD_DATA names no folder of open data")
    with file.open(encoding="utf-8") as opened:
        voted = [float(row["median_share"]) for row in csv.DictReader(opened)]
    share = np.diff([0.0, *voted[1:-1], 1.0])  # from 07:00: the share by 08:00, … the rest by 20:00
    random = np.random.default_rng(5)
    counts = [random.multinomial(150, random.dirichlet(8 * share)).tolist() for _ in range(60)]
    fit = fit_shape(tuple(_day(f"D{k}", row, first_min=420) for k, row in enumerate(counts)))
    assert fit is not None
    held = sum(b.low <= 1e6 * p <= b.high for b, p in zip(fit.counted_ppm, share, strict=True))
    assert held >= len(share) - 2
    assert 5 <= fit.alike <= 13
    # The trade's assumption of a morning and an evening peak holds on that day.
    assert share[:3].sum() > share[4:7].sum()
    assert share[8:12].sum() > share[4:8].sum()


def test_a_date_of_its_own_for_each_day_is_kept() -> None:
    """Two days of one site are two site-days."""
    days = tuple(
        CountedDay(site="S1", date=DAY + dt.timedelta(days=k), first_min=420, step_min=60, counts=(9,) * 13)
        for k in range(2)
    )
    fit = fit_shape(days)
    assert fit is not None
    assert (fit.days, fit.sites[0].days, len(fit.sites)) == (2, 2, 1)
