"""Worked queueing examples read in a source (secondary copies where said); tolerance half a printed unit.

Bronson 1982, "Schaum's Outline of Operations Research", problems 23.3, 23.14, 23.16 and 24.6, read in a
course page that reprints them. Problem 23.16's P0 as reprinted contradicts its own inputs and is left out.
"""

from __future__ import annotations

import pytest

from pollstead.plan.lines.formulas import erlang_b, erlang_c, one_station_wait, settled_line


def test_bronson_23_3_one_station() -> None:
    """24 an hour, 30 an hour: 4 in the system, 1/6 h there, empty one fifth of the time."""
    line = settled_line(24, 30, 1)
    assert line.in_system == pytest.approx(4)
    assert line.time_in_system == pytest.approx(1 / 6)
    assert line.empty == pytest.approx(0.2)


def test_bronson_23_14_one_station() -> None:
    """30 an hour, 1.5 min each: 2.25 in line, 4.5 min wait, busy 0.75, empty 0.25."""
    line = settled_line(30 / 60, 1 / 1.5, 1)
    assert line.in_line == pytest.approx(2.25)
    assert line.wait == pytest.approx(4.5)
    assert line.utilisation == pytest.approx(0.75)
    assert line.empty == pytest.approx(0.25)


def test_bronson_23_16_one_station() -> None:
    """One a minute, 45 s each: 2.25 in line, waits 2.25 min, 3 min in all."""
    line = settled_line(1, 60 / 45, 1)
    assert line.in_line == pytest.approx(2.25)
    assert line.wait == pytest.approx(2.25)
    assert line.time_in_system == pytest.approx(3)


def test_bronson_24_6_three_stations() -> None:
    """300 a year, 2 days each, three stations: P0 .17754, Lq .352, L 1.996, Wq .43 d, W 2.429 d."""
    line = settled_line(300 / 365, 1 / 2, 3)
    assert line.empty == pytest.approx(0.17754, abs=5e-6)
    assert line.in_line == pytest.approx(0.352, abs=5e-4)
    assert line.in_system == pytest.approx(1.996, abs=5e-4)
    assert line.wait == pytest.approx(0.43, abs=5e-3)
    assert line.time_in_system == pytest.approx(2.429, abs=5e-4)


def test_erlang_c_textbook_values() -> None:
    """Two stations at one erlang: 1/3; three at utilisation 2/3: 4/9 (read in public libraries' tests)."""
    assert erlang_c(2, 1.0) == pytest.approx(1 / 3)
    assert erlang_c(3, 2.0) == pytest.approx(4 / 9)


def test_erlang_b_of_the_calculator_manual() -> None:
    """15 lines block 1 % at 8.108 erlangs (manual of the Erlang calculator at erlang.com)."""
    assert erlang_b(15, 8.1075) < 0.01 < erlang_b(15, 8.1085)


def test_pollaczek_khinchine_without_spread() -> None:
    """8 an hour, 0.1 h each, no spread: 0.2 h wait (as read in the test of a public library)."""
    assert one_station_wait(8, 0.1, 0) == pytest.approx(0.2)
