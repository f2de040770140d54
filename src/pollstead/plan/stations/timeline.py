"""Where each device is on which days, and what must happen in between when it is deployed again."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

from pollstead.election.county import Device, Election
from pollstead.election.station_type import Moment, NumberPolicy, StationType
from pollstead.election.values import Value
from pollstead.plan.stations.order import reading_key
from pollstead.plan.terms.version import PartOfStation, PlanVersion, SitePlan, Station

TEST_MIN = 20
"""Minutes for the test of one device where its station type tells none.
Common practice, no source; varies by county."""

SEAL_MIN = 2
"""Minutes for two people to put on one seal and read it. Common practice, no source; varies by county."""


class Stay(Value, frozen=True, kw_only=True):
    """A device at one station from one day to another: opening on the first, closing on the last."""

    device: str
    site: str
    station: str
    from_day: dt.date
    to_day: dt.date
    opens_min: int
    closes_min: int
    early: bool = False


class Between(Value, frozen=True, kw_only=True):
    """What must happen to a device between early voting and election day, in minutes, and the time there is.

    `drive_min` is from the early site to the warehouse and on to the next one, None while a road is not told.
    `minutes` is the whole chain; `available_min` runs from the last early closing to the next opening.
    """

    device: str
    from_site: str
    to_site: str
    after: dt.date
    by: dt.date
    drive_min: int | None
    test_min: int
    seal_min: int
    seals: int
    available_min: int

    @property
    def minutes(self) -> int:
        """Driving, test and sealing together; unknown driving counts as nothing and is named."""
        return (self.drive_min or 0) + self.test_min + self.seal_min

    @property
    def enough(self) -> bool:
        """Whether the chain fits into the time between, for this one device alone."""
        return self.minutes <= self.available_min


class DeviceTimeline(Value, frozen=True, kw_only=True):
    """One device: its stays in order of days; empty for a spare or a device out of service."""

    device: Device
    stays: tuple[Stay, ...]
    between: tuple[Between, ...] = ()

    @property
    def clashes(self) -> tuple[tuple[Stay, Stay], ...]:
        """Stays that share a day: a device can be at one place at a time."""
        return tuple(
            (one, other)
            for index, one in enumerate(self.stays)
            for other in self.stays[index + 1 :]
            if one.from_day <= other.to_day and other.from_day <= one.to_day
        )


def timelines(election: Election, plan: PlanVersion) -> tuple[DeviceTimeline, ...]:
    """Every device of the fleet, by kind and serial, with where it is when."""
    stays: dict[str, list[Stay]] = defaultdict(list)
    again: dict[str, tuple[Station, PartOfStation]] = {}
    for site in plan.sites:
        for station in site.stations:
            for part in station.parts:
                stay = _stay(site, station, part)
                if stay is not None:
                    stays[part.device].append(stay)
                    if part.again:
                        again[part.device] = (station, part)
    types = {t.id: t for t in election.station_types}
    roads = {road.site: road.drive_min for road in election.site_routes}
    found = []
    for device in sorted(election.devices, key=lambda d: (d.kind, reading_key(d.serial))):
        mine = tuple(sorted(stays.get(device.id, ()), key=lambda s: (s.from_day, s.site)))
        between: tuple[Between, ...] = ()
        if device.id in again and len(mine) > 1:
            station, part = again[device.id]
            between = (_between(mine[0], mine[-1], types[station.station_type], part, roads),)
        found.append(DeviceTimeline(device=device, stays=mine, between=between))
    return tuple(found)


def _stay(site: SitePlan, station: Station, part: PartOfStation) -> Stay | None:
    days = [day for day in site.demand if station.stands_on(day.date)]
    if not part.device or not days:
        return None
    return Stay(
        device=part.device,
        site=site.site,
        station=station.id,
        from_day=days[0].date,
        to_day=days[-1].date,
        opens_min=days[0].opens_min,
        closes_min=days[-1].closes_min,
        early=station.last_day is not None,
    )


def _between(
    early: Stay, late: Stay, station_type: StationType, part: PartOfStation, roads: dict[str, int | None]
) -> Between:
    own = [step.minutes * step.people for step in station_type.set_up if step.when is Moment.AFTER_TEST]
    seals = sum(
        closure.seals
        for closure in station_type.closures
        if closure.part == part.part
        and closure.applied is Moment.AFTER_TEST
        and closure.number is not NumberPolicy.NO_SEAL
    )
    drives = (roads.get(early.site), roads.get(late.site))
    known = [drive for drive in drives if drive is not None]
    days = (late.from_day - early.to_day).days
    return Between(
        device=early.device,
        from_site=early.site,
        to_site=late.site,
        after=early.to_day,
        by=late.from_day,
        drive_min=sum(known) if len(known) == len(drives) else None,
        test_min=sum(own) or TEST_MIN,
        seal_min=seals * SEAL_MIN,
        seals=seals,
        available_min=days * 24 * 60 + late.opens_min - early.closes_min,
    )
