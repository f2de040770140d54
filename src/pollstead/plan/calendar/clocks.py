"""Days on which the county's clocks change: which tasks lie across them, what they do to early voting."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Site
from pollstead.election.instants import MS_PER_MINUTE, OperatingDay
from pollstead.election.values import Value

ORDINARY_DAY_MIN = 1_440
NEAR_DAYS = 7


class ClockChange(Value, frozen=True, kw_only=True):
    """A date whose local day has `minutes` instead of 1,440; `days_to_election` is below 0 before it."""

    date: dt.date
    minutes: int
    days_to_election: int

    @property
    def shift_min(self) -> int:
        """Minutes that the day has more (clocks go back) or, below 0, less than an ordinary one."""
        return self.minutes - ORDINARY_DAY_MIN

    @property
    def near(self) -> bool:
        """Whether election day is within a week of it."""
        return abs(self.days_to_election) <= NEAR_DAYS


class ChangedHours(Value, frozen=True, kw_only=True):
    """What a change of the clocks does at one site: minutes open that day, minutes closed the night before.

    `night_wall_min` is what the clocks on the wall would say of that night; None where it was not open the
    day before.
    """

    site: str
    date: dt.date
    open_min: int
    open_wall_min: int
    night_min: int | None = None
    night_wall_min: int | None = None


def day_minutes(date: dt.date, zone_name: str) -> int:
    """Minutes from local midnight to the next: 1,440, or otherwise where the clocks change."""
    today = OperatingDay(date=date, zone_name=zone_name).start().utc_ms
    tomorrow = OperatingDay(date=date + dt.timedelta(days=1), zone_name=zone_name).start().utc_ms
    return (tomorrow - today) // MS_PER_MINUTE


def clock_changes(
    first: dt.date, last: dt.date, zone_name: str, election_day: dt.date
) -> tuple[ClockChange, ...]:
    """Every date from `first` to `last` on which the clocks of the zone change."""
    found = []
    for n in range((last - first).days + 1):
        date = first + dt.timedelta(days=n)
        minutes = day_minutes(date, zone_name)
        if minutes != ORDINARY_DAY_MIN:
            found.append(ClockChange(date=date, minutes=minutes, days_to_election=(date - election_day).days))
    return tuple(found)


def changed_hours(sites: tuple[Site, ...], change: ClockChange, zone_name: str) -> tuple[ChangedHours, ...]:
    """What `change` does to the hours of each site that is open that day."""
    found = []
    today = OperatingDay(date=change.date, zone_name=zone_name)
    before = OperatingDay(date=change.date - dt.timedelta(days=1), zone_name=zone_name)
    for site in sites:
        hours = {one.date: one for one in site.hours}
        if change.date not in hours:
            continue
        here = hours[change.date]
        opens, closes = today.at_wall_clock(here.opens_min), today.at_wall_clock(here.closes_min)
        night: int | None = None
        wall: int | None = None
        if before.date in hours:
            shut = before.at_wall_clock(hours[before.date].closes_min)
            night = (opens.utc_ms - shut.utc_ms) // MS_PER_MINUTE
            wall = ORDINARY_DAY_MIN + here.opens_min - hours[before.date].closes_min
        found.append(
            ChangedHours(
                site=site.id,
                date=change.date,
                open_min=(closes.utc_ms - opens.utc_ms) // MS_PER_MINUTE,
                open_wall_min=here.closes_min - here.opens_min,
                night_min=night,
                night_wall_min=wall,
            )
        )
    return tuple(found)
