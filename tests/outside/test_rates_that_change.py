"""Lines whose rate changes through the day: the forward equations, two approximations, people at tables.

Set-up of the line: Green and Kolesar 1991, "The pointwise stationary approximation for queues with
nonstationary arrivals", Management Science 37(1), 84-97 (from memory): M(t)/M/8, a voter takes 1 hour,
4 (1 + 0.5 sin(2 pi t / 24)) come an hour; and ten times as fast. The figures below were computed from
Kolmogorov's forward equations by a program of its own and are recomputed here with scipy; no book is said to
print them.
People at tables: Eick, Massey and Whitt 1993, "Mt/G/infinity queues with sinusoidal arrival rates",
Management Science 39(2), 241-252 (formula from memory).
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from pollstead.election.values import frozen_array
from pollstead.plan.lines.formulas import settled_line
from pollstead.plan.lines.trials import Trials
from pollstead.plan.terms.lines import (
    HOUR_MS,
    ArrivalDay,
    LawKind,
    ServiceLaw,
    SitePath,
    StageWork,
    WaitLimit,
)

pytestmark = pytest.mark.full

STATIONS, CYCLE_H = 8, 24
MOST_INSIDE = 60
"""Where the equations end: with 6 erlangs for 8 stations more people come up about once in a million."""
MOST_Z = 3.5
Rate = Callable[[Any], Any]


def by_sine(mean: float, part: float, cycle_h: float) -> Rate:
    """Voters an hour at hour t."""
    return lambda t: mean * (1 + part * np.sin(2 * math.pi * np.asarray(t) / cycle_h))


def by_quarters(mean: float, part: float, cycle_h: float, hours: int) -> tuple[Rate, list[int]]:
    """The same in quarter hours, as the model takes it, and the quarter hours' weights."""
    at = np.arange(hours * 4 + 1) / 4
    come = mean * (at - part * cycle_h / (2 * math.pi) * np.cos(2 * math.pi * at / cycle_h))
    rates = np.diff(come) * 4
    return lambda t: rates[np.minimum((np.asarray(t) * 4).astype(int), len(rates) - 1)], [
        round(x) for x in rates * 1e6
    ]


def a_day(weights: list[int], hours: int, mean_voters: float, days: int, seed: int) -> ArrivalDay:
    """Quarter hours of these weights; the number of voters of a day is Poisson."""
    return ArrivalDay(
        date=dt.date(2028, 11, 7),
        open_ms=0,
        close_ms=hours * HOUR_MS,
        slot_weights=frozen_array(weights, "int64"),
        totals=frozen_array(np.random.default_rng(seed).poisson(mean_voters, days), "int64"),
    )


@dataclass(frozen=True)
class Cycle:
    """The second day of the forward equations from an empty start."""

    delayed: float
    in_line: float
    most_in_line: float
    at_h: float
    line_at: Callable[[float], float]


def forward(rate: Rate, mean_rate: float, service_h: float) -> Cycle:
    """Kolmogorov's forward equations of M(t)/M/8 over two days, integrals of the second."""
    people = np.arange(MOST_INSIDE + 1)
    leaving = np.minimum(people, STATIONS) / service_h
    line = np.maximum(people - STATIONS, 0)

    def change(t: float, y: np.ndarray) -> np.ndarray:
        p, now = y[:-2], float(rate(t))
        up, down = now * p, leaving * p
        up[-1] = 0.0
        flow = -up - down
        flow[1:] += up[:-1]
        flow[:-1] += down[1:]
        return np.concatenate([flow, [now * p[STATIONS:].sum(), p @ line]])

    start = np.zeros(MOST_INSIDE + 3)
    start[0] = 1.0
    at = np.linspace(CYCLE_H, 2 * CYCLE_H, 2401)
    told = solve_ivp(change, (0, 2 * CYCLE_H), start, "LSODA", at, rtol=1e-8, atol=1e-12)
    assert told.success
    lines = line @ told.y[:-2]
    sums = told.y[-2:, -1] - told.y[-2:, 0]
    top = int(lines.argmax())
    return Cycle(
        delayed=float(sums[0]) / (mean_rate * CYCLE_H),
        in_line=float(sums[1]) / CYCLE_H,
        most_in_line=float(lines[top]),
        at_h=float(at[top]) - CYCLE_H,
        line_at=lambda hour: float(np.interp(hour, at - CYCLE_H, lines)),
    )


