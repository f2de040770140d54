"""Whole-number quantities."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.units import (
    foot,
    format_feet_inches,
    inch,
    mm,
    parse_feet_inches,
    parse_scaled,
    share_ppm,
)


def test_an_inch_is_exactly_25_4_millimetres() -> None:
    """1 in = 25.4 mm exactly (NIST Special Publication 811, appendix B; from memory)."""
    assert inch(36) == 914_400
    assert inch("31.5") == 800_100
    assert mm(915) == 915_000
    assert foot(6) == 6 * 12 * 25_400


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("5' 6 1/2\"", "66.5"),
        ("66.5 in", "66.5"),
        ("5 ft 6 in", "66"),
        ("36", "36"),
        ("1/2 in", "1/2"),
        ("6'", "72"),
    ],
)
def test_lengths_are_read_as_people_write_them(text: str, inches: str) -> None:
    """Feet, inches and fractions come to the same micrometres."""
    assert parse_feet_inches(text) == inch(inches)


@pytest.mark.parametrize("text", ["", "wide", "5' x", "1/0 in", "-3", "5' 6 1/2\" or so"])
def test_what_is_not_a_length_is_refused_and_named(text: str) -> None:
    """The message repeats what was typed and shows the form wanted."""
    with pytest.raises(ValueError, match="a length must look like"):
        parse_feet_inches(text)


@given(st.integers(0, 400).map(lambda quarters: quarters * 25_400 // 4))
def test_quarter_inches_survive_showing_and_reading(length_um: int) -> None:
    """What is shown reads back as the same length."""
    assert parse_feet_inches(format_feet_inches(length_um)) == length_um


@pytest.mark.parametrize(
    ("text", "ppm"), [("5", 50_000), ("0.5", 5_000), ("12.5", 125_000), (" 100 ", 1_000_000)]
)
def test_percent_become_parts_per_million_exactly(text: str, ppm: int) -> None:
    """No float stands between the typed percent and the share."""
    assert parse_scaled(text, 10_000, "percent") == ppm


@pytest.mark.parametrize("text", ["nan", "inf", "1e400000", "five", "0.00001"])
def test_what_is_no_exact_percent_is_refused(text: str) -> None:
    """Neither nan nor infinity nor finer steps than a part per million pass."""
    with pytest.raises(ValueError, match="percent"):
        parse_scaled(text, 10_000, "percent")


def test_shares_round_half_up_and_need_a_whole() -> None:
    """Two thirds are 666,667 ppm; a share of nothing is refused."""
    assert share_ppm(2, 3) == 666_667
    with pytest.raises(ValueError, match="whole must be >= 1, got 0"):
        share_ppm(1, 0)
