"""Instants, operating days and quarter-hour slots."""

from __future__ import annotations

import datetime as dt

import pytest

from pollstead.election.instants import Instant, OperatingDay, format_clock, parse_clock, zone

EASTERN = "EST5EDT"


def _day(year: int, month: int, day: int) -> OperatingDay:
    return OperatingDay(date=dt.date(year, month, day), zone_name=EASTERN)


def test_a_usual_day_has_96_quarter_hours() -> None:
    """Tuesday 7 November 2028, standard time all day."""
    assert _day(2028, 11, 7).slots_to_midnight() == 96


def test_the_day_of_the_autumn_change_has_100_and_of_the_spring_change_92() -> None:
    """First Sunday of November, second of March (15 U.S.C. 260a): 5 November and 12 March 2028."""
    assert _day(2028, 11, 5).slots_to_midnight() == 100
    assert _day(2028, 3, 12).slots_to_midnight() == 92


def test_twenty_four_forty_is_forty_minutes_past_midnight_of_the_same_operating_day() -> None:
    """24:40 of 7 November is 00:40 of the 8th on the wall clock, slot 98 of the 7th."""
    day = _day(2028, 11, 7)
    instant = day.at_wall_clock(parse_clock("24:40"))
    assert instant.local(EASTERN).isoformat() == "2028-11-08T00:40:00-05:00"
    assert day.slot_of(instant) == 98


def test_slots_count_elapsed_time_over_the_change_of_clocks() -> None:
    """07:00 on the day of the autumn change is 8 hours after local midnight: slot 32, not 28."""
    assert _day(2028, 11, 5).slot_of(_day(2028, 11, 5).at_wall_clock(420)) == 32
    assert _day(2028, 11, 6).slot_of(_day(2028, 11, 6).at_wall_clock(420)) == 28


def test_offsets_are_those_of_the_moment() -> None:
    """Minutes east of UTC: -240 on Saturday 4 November 2028, -300 on Monday the 6th."""
    assert _day(2028, 11, 4).at_wall_clock(720).offset_min(EASTERN) == -240
    assert _day(2028, 11, 6).at_wall_clock(720).offset_min(EASTERN) == -300


def test_an_instant_is_milliseconds_of_utc() -> None:
    """RFC 3339 section 5.8 (from memory): 1996-12-19T16:39:57-08:00 is 1996-12-20T00:39:57Z."""
    moment = dt.datetime.fromisoformat("1996-12-19T16:39:57-08:00")
    instant = Instant(utc_ms=round(moment.timestamp() * 1000))
    assert instant.local("UTC").isoformat() == "1996-12-20T00:39:57+00:00"


@pytest.mark.parametrize("text", ["7", "07:60", "48:00", "7am", "-1:00", ""])
def test_what_is_no_clock_time_is_refused(text: str) -> None:
    """The message shows the form wanted and what was typed."""
    with pytest.raises(ValueError, match="a clock time must look like 07:00"):
        parse_clock(text)


def test_clock_times_survive_showing_and_reading() -> None:
    """Every minute of an operating day, past midnight too."""
    assert all(parse_clock(format_clock(m)) == m for m in range(48 * 60))


@pytest.mark.parametrize("name", ["Nowhere/Town", "../etc/passwd", "", "EST5EDT/.."])
def test_an_unknown_zone_is_refused_by_name(name: str) -> None:
    """Only zones of the pinned database are read."""
    with pytest.raises(ValueError, match="time zone must be a name"):
        zone(name)
