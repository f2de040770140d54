"""Figures published about lines at polling places, where they give enough to be worked out.

* Edelstein and Edelstein, "Queuing and Elections: Long Lines, DREs and Paper Ballots", EVT/WOTE 2010 (as told
  at thevotingnews.com): a machine should have at most half as many voters as it could serve without a pause;
  13 hours and 5 minutes: 78. Edelstein 2007 (votetrustusa.org): planning for 15 hours without a pause at
  3.25 minutes, 277 voters a machine, makes long lines; the rule gives 138.
* A simulation of the Philippine election of 2010 (propinoy.net): 1,000 voters in 11 hours need a scanner that
  takes 95 an hour; 1000/11 is 90.9.
* Bipartisan Policy Center, votinglines: count who waits at the top of every hour; wait = line / arrival rate.
* Presidential Commission on Election Administration, report of January 2014, p. 13: half an hour. Allen,
  Yang, Huang and Hernandez 2020, MethodsX, 100872: expected waits below 30 minutes for all, chance over 95 %.
"""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from pollstead.election.rules import REGISTRY
from pollstead.election.values import frozen_array
from pollstead.plan.demand.shape import assumed_arrivals, slot_weights
from pollstead.plan.lines.engine import LAST_OUT
from pollstead.plan.lines.formulas import settled_line
from pollstead.plan.lines.run import size_site
from pollstead.plan.lines.trials import FRESH_FROM, Trials
from pollstead.plan.terms.lines import (
    HOUR_MS,
    ArrivalDay,
    LawKind,
    ServiceLaw,
    SiteLines,
    SitePath,
    StageWork,
    WaitLimit,
)
from pollstead.plan.terms.part import Effort

pytestmark = pytest.mark.full

HALF_HOUR = WaitLimit(limit_ms=1_800_000, risk_ppm=50_000)
DAYS = 200


def a_day(hours: int, totals: list[int], weights: tuple[int, ...] | None = None) -> ArrivalDay:
    """Doors open at 07:00; two in a hundred stand there, the others come by the trade's assumed curve."""
    shape = slot_weights(assumed_arrivals(), 420, 420 + 60 * hours) if weights is None else weights
    return ArrivalDay(
        date=dt.date(2028, 11, 7),
        open_ms=7 * HOUR_MS,
        close_ms=(7 + hours) * HOUR_MS,
        slot_weights=frozen_array(shape, "int64"),
        totals=frozen_array(totals, "int64"),
        opening_line_share_ppm=20_000 if weights is None else 0,
    )


def machine(minutes: float, cv: float = 0.5) -> SitePath:
    """One step: a machine that takes so long, lognormal."""
    return SitePath(
        check_in=StageWork(law=ServiceLaw(mean_ms=round(minutes * 60_000), cv_ppm=round(cv * 1e6)))
    )


def over(hours: int, minutes: float, machines: int, per_machine: float) -> tuple[float, float]:
    """Share of days whose longest wait passes half an hour, and the median longest wait in minutes."""
    totals = np.random.default_rng(5).poisson(per_machine * machines, DAYS).tolist()
    trials = Trials(machine(minutes), a_day(hours, totals), HALF_HOUR, 11)
    found = trials.figures([(machines, 0, 0, 0)], FRESH_FROM, DAYS)[0]
    return found.risk.over / DAYS, found.p50_longest_ms / 60_000


@pytest.mark.parametrize(
    ("hours", "minutes", "without_pause", "by_rule"), [(13, 5.0, 156, 78), (15, 3.25, 277, 138)]
)
def test_half_of_what_machines_could_serve_keeps_lines_short_and_all_of_it_does_not(
    hours: int, minutes: float, without_pause: int, by_rule: int
) -> None:
    """Ten machines: by the rule the limit holds, planned without a pause no day keeps it."""
    most = hours * 60 / minutes
    assert (round(most), math.floor(most / 2)) == (without_pause, by_rule)
    line = settled_line(10 * by_rule / (hours * 60), 1 / minutes, 10)
    assert line.utilisation == pytest.approx(0.5, abs=0.002)
    kept, longest = over(hours, minutes, 10, by_rule)
    assert kept <= 0.05 and longest < 15
    passed, long = over(hours, minutes, 10, without_pause)
    assert passed == 1.0 and long > 60


def test_our_numbers_lie_between_the_rule_and_planning_without_a_pause() -> None:
    """780 voters, 13 hours, 5 minutes: ten machines by the rule, five without a pause; ours: 6 to 10."""
    totals = np.random.default_rng(6).poisson(780, 400).tolist()
    site = SiteLines(site="site/R", seed_key="R", path=machine(5), days=(a_day(13, totals),), limit=HALF_HOUR)
    answer, _ = size_site(site, 3, Effort.QUICK)
    assert answer.meets_limit
    assert 5 < answer.counts.check_in <= 10


def test_a_scanner_must_take_more_than_the_voters_an_hour() -> None:
    """1,000 voters in 11 hours: at 95 an hour the last is out near closing, at 85 not before 11.76 hours."""
    out = {}
    for per_hour in (95, 85):
        law = ServiceLaw(kind=LawKind.DETERMINISTIC, mean_ms=round(HOUR_MS / per_hour))
        day = a_day(11, [1000], (1,) * 44)
        trials = Trials(SitePath(check_in=StageWork(law=law)), day, HALF_HOUR, 12)
        rows = trials.rows([(1, 0, 0, 0)], FRESH_FROM, DAYS)[0]
        out[per_hour] = np.median(rows[:, LAST_OUT]) / HOUR_MS - 7
    assert round(1000 / 11, 1) == 90.9
    assert out[95] < 11.4
    assert 1000 / 85 <= out[85] < 11.9


def test_the_hourly_count_over_the_arrival_rate_is_the_mean_wait() -> None:
    """People in line at the top of every hour over arrivals an hour: our days' mean wait within 5 %."""
    totals = np.random.default_rng(8).poisson(700, 400).tolist()
    day = a_day(13, totals)
    trials = Trials(machine(5), day, HALF_HOUR, 13)
    told = trials.by_hour((5, 0, 0, 0), FRESH_FROM, 400)
    counted = [line.in_line_milli[0] / 1000 for line in told.lines if line.at_ms % HOUR_MS == 0]
    came = sum(hour.voters for hour in told.hours) / told.days
    # One count stands for an hour: people in line added up over the hours, for each who came.
    wait_h = sum(counted) / came
    mean_h = trials.figures([(5, 0, 0, 0)], FRESH_FROM, 400)[0].mean_wait_ms / HOUR_MS
    assert mean_h > 0.05
    assert wait_h == pytest.approx(mean_h, rel=0.05)


def test_the_rules_stand_at_the_published_standard() -> None:
    """30 minutes, and 5 days of 100 on which somebody may wait longer."""
    rules = {rule.id: rule.default for rule in REGISTRY}
    assert rules["wait-limit"] == 30
    assert rules["wait-risk"] == 50_000
