"""The simulation against formulas.

Formulas: Erlang C, Pollaczek-Khinchine, Jackson's theorem for lines in a row (formulas.py, held to the books
in tests/published). Seeds are fixed. A constant rate is a day of 48 hours. Voters of its first part are left
out (the line starts empty), and so are those of its last 6 hours: behind a step where voters overtake each
other, the last ones meet a line that already thins out. The total of each day is drawn from the Poisson law,
without which arrivals would be more regular than a Poisson process.
"""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from pollstead.election.values import frozen_array
from pollstead.plan.lines.formulas import one_station_wait, settled_line
from pollstead.plan.lines.trials import Counts, Trials
from pollstead.plan.terms.lines import (
    ArrivalDay,
    LawKind,
    ServiceLaw,
    SitePath,
    StageWork,
    WaitLimit,
)

pytestmark = pytest.mark.full

HOUR_MS = 3_600_000
LONG_MS = 48 * HOUR_MS
COOL_MS = 42 * HOUR_MS
LIMIT = WaitLimit(limit_ms=1_800_000, risk_ppm=50_000)
MOST_Z = 3.5
"""Some 20 figures are compared: one beyond 3.5 standard errors would be chance once in 100."""


def exponential(mean_ms: int, limited: bool = True) -> StageWork:
    """A step with exponential service."""
    return StageWork(law=ServiceLaw(kind=LawKind.EXPONENTIAL, mean_ms=mean_ms), limited=limited)


def constant_rate(per_ms: float, days: int, seed: int) -> ArrivalDay:
    """Arrivals at one rate for 48 hours; totals from the Poisson law."""
    totals = np.random.default_rng(seed).poisson(per_ms * LONG_MS, days)
    return ArrivalDay(
        date=dt.date(2026, 11, 3),
        open_ms=0,
        close_ms=LONG_MS,
        slot_weights=frozen_array([1] * 192, "int64"),
        totals=frozen_array(totals, "int64"),
    )


def settled_waits(
    path: SitePath, counts: Counts, per_ms: float, days: int, warm_ms: int, seed: int
) -> list[tuple[float, float]]:
    """Mean wait in ms of each stage between warm-up and end, with its standard error over the days."""
    trials = Trials(path, constant_rate(per_ms, days, seed), LIMIT, seed)
    sums, sizes = [], []
    for day in range(days):
        told = trials.one_day(counts, day)
        kept = (told[0] >= warm_ms) & (told[0] < COOL_MS)
        sums.append(told[1:4, kept].sum(axis=1))
        sizes.append(int(kept.sum()))
    waits, n = np.array(sums, float), np.array(sizes, float)
    means = waits.sum(axis=0) / n.sum()
    # Ratio estimator over independent days (Cochran 1977, section 2.11; from memory).
    errors = np.sqrt(((waits - means * n[:, None]) ** 2).sum(axis=0) / (days - 1) / days) / n.mean()
    return [(float(m), float(e)) for m, e in zip(means, errors, strict=True)]


def assert_covers(found: tuple[float, float], theory: float, most_relative_error: float) -> None:
    """The simulated mean is within 3.5 standard errors of theory, and the error is small enough to tell."""
    mean, error = found
    assert error <= most_relative_error * theory
    assert abs(mean - theory) <= MOST_Z * error, f"{mean:.1f} against {theory:.1f}, error {error:.1f}"


@pytest.mark.parametrize(
    ("stations", "busy", "seed"), [(1, 0.5, 31), (1, 0.8, 32), (3, 2 / 3, 33), (8, 0.8, 34), (30, 0.9, 35)]
)
def test_exponential_service_waits_as_erlang_c_says(stations: int, busy: float, seed: int) -> None:
    """M/M/c: mean wait of the simulated line against Erlang C."""
    mean_ms = 60_000
    per_ms = stations * busy / mean_ms
    days = 400 if stations < 10 else 80
    found = settled_waits(
        SitePath(check_in=exponential(mean_ms)), (stations, 0, 0, 0), per_ms, days, 6 * HOUR_MS, seed
    )
    assert_covers(found[0], settled_line(per_ms, 1 / mean_ms, stations).wait, 0.02)


@pytest.mark.parametrize(("cv_ppm", "busy"), [(0, 0.8), (600_000, 0.5), (600_000, 0.8), (1_500_000, 0.8)])
def test_one_station_waits_as_pollaczek_and_khinchine_say(cv_ppm: int, busy: float) -> None:
    """M/G/1 with lognormal service: mean wait against the formula."""
    mean_ms = 30_000
    law = ServiceLaw(kind=LawKind.LOGNORMAL, mean_ms=mean_ms, cv_ppm=cv_ppm)
    found = settled_waits(
        SitePath(check_in=StageWork(law=law)), (1, 0, 0, 0), busy / mean_ms, 1000, 6 * HOUR_MS, 12
    )
    assert_covers(found[0], one_station_wait(busy / mean_ms, mean_ms, (cv_ppm / 1e6) ** 2), 0.02)


