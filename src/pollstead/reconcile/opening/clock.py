"""Whether a device's clock and date are right, within the lead and tolerance of its station type.

All times are minutes of the wall clock of the operating day; 1480 is 24:40. Both clocks are read
from their faces, so a change of the clocks matters only where one of them has not followed it.
"""

from __future__ import annotations

import datetime as dt

from pollstead.election.instants import OperatingDay, format_clock
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message

DAY_MIN = 1440
HOUR_MIN = 60


class ClockResult(Value, frozen=True, kw_only=True):
    """The comparison of time and of date, told apart.

    `off_min` is how far the time is off (positive: the device is ahead of what it should show), within
    half a day either way; `days_off` how many days the date is off beyond that.
    """

    time_right: bool
    date_right: bool
    off_min: int
    days_off: int
    wanted_time: str
    wanted_date: str
    shown_time: str
    shown_date: str
    time_text: Message
    date_text: Message


def check_clock(
    day: OperatingDay,
    date_shown: dt.date,
    device_min: int,
    reference_min: int,
    lead_min: int,
    tolerance_min: int,
) -> ClockResult:
    """Compare one reading of both clocks: the device must show ``reference + lead`` within the tolerance.

    `device_min` and `reference_min` are minutes of the wall clock, 0 to 2879; past 1439 they run over
    midnight of `day`. The date must be the one on which the wanted minute falls; a few minutes
    around midnight are a difference of time, not of date.
    """
    days = (date_shown - day.date).days
    # 24:40 of the day and 00:40 of the next date are one minute; which is written is no difference.
    past_midnight = device_min >= DAY_MIN and days in (0, 1)
    shown_min = device_min if past_midnight else days * DAY_MIN + device_min % DAY_MIN
    wanted_min = reference_min + lead_min
    off = shown_min - wanted_min
    days_off = (off + DAY_MIN // 2) // DAY_MIN
    rest = off - days_off * DAY_MIN
    wanted_date = day.date + dt.timedelta(days=wanted_min // DAY_MIN)
    return ClockResult(
        time_right=abs(rest) <= tolerance_min,
        date_right=days_off == 0,
        off_min=rest,
        days_off=days_off,
        wanted_time=format_clock(wanted_min % DAY_MIN),
        wanted_date=wanted_date.isoformat(),
        shown_time=format_clock(device_min % DAY_MIN),
        shown_date=date_shown.isoformat(),
        time_text=_say_time(day, rest, tolerance_min),
        date_text=_say_date(days_off),
    )


def _say_time(day: OperatingDay, off: int, tolerance: int) -> Message:
    if abs(off) <= tolerance:
        return message(N_("The clock matches."))
    if abs(abs(off) - HOUR_MIN) <= tolerance:
        return message(
            N_("The time differs by an hour; the clocks change at this date.")
            if _clocks_change(day)
            else N_("The time differs by an hour.")
        )
    if off > 0:
        return message(N_("The device's clock is {minutes} min ahead of what it should show."), minutes=off)
    return message(N_("The device's clock is {minutes} min behind what it should show."), minutes=-off)


def _say_date(days_off: int) -> Message:
    if not days_off:
        return message(N_("The date matches."))
    if days_off > 0:
        return message(N_("The device's date is ahead by {days} day(s)."), days=days_off)
    return message(N_("The device's date is behind by {days} day(s)."), days=-days_off)


def _clocks_change(day: OperatingDay) -> bool:
    """Whether the clocks change on this date, the day before or the two days before."""
    return any(
        OperatingDay(date=day.date - dt.timedelta(days=before), zone_name=day.zone_name).slots_to_midnight()
        != 96
        for before in range(3)
    )
