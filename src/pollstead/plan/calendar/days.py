"""Counting days: working days of a county's week without its holidays, rolled dates, offsets.

A *boundary* is the end of a date. Work of 1 day that begins at the end of Monday is done on Tuesday, at the
end of Tuesday. So work that takes 0 days is done at the boundary where it begins.
"""

from __future__ import annotations

import datetime as dt

from pollstead.election.calendar import Counted, Holiday, Roll, WorkingWeek
from pollstead.election.county import Election
from pollstead.election.values import Value, require

ONE_DAY = dt.timedelta(days=1)


class WorkingDays(Value, frozen=True, kw_only=True):
    """The days on which the office works: `weekdays` (Monday is 0) without the dates in `closed`."""

    weekdays: tuple[int, ...]
    closed: tuple[dt.date, ...] = ()

    def __post_init__(self) -> None:
        require(bool(self.weekdays), "a working week needs at least one day")

    def is_working(self, date: dt.date) -> bool:
        """Whether the office works on `date`."""
        return date.weekday() in self.weekdays and date not in self.closed

    def advance(self, boundary: dt.date, days: int, counted: str = Counted.WORKING.value) -> dt.date:
        """The date at whose end work of `days` is done that begins at the end of `boundary`."""
        if counted == Counted.CALENDAR.value:
            return boundary + days * ONE_DAY
        while days > 0:
            boundary += ONE_DAY
            days -= self.is_working(boundary)
        return boundary

    def retreat(self, finish: dt.date, days: int, counted: str = Counted.WORKING.value) -> dt.date:
        """The latest boundary from which work of `days` is done by the end of `finish`."""
        if counted == Counted.CALENDAR.value:
            return finish - days * ONE_DAY
        while days > 0:
            days -= self.is_working(finish)
            finish -= ONE_DAY
        return finish

    def first_day(self, boundary: dt.date, days: int, counted: str = Counted.WORKING.value) -> dt.date:
        """The first day of work that begins at the end of `boundary`; that date itself for 0 days."""
        return boundary if days == 0 else self.advance(boundary, 1, counted)

    def between(self, first: dt.date, last: dt.date) -> int:
        """Working days after `first` up to and with `last`; below 0 where `last` is before `first`."""
        if last < first:
            return -self.between(last, first)
        return sum(self.is_working(first + n * ONE_DAY) for n in range(1, (last - first).days + 1))

    def offset(self, anchor: dt.date, days: int, counted: str = Counted.CALENDAR.value) -> dt.date:
        """The date `days` after `anchor`, which is day 0; before it where `days` is below 0.

        In working days, -3 is the third working day before `anchor`, whether the office works then or not.
        """
        if counted == Counted.CALENDAR.value or days == 0:
            return anchor + days * ONE_DAY
        step = ONE_DAY if days > 0 else -ONE_DAY
        left, date = abs(days), anchor
        while left:
            date += step
            left -= self.is_working(date)
        return date

    def roll(self, date: dt.date, rule: str) -> dt.date:
        """`date`, or where the office is closed then, the working day that `rule` names.

        Of two working days equally near, ``nearest working day`` is the earlier one.
        """
        if rule == Roll.NONE.value or self.is_working(date):
            return date
        later = self.advance(date, 1)
        earlier = self.offset(date, -1, Counted.WORKING.value)
        if rule == Roll.NEXT.value:
            return later
        if rule == Roll.PREVIOUS.value or date - earlier <= later - date:
            return earlier
        return later


def working_days(week: str, holidays: tuple[Holiday, ...]) -> WorkingDays:
    """The working days of a week named as in `WorkingWeek`, without the holidays that close the office."""
    return WorkingDays(
        weekdays=tuple(sorted(WorkingWeek(week).weekdays)),
        closed=tuple(sorted({holiday.date for holiday in holidays if holiday.closed})),
    )


def working_days_of(election: Election) -> WorkingDays:
    """The working days of a county, as its rules and its holidays say."""
    return working_days(election.rules.choice("working-week"), election.holidays)