@pytest.mark.parametrize(
    ("counts", "per_hour"), [((3, 0, 0, 1), 100), ((3, 10, 0, 1), 100), ((2, 8, 0, 2), 66)]
)
def test_stages_in_a_row_wait_as_jackson_says(counts: Counts, per_hour: int) -> None:
    """Exponential service at each stage: each line by itself waits as if the voters came at random."""
    means = (85_000, 300_000, 20_000)
    path = SitePath(
        check_in=exponential(means[0]),
        mark=exponential(means[1], limited=counts[1] > 0),
        cast=exponential(means[2]),
    )
    per_ms = per_hour / HOUR_MS
    found = settled_waits(path, counts, per_ms, 600, 12 * HOUR_MS, 13)
    for estimate, mean_ms, stations in zip(found, means, (counts[0], counts[1], counts[3]), strict=True):
        if stations == 0:
            assert estimate == (0.0, 0.0)
        else:
            assert_covers(estimate, settled_line(per_ms, 1 / mean_ms, stations).wait, 0.025)


def test_browsing_then_checking_out_as_in_the_book() -> None:
    """Gross and Harris example 4.1 (outputs recomputed): 40/h, 45 min, 4 min, 4 stations: 1.135 min."""
    path = SitePath(check_in=exponential(2_700_000, limited=False), mark=exponential(240_000))
    found = settled_waits(path, (0, 4, 0, 0), 40 / HOUR_MS, 400, 8 * HOUR_MS, 14)
    assert_covers(found[1], 1.135 * 60_000, 0.02)


def settled_nowhere(
    per_s: list[float], service_s: float, stations: int, limit_s: float
) -> tuple[float, float]:
    """Mean wait and share of voters over the limit when the rate changes each quarter hour.

    From an empty start. Kolmogorov's forward equations of M(t)/M/c (as in Gross and Harris, chapter 2; from
    memory), people in the system up to 160, Runge-Kutta steps of 5 s. A voter who finds k >= c people waits
    for k - c + 1 departures, which come at rate c / service.
    """
    most, step = 160, 5.0
    people = np.arange(most + 1)
    leaving = np.minimum(people, stations) / service_s
    ahead = np.maximum(people - stations + 1, 0)
    mean_wait = ahead * service_s / stations
    # P(wait > limit | k): fewer than k - c + 1 departures within the limit, a Poisson number.
    expected = stations * limit_s / service_s
    terms = np.exp(-expected + people * math.log(expected) - np.array([math.lgamma(k + 1) for k in people]))
    below = np.concatenate([[0.0], np.cumsum(terms)])
    over = below[ahead]

    def change(p: np.ndarray, rate: float) -> np.ndarray:
        flow_up, flow_down = rate * p, leaving * p
        flow_up[-1] = 0.0
        result = -flow_up - flow_down
        result[1:] += flow_up[:-1]
        result[:-1] += flow_down[1:]
        return result

    p = np.zeros(most + 1)
    p[0] = 1.0
    arrived = waited = late = 0.0
    for rate in per_s:
        for _ in range(int(900 / step)):
            k1 = change(p, rate)
            k2 = change(p + step / 2 * k1, rate)
            k3 = change(p + step / 2 * k2, rate)
            k4 = change(p + step * k3, rate)
            after = p + step / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
            arrived += rate * step
            waited += rate * step * float((p + after) @ mean_wait) / 2
            late += rate * step * float((p + after) @ over) / 2
            p = after
    assert p[-1] < 1e-9
    return waited / arrived, late / arrived


def test_a_day_that_never_settles_waits_as_the_forward_equations_say() -> None:
    """Rates that at times pass what three stations can do: mean wait and share over 10 minutes."""
    weights = [6, 9, 8, 5, 3, 3, 4, 5, 6, 5, 4, 3, 3, 4, 6, 8, 10, 9, 6, 3]
    mean_total, service_ms, days = 480, 85_000, 6000
    totals = np.random.default_rng(41).poisson(mean_total, days)
    day = ArrivalDay(
        date=dt.date(2026, 11, 3),
        open_ms=0,
        close_ms=5 * HOUR_MS,
        slot_weights=frozen_array(weights, "int64"),
        totals=frozen_array(totals, "int64"),
    )
    limit = WaitLimit(limit_ms=600_000, risk_ppm=50_000)
    path = SitePath(check_in=exponential(service_ms))
    rows = Trials(path, day, limit, 41).rows([(3, 0, 0, 0)], 0, days)[0].astype(float)
    per_s = [mean_total * w / sum(weights) / 900 for w in weights]
    assert max(per_s) * service_ms / 1000 > 3
    wait_s, over = settled_nowhere(per_s, service_ms / 1000, 3, 600)
    for column, theory, unit in ((3, wait_s, 1000), (1, over, 1)):
        sums = rows[:, column] / unit
        mean = sums.sum() / totals.sum()
        error = math.sqrt(((sums - mean * totals) ** 2).sum() / (days - 1) / days) / totals.mean()
        assert_covers((mean, error), theory, 0.02)
