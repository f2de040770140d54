"""Facts of any line, as properties of the simulation: conservation, Little's law, who harms whom."""

from __future__ import annotations

import datetime as dt

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.election.values import frozen_array
from pollstead.plan.lines import engine
from pollstead.plan.lines.trials import Trials, stride
from pollstead.plan.terms.lines import ArrivalDay, ServiceLaw, SitePath, StageWork, WaitLimit

HOUR_MS = 3_600_000
LIMIT = WaitLimit(limit_ms=600_000, risk_ppm=50_000)


def work(mean_ms: int) -> StageWork:
    """A step with lognormal service and a line."""
    return StageWork(law=ServiceLaw(mean_ms=mean_ms, cv_ppm=700_000))


def trials(voters: int, key: int, path: SitePath | None = None) -> Trials:
    """Three hours with a peak in the second."""
    day = ArrivalDay(
        date=dt.date(2028, 11, 7),
        open_ms=7 * HOUR_MS,
        close_ms=10 * HOUR_MS,
        slot_weights=frozen_array([1] * 4 + [3] * 4 + [1] * 4, "int64"),
        totals=frozen_array([voters], "int64"),
        opening_line_share_ppm=50_000,
    )
    full = SitePath(
        check_in=work(60_000),
        mark=work(240_000),
        accessible=work(400_000),
        accessible_share_ppm=50_000,
        cast=work(20_000),
    )
    return Trials(path or full, day, LIMIT, key)


counts = st.tuples(st.integers(1, 5), st.integers(1, 15), st.integers(1, 3), st.integers(1, 3))
keys = st.integers(0, 2**63 - 1)


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 250), keys, counts)
def test_everybody_arrives_between_opening_and_closing_and_is_served(
    voters: int, key: int, numbers: tuple[int, int, int, int]
) -> None:
    """Each voter arrives in order and within the hours, waits 0 ms or more, and the last leaves after all."""
    told = trials(voters, key).one_day(numbers, 0)
    row = trials(voters, key).rows([numbers], 0, 1)[0, 0]
    assert told.shape[1] == voters
    assert (np.diff(told[0]) >= 0).all()
    assert told[0, 0] >= 7 * HOUR_MS
    assert told[0, -1] < 10 * HOUR_MS
    assert (told[1:4] >= 0).all()
    marking = np.where(told[4] < 0, -1 - told[4], told[4])
    leaves_marking = told[0] + told[1] + told[5] + told[2] + marking
    assert row[engine.LAST_OUT] > (leaves_marking + told[3]).max()


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 200), keys, st.integers(1, 5))
def test_people_counted_in_line_add_up_to_the_waits(voters: int, key: int, stations: int) -> None:
    """Little's law without its averages: people in line at check-in, counted each second, times a second."""
    told = trials(voters, key).one_day((stations, 0, 0, 0), 0)
    joins, starts = told[0] // 1000, (told[0] + told[1]) // 1000
    clock = np.arange(joins.min(), starts.max() + 1)
    # Joins sit in order; starts do too, because check-in is first come, first served.
    assert (np.diff(told[0] + told[1]) >= 0).all()
    in_line = np.searchsorted(joins, clock, side="right") - np.searchsorted(starts, clock, side="right")
    assert int(in_line.sum()) == int((starts - joins).sum())
    assert (in_line >= 0).all()


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 250), keys, st.integers(1, 6))
def test_one_more_check_in_station_lengthens_nobodys_wait_at_check_in(
    voters: int, key: int, stations: int
) -> None:
    """At the first stage one station more is never worse for anybody; the search's corner rests on it."""
    fewer = trials(voters, key).one_day((stations, 0, 0, 0), 0)
    more = trials(voters, key).one_day((stations + 1, 0, 0, 0), 0)
    assert (more[1] <= fewer[1]).all()


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 250), keys, counts)
def test_stations_behind_change_nothing_in_front(
    voters: int, key: int, numbers: tuple[int, int, int, int]
) -> None:
    """Waits at check-in do not depend on marking or casting, nor those at marking on casting."""
    full = trials(voters, key).one_day(numbers, 0)
    open_behind = trials(voters, key).one_day((numbers[0], 0, 0, 0), 0)
    only_cast = trials(voters, key).one_day((*numbers[:3], numbers[3] + 1), 0)
    assert (full[1] == open_behind[1]).all()
    assert (full[2] == only_cast[2]).all()
    assert (only_cast[3] <= full[3]).all()


@settings(max_examples=30, deadline=None)
@given(st.integers(2, 250), keys)
def test_with_room_for_everybody_nobody_waits(voters: int, key: int) -> None:
    """As many stations as voters, or stages without a line: no wait at all, and the same last voter."""
    plenty = trials(voters, key).rows([(voters,) * 4, (0, 0, 0, 0)], 0, 2)
    assert (plenty[:, :, engine.LONGEST] == 0).all()
    assert (plenty[0] == plenty[1]).all()


def test_one_more_check_in_station_can_make_the_longest_wait_worse() -> None:
    """The search may not trust that more is better: a line that moves on to marking can grow longer there."""
    harmed = 0
    for key in range(400):
        rows = trials(160, key).rows([(2, 8, 1, 1), (3, 8, 1, 1)], 0, 1)
        harmed += int(rows[1, 0, engine.LONGEST] > rows[0, 0, engine.LONGEST])
    assert harmed > 0


def test_arrivals_follow_the_weights() -> None:
    """300 days of 190 voters: each quarter hour's share within four standard errors of its weight."""
    one = trials(190, 3)
    waiting = 10  # 5 % of 190, halves up
    counted = np.zeros(12)
    days = 300
    for day in range(days):
        told = one.one_day((3, 0, 0, 0), day)
        assert (told[0, :waiting] == 7 * HOUR_MS).all()
        counted += np.bincount((told[0, waiting:] - 7 * HOUR_MS) // 900_000, minlength=12)
    shares = np.array([1] * 4 + [3] * 4 + [1] * 4) / 20
    n = days * (190 - waiting)
    assert counted.sum() == n
    assert (np.abs(counted / n - shares) <= 4 * np.sqrt(shares * (1 - shares) / n)).all()


@given(st.integers(1, 5000))
def test_the_demand_draws_are_all_used_in_turn(draws_given: int) -> None:
    """The stride visits each draw once, and the first 64 days of a sorted list are spread over it."""
    order = np.arange(draws_given) * stride(draws_given) % draws_given
    assert len(set(order.tolist())) == draws_given
    if draws_given >= 1000:
        assert abs(order[:64].mean() / draws_given - 0.5) < 0.05
