"""Queueing values remembered from books or computed from the closed forms; each says which.

Books (from memory, not read for this test): Hillier and Lieberman, "Introduction to Operations Research";
Gross and Harris, "Fundamentals of Queueing Theory"; Rios Insua et al. 2004 (inputs read in the manual of an
R package, outputs computed). All outputs recomputed from the formulas.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.plan.lines.formulas import (
    erlang_b,
    erlang_c,
    fewest_stations,
    network_lines,
    network_rates,
    one_station_wait,
    served_within,
    settled_line,
)

REL = 5e-4


def test_county_hospital_with_one_and_two_doctors() -> None:
    """Hillier and Lieberman, County Hospital, 2 and 3 an hour (from memory)."""
    one, two = settled_line(2, 3, 1), settled_line(2, 3, 2)
    assert (one.empty, one.in_line, one.in_system) == pytest.approx((1 / 3, 4 / 3, 2))
    assert (one.wait, one.time_in_system) == pytest.approx((2 / 3, 1))
    assert (two.empty, two.waits, two.in_line, two.in_system) == pytest.approx((1 / 2, 1 / 6, 1 / 12, 3 / 4))
    assert (two.wait, two.time_in_system) == pytest.approx((1 / 24, 3 / 8))


def test_eye_clinic_with_three_stations() -> None:
    """Gross and Harris, chapter 2, eye clinic, 6 and 3 an hour (from memory)."""
    line = settled_line(6, 3, 3)
    assert (line.empty, line.waits, line.in_line, line.in_system) == pytest.approx(
        (1 / 9, 4 / 9, 8 / 9, 26 / 9)
    )
    assert (line.wait, line.time_in_system) == pytest.approx((4 / 27, 13 / 27))


def test_ten_erlangs_for_eighty_percent_in_twenty_seconds_need_fourteen() -> None:
    """200 an hour, 3 min each (inputs read; outputs from memory and recomputed): 14 stations."""
    assert fewest_stations(200 / 3600, 1 / 180, 20, 0.8) == 14
    shown = {11: (0.6821, 0.3896), 12: (0.4494, 0.6402), 13: (0.2853, 0.7956), 14: (0.17413, 0.88835)}
    for stations, (waits, within) in shown.items():
        assert erlang_c(stations, 10) == pytest.approx(waits, rel=REL)
        assert served_within(200 / 3600, 1 / 180, stations, 20) == pytest.approx(within, rel=REL)
    assert settled_line(200 / 3600, 1 / 180, 14).wait == pytest.approx(7.836, rel=REL)


def test_erlang_b_table_and_fewest_lines() -> None:
    """Cells of common Erlang B tables (from memory, recomputed); fewest lines for 10 erlangs (computed)."""
    for lines, one_percent, two_percent in ((1, 0.0101, 0.0204), (5, 1.3608, 1.657), (10, 4.461, 5.084)):
        assert erlang_b(lines, one_percent) == pytest.approx(0.01, rel=6e-3)
        assert erlang_b(lines, two_percent) == pytest.approx(0.02, rel=6e-3)
    for chance, lines in ((0.02, 17), (0.01, 18), (0.001, 21)):
        assert erlang_b(lines, 10) <= chance < erlang_b(lines - 1, 10)
    assert erlang_b(16, 10) == pytest.approx(0.022302, rel=REL)


@pytest.mark.parametrize(("cv_squared", "wait"), [(0, 0.2), (0.25, 0.25), (1, 0.4), (4, 1.0)])
def test_pollaczek_khinchine_by_spread(cv_squared: float, wait: float) -> None:
    """8 an hour, 0.1 h each: the wait grows with the spread (computed)."""
    assert one_station_wait(8, 0.1, cv_squared) == pytest.approx(wait)


def test_pollaczek_khinchine_with_exponential_service_is_the_one_station_line() -> None:
    """cv 1 gives M/M/1, cv 0 exactly half of it (a corollary of the formula)."""
    assert one_station_wait(8, 0.1, 1) == pytest.approx(settled_line(8, 10, 1).wait)
    assert one_station_wait(8, 0.1, 0) * 2 == pytest.approx(one_station_wait(8, 0.1, 1))


def test_jackson_network_of_three_places() -> None:
    """Hillier and Lieberman, chapter on queueing, Jackson example (from memory): 5, 10, 7.5; L 1, 4/3, 3."""
    outside, onward = [1, 4, 3], [[0, 0.6, 0.3], [0.1, 0, 0.3], [0.4, 0.4, 0]]
    assert network_rates(outside, onward) == pytest.approx([5, 10, 7.5])
    lines = network_lines(outside, onward, [10, 10, 10], [1, 2, 1])
    assert [line.in_system for line in lines] == pytest.approx([1, 4 / 3, 3])
    assert sum(line.in_system for line in lines) / sum(outside) == pytest.approx(2 / 3)


def test_jackson_network_of_four_places() -> None:
    """Rios Insua et al. 2004, example 11.11 (inputs read in a package manual; outputs computed)."""
    outside = [8, 0, 6, 0]
    onward = [[0, 0.2, 0.56, 0.24], [1, 0, 0, 0], [0, 0, 0, 0], [0, 0, 0, 0]]
    assert network_rates(outside, onward) == pytest.approx([10, 2, 11.6, 2.4])
    lines = network_lines(outside, onward, [14, 9, 17, 7], [1, 1, 1, 1])
    assert sum(line.in_system for line in lines) == pytest.approx(5.455602, rel=REL)
    assert sum(line.in_system for line in lines) / 14 == pytest.approx(0.389686, rel=REL)


def test_a_network_that_nobody_can_leave_is_refused() -> None:
    """The traffic equations have no solution, and the message says what to change."""
    with pytest.raises(ValueError, match="let people leave"):
        network_rates([1, 0], [[0, 1], [1, 0]])


@settings(max_examples=50)
@given(st.integers(1, 60), st.floats(0.05, 0.98))
def test_settled_lines_obey_littles_law_and_pooling(stations: int, utilisation: float) -> None:
    """L = lambda W, Lq = lambda Wq; a pooled line waits less than two; one more station shortens it."""
    rate = stations * utilisation
    line = settled_line(rate, 1.0, stations)
    assert line.in_line == pytest.approx(rate * line.wait)
    assert line.in_system == pytest.approx(rate * line.time_in_system)
    assert settled_line(2 * rate, 1.0, 2 * stations).wait < line.wait
    assert settled_line(rate, 1.0, stations + 1).wait < line.wait


@pytest.mark.full
@settings(max_examples=50)
@given(st.integers(1, 12), st.floats(0.05, 0.95))
def test_erlang_c_is_the_sum_over_states(stations: int, utilisation: float) -> None:
    """The recursion equals the textbook sum of state probabilities."""
    load = stations * utilisation
    top = load**stations / math.factorial(stations) * stations / (stations - load)
    rest = math.fsum(load**k / math.factorial(k) for k in range(stations))
    assert erlang_c(stations, load) == pytest.approx(top / (rest + top))


def test_a_line_that_never_settles_says_so() -> None:
    """At utilisation 1 everyone waits and the mean wait is infinite."""
    line = settled_line(3, 1, 3)
    assert (line.waits, line.wait) == (1.0, math.inf)
    assert one_station_wait(10, 0.1, 1) == math.inf


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: erlang_b(0, 1.0), "stations must be >= 1, got 0"),
        (lambda: erlang_c(2, -1.0), "load must be a finite number > 0, got -1.0"),
        (lambda: settled_line(0, 1, 1), "arrival_rate must be a finite number > 0, got 0"),
        (lambda: one_station_wait(1, 0.5, -1), "cv_squared must be >= 0, got -1"),
        (lambda: fewest_stations(1, 1, 1, 1.0), "share must be >= 0 and < 1, got 1.0"),
    ],
)
def test_wrong_arguments_are_named(call: object, said: str) -> None:
    """Each message names the argument, its bound and the value."""
    with pytest.raises(ValueError, match="must") as error:
        call()  # type: ignore[operator]
    assert str(error.value) == said
