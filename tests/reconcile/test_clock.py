"""Clock and date against lead and tolerance, around midnight and where the clocks change."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.instants import OperatingDay
from pollstead.reconcile.opening.clock import check_clock

ELECTION = OperatingDay(date=dt.date(2028, 11, 7), zone_name="America/New_York")  # a Tuesday
CLOCKS_BACK = OperatingDay(date=dt.date(2028, 11, 5), zone_name="America/New_York")  # Sunday, 25 hours


@pytest.mark.parametrize(
    ("case", "shown", "device", "reference", "lead", "tolerance", "time", "date", "off"),
    [
        ("as it should be", "2028-11-07", 365, 360, 5, 1, True, True, 0),
        ("within the tolerance", "2028-11-07", 364, 360, 5, 1, True, True, -1),
        ("just outside it", "2028-11-07", 363, 360, 5, 1, False, True, -2),
        ("no lead kept where five is asked", "2028-11-07", 360, 360, 5, 1, False, True, -5),
        ("lead of zero", "2028-11-07", 360, 360, 0, 0, True, True, 0),
        ("date one ahead", "2028-11-08", 365, 360, 5, 1, True, False, 0),
        ("date one behind", "2028-11-06", 365, 360, 5, 1, True, False, 0),
        ("year wrong", "2027-11-07", 365, 360, 5, 1, True, False, 0),
        ("afternoon for morning", "2028-11-07", 1085, 360, 5, 1, False, False, -720),
        ("lead passes midnight", "2028-11-08", 2, 1437, 5, 1, True, True, 0),
        ("lead passes midnight, date not turned", "2028-11-07", 2, 1437, 5, 1, True, False, 0),
        ("24:40 on paper", "2028-11-08", 40, 1480, 0, 1, True, True, 0),
        ("24:40 on both", "2028-11-07", 1480, 1480, 0, 1, True, True, 0),
        ("24:40 with the next date", "2028-11-08", 1480, 1480, 0, 1, True, True, 0),
        ("a minute early just past midnight", "2028-11-07", 1439, 1440, 0, 1, True, True, -1),
    ],
)
def test_clock_and_date_are_compared_apart(
    case: str,
    shown: str,
    device: int,
    reference: int,
    lead: int,
    tolerance: int,
    time: bool,
    date: bool,
    off: int,
) -> None:
    """Each row of the table: does the time match, does the date match, how many minutes off."""
    found = check_clock(ELECTION, dt.date.fromisoformat(shown), device, reference, lead, tolerance)
    assert (found.time_right, found.date_right) == (time, date), case
    assert abs(found.off_min) == abs(off), case


def test_an_hour_off_where_the_clocks_change_says_so() -> None:
    """A device that did not follow the change of 5 November 2028 is an hour ahead, and the words name it."""
    found = check_clock(CLOCKS_BACK, CLOCKS_BACK.date, 420, 360, 0, 2)
    assert not found.time_right
    assert found.off_min == 60
    assert "the clocks change" in found.time_text.english()
    # Two days later the same hour is only an hour; three days later nothing is said of a change.
    later = OperatingDay(date=dt.date(2028, 11, 9), zone_name="America/New_York")
    assert "clocks change" not in check_clock(later, later.date, 420, 360, 0, 2).time_text.english()


@given(
    days=st.integers(-3, 3),
    off=st.integers(-700, 700),
    reference=st.integers(0, 1439),
    lead=st.integers(-10, 10),
    tolerance=st.integers(0, 5),
)
def test_what_is_set_off_is_what_is_found(
    days: int, off: int, reference: int, lead: int, tolerance: int
) -> None:
    """A device set `days` and `off` minutes wrong is found to be wrong by exactly that."""
    minute = reference + lead + off
    shown = ELECTION.date + dt.timedelta(days=days + minute // 1440)
    found = check_clock(ELECTION, shown, minute % 1440, reference, lead, tolerance)
    assert found.off_min == off
    assert found.days_off == days
    assert found.time_right == (abs(off) <= tolerance)
    assert found.date_right == (days == 0)