def pointwise(mean: float, part: float, service_h: float) -> tuple[float, float]:
    """Delayed voters and people in line if each moment's line had settled (the pointwise approximation)."""
    rates = by_sine(mean, part, CYCLE_H)(np.arange(0, CYCLE_H, 0.05)).tolist()
    settled = [settled_line(rate, 1 / service_h, STATIONS) for rate in rates]
    delayed = math.fsum(r * one.waits for r, one in zip(rates, settled, strict=True)) / math.fsum(rates)
    return delayed, math.fsum(one.in_line for one in settled) / len(settled)


@pytest.mark.parametrize(
    ("faster", "delayed", "in_line", "peak", "peak_h"),
    [(1, 0.14985, 0.22686, 0.75272, 7.96), (10, 0.16209, 0.27132, 1.05456, 6.38)],
)
def test_a_settled_line_promises_too_little_and_each_moments_settled_line_too_much(
    faster: int, delayed: float, in_line: float, peak: float, peak_h: float
) -> None:
    """Mean rate .05904 < exact < pointwise .16228; the line is longest after most have come (6 h)."""
    exact = forward(by_sine(4 * faster, 0.5, CYCLE_H), 4 * faster, 1 / faster)
    assert exact.delayed == pytest.approx(delayed, abs=6e-6)
    assert exact.in_line == pytest.approx(in_line, abs=6e-6)
    assert exact.most_in_line == pytest.approx(peak, abs=6e-6)
    assert exact.at_h == pytest.approx(peak_h, abs=0.011)
    settled = settled_line(4 * faster, faster, STATIONS)
    by_moment = pointwise(4 * faster, 0.5, 1 / faster)
    assert (settled.waits, settled.in_line) == pytest.approx((0.05904, 0.05904), abs=6e-6)
    assert by_moment == pytest.approx((0.16228, 0.27238), abs=6e-6)
    assert settled.waits < exact.delayed < by_moment[0]
    assert settled.in_line < exact.in_line < by_moment[1]


def test_the_simulated_line_of_a_changing_rate_is_that_of_the_forward_equations() -> None:
    """Voters who wait, waits and people in line each second hour, within 3.5 standard errors.

    Rates by quarter hour differ from the sine by less than 2 in 1,000 in these figures. The test tells the
    line of the mean rate and the pointwise one from the right one.
    """
    days, mean = 1200, 4
    rate, weights = by_quarters(mean, 0.5, CYCLE_H, 2 * CYCLE_H)
    exact, smooth = forward(rate, mean, 1.0), forward(by_sine(mean, 0.5, CYCLE_H), mean, 1.0)
    assert exact.delayed == pytest.approx(smooth.delayed, rel=2e-3)
    path = SitePath(
        check_in=StageWork(law=ServiceLaw(kind=LawKind.EXPONENTIAL, mean_ms=HOUR_MS)),
    )
    day = a_day(weights, 2 * CYCLE_H, mean * 2 * CYCLE_H, days, 24)
    trials = Trials(path, day, WaitLimit(limit_ms=0, risk_ppm=0), 24)
    hours = np.arange(2, 17, 2)  # later hardly anybody stands in line
    moments = (CYCLE_H + hours) * HOUR_MS
    came = np.zeros(days)
    late, waited = np.zeros(days), np.zeros(days)
    lines = np.zeros((days, len(hours)))
    for n in range(days):
        arrives, wait = trials.one_day((STATIONS, 0, 0, 0), n)[:2]
        second = arrives >= CYCLE_H * HOUR_MS
        came[n], late[n] = second.sum(), (wait[second] > 0).sum()
        waited[n] = wait[second].sum() / HOUR_MS
        lines[n] = ((arrives[:, None] <= moments) & (moments < (arrives + wait)[:, None])).sum(axis=0)
    for found, theory in ((late, exact.delayed), (waited, exact.in_line / mean)):
        each = found.sum() / came.sum()
        error = math.sqrt(((found - each * came) ** 2).sum() / (days - 1) / days) / came.mean()
        assert error < 0.06 * theory
        assert abs(each - theory) < MOST_Z * error, f"{each} against {theory}, error {error}"
    assert abs(late.sum() / came.sum() - settled_line(4, 1, STATIONS).waits) > 0.05
    assert late.sum() / came.sum() < pointwise(4, 0.5, 1.0)[0]
    theory_lines = np.array([exact.line_at(float(h)) for h in hours])
    errors = lines.std(axis=0, ddof=1) / math.sqrt(days)
    z = (lines.mean(axis=0) - theory_lines) / errors
    assert (np.abs(z) < MOST_Z).all(), z
    # The same hour's settled line is not it: at 4 h it is too long, at 12 h too short.
    for hour, sign in ((4, 1), (12, -1)):
        place = hours.tolist().index(hour)
        settled = settled_line(float(rate(hour)), 1, STATIONS).in_line
        assert sign * (settled - lines[:, place].mean()) > 5 * errors[place]


