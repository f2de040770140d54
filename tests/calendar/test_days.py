"""Counting days: working days, offsets from election day, rolled dates.

Outside reference: ``numpy.busday_offset`` and ``numpy.busday_count`` (NumPy, an independent implementation).
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.calendar import Counted, Holiday, Roll, WorkingWeek
from pollstead.plan.calendar.days import WorkingDays, working_days

WEEK = "Mon Tue Wed Thu Fri"
ELECTION_DAY = dt.date(2028, 11, 7)
DATES = st.dates(dt.date(2023, 1, 1), dt.date(2032, 12, 31))
CLOSED = st.lists(DATES, max_size=12).map(lambda found: tuple(sorted(set(found))))
WORK = Counted.WORKING.value


def of(closed: tuple[dt.date, ...]) -> WorkingDays:
    """Monday to Friday without `closed`."""
    return WorkingDays(weekdays=(0, 1, 2, 3, 4), closed=closed)


@given(DATES, st.integers(-260, 260).filter(bool), CLOSED)
def test_working_day_offsets_are_those_of_numpy(
    date: dt.date, days: int, closed: tuple[dt.date, ...]
) -> None:
    """The n-th working day before or after a date is numpy's, whether that date is one or not."""
    roll = "backward" if days > 0 else "forward"
    wanted = np.busday_offset(date, days, roll=roll, weekmask=WEEK, holidays=list(closed))
    assert of(closed).offset(date, days, WORK) == wanted.astype(dt.date)


@given(DATES, st.integers(-500, 500), CLOSED)
def test_working_days_between_two_dates_are_those_of_numpy(
    first: dt.date, distance: int, closed: tuple[dt.date, ...]
) -> None:
    """After the first up to and with the last: numpy counts from and with the first, so both move a day."""
    last = first + dt.timedelta(days=distance)
    one = dt.timedelta(days=1)
    low, high = min(first, last), max(first, last)
    wanted = int(np.busday_count(low + one, high + one, weekmask=WEEK, holidays=list(closed)))
    assert of(closed).between(first, last) == (wanted if distance >= 0 else -wanted)


@given(DATES, CLOSED)
def test_rolled_dates_are_those_of_numpy(date: dt.date, closed: tuple[dt.date, ...]) -> None:
    """Next and previous are numpy's forward and backward; nearest the nearer one, the earlier in a tie."""
    rolled = {
        name: np.busday_offset(date, 0, roll=name, weekmask=WEEK, holidays=list(closed)).astype(dt.date)
        for name in ("forward", "backward")
    }
    days = of(closed)
    assert days.roll(date, Roll.NEXT.value) == rolled["forward"]
    assert days.roll(date, Roll.PREVIOUS.value) == rolled["backward"]
    back, on = (date - rolled["backward"]).days, (rolled["forward"] - date).days
    assert days.roll(date, Roll.NEAREST.value) == rolled["backward" if back <= on else "forward"]
    assert days.roll(date, Roll.NONE.value) == date


@given(DATES, st.integers(0, 60), CLOSED, st.sampled_from(list(Counted)))
def test_the_latest_start_is_the_last_that_ends_in_time(
    finish: dt.date, length: int, closed: tuple[dt.date, ...], counted: Counted
) -> None:
    """Work from the latest boundary ends by the finish, and from a day later it does not."""
    days = of(closed)
    start = days.retreat(finish, length, counted.value)
    assert days.advance(start, length, counted.value) <= finish
    assert days.advance(start + dt.timedelta(days=1), length, counted.value) > finish


@pytest.mark.parametrize(
    ("election_day", "offset", "date"),
    [
        (dt.date(2028, 11, 7), -45, dt.date(2028, 9, 23)),  # a month end, and 30 days of September
        (dt.date(2028, 11, 7), -180, dt.date(2028, 5, 11)),
        (dt.date(2028, 11, 7), 0, dt.date(2028, 11, 7)),
        (dt.date(2028, 11, 7), 45, dt.date(2028, 12, 22)),
        (dt.date(2028, 3, 7), -7, dt.date(2028, 2, 29)),  # a leap day
        (dt.date(2027, 3, 9), -9, dt.date(2027, 2, 28)),  # no leap day
        (dt.date(2028, 3, 7), -45, dt.date(2028, 1, 22)),
        (dt.date(2029, 1, 9), -45, dt.date(2028, 11, 25)),  # over the end of a year
        (dt.date(2028, 12, 5), 45, dt.date(2029, 1, 19)),
    ],
)
def test_days_count_from_election_day_as_day_zero(election_day: dt.date, offset: int, date: dt.date) -> None:
    """E-45 is 45 days before election day: month ends, leap days and ends of years (counted by hand)."""
    assert of(()).offset(election_day, offset) == date
    assert date.toordinal() - election_day.toordinal() == offset


def test_a_holiday_that_does_not_close_the_office_is_an_ordinary_day() -> None:
    """Only a holiday with `closed` counts; the week is the county's."""
    day = dt.date(2028, 10, 9)
    for closed in (True, False):
        made = working_days(
            WorkingWeek.MONDAY_TO_FRIDAY.value, (Holiday(date=day, name="Fair day", closed=closed),)
        )
        assert made.is_working(day) is not closed
    assert not working_days(WorkingWeek.MONDAY_TO_THURSDAY.value, ()).is_working(dt.date(2028, 10, 13))
    assert working_days(WorkingWeek.EVERY_DAY.value, ()).is_working(dt.date(2028, 10, 15))


def test_working_days_before_a_holiday_are_counted_without_it() -> None:
    """Three working days before Tuesday 2028-11-07 with the Monday off is the Wednesday (by hand)."""
    days = of((dt.date(2028, 11, 6),))
    assert days.offset(ELECTION_DAY, -3, WORK) == dt.date(2028, 11, 1)