A, B, PER_H, CYCLE = 60.0, 40.0, 6.0, 13.0
G = 2 * math.pi / CYCLE


def at_tables(t: float) -> float:
    """Mean number of people at tables without a line: a/m + b (m sin gt - g cos gt) / (m^2 + g^2)."""
    return A / PER_H + B * (PER_H * math.sin(G * t) - G * math.cos(G * t)) / (PER_H**2 + G**2)


def test_people_at_tables_follow_the_rate_with_a_lag() -> None:
    """60 + 40 sin an hour, 10 min each: 9.46644 at first, 16.62369 at 3.25 h, at most 16.64514 at 3.416 h."""
    assert at_tables(0) == pytest.approx(9.46644, abs=6e-6)
    assert at_tables(3.25) == pytest.approx(16.62369, abs=6e-6)
    at = np.linspace(0, CYCLE, 13001)
    most = [at_tables(t) for t in at.tolist()]
    assert max(most) == pytest.approx(16.64514, abs=6e-6)
    assert at[int(np.argmax(most))] == pytest.approx(3.416, abs=6e-4)
    # The formula solves the equation of people coming and leaving.
    told = solve_ivp(
        lambda t, y: by_sine(A, B / A, CYCLE)(t) - PER_H * y,
        (0, CYCLE),
        [at_tables(0)],
        rtol=1e-9,
        t_eval=[3.416],
    )
    assert told.y[0, 0] == pytest.approx(16.64514, abs=6e-6)


def test_a_step_without_a_line_holds_as_many_people_as_the_formula_says() -> None:
    """Marking at any table: people at tables each half hour, mean and variance (Poisson), of 600 days."""
    days = 600
    rate, weights = by_quarters(A, B / A, CYCLE, 26)
    path = SitePath(
        check_in=StageWork(
            law=ServiceLaw(kind=LawKind.EXPONENTIAL, mean_ms=round(HOUR_MS / PER_H)), limited=False
        )
    )
    trials = Trials(path, a_day(weights, 26, A * 26, days, 23), WaitLimit(limit_ms=0, risk_ppm=0), 23)
    hours = np.arange(CYCLE + 0.416, 26, 0.5)
    inside = np.zeros((days, len(hours)))
    for n in range(days):
        trace = trials.one_day((0, 0, 0, 0), n)
        come, takes = trace[0][:, None] / HOUR_MS, trace[5][:, None] / HOUR_MS
        inside[n] = ((come <= hours) & (hours < come + takes)).sum(axis=0)
    quarters = np.arange(0, 26, 0.25)
    rates = rate(quarters)
    begun = np.minimum(quarters[:, None], hours)
    ended = np.minimum(quarters[:, None] + 0.25, hours)
    steps = (
        rates[:, None] / PER_H * (np.exp(PER_H * (ended - hours)) - np.exp(PER_H * (begun - hours)))
    ).sum(0)
    smooth = np.array([at_tables(t) for t in hours.tolist()])
    assert np.abs(steps / smooth - 1).max() < 0.03
    z = (inside.mean(axis=0) - steps) / np.sqrt(steps / days)
    assert np.abs(z).max() < MOST_Z, z
    top = hours.tolist().index(CYCLE + 3.416)
    assert inside[:, top].mean() == pytest.approx(16.64514, abs=MOST_Z * math.sqrt(16.64514 / days))
    # Poisson: variance over mean is 1, with a standard error of sqrt(2 / days) at each moment.
    spread = inside.var(axis=0, ddof=1) / steps
    assert np.abs(spread - 1).max() < 4 * math.sqrt(2 / days)
