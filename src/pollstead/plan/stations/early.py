"""Devices that count early ballots: kept apart from election day, deployed again, or in use throughout.

Whether one device may count both is a matter of the county's law. The county rule decides for every kind
of device; people may decide otherwise for one kind, or for one kind at one site.
"""

from __future__ import annotations

import datetime as dt

from pollstead.election.fleet import EarlyDevices, EarlyUse
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import CountUnit, StationType
from pollstead.election.values import Value
from pollstead.plan.terms.stations import SiteCounts

EARLY = "early"
"""In the id of a station that stands before election day only: ``station/S01/scanner/early-2``."""


class Phase(Value, frozen=True, kw_only=True):
    """The days on which a set of stations stands; both None where it stands on all of a site's days."""

    first_day: dt.date | None = None
    last_day: dt.date | None = None
    again: bool = False

    @property
    def early(self) -> bool:
        """Whether the stations stand before election day only."""
        return self.last_day is not None


THROUGHOUT = Phase()


def counts_ballots(station_type: StationType) -> bool:
    """Whether a station of this type holds results: a counter of ballots or sheets, or a memory device."""
    return station_type.memory_devices.count > 0 or any(
        counter.unit in (CountUnit.BALLOTS, CountUnit.SHEETS) for counter in station_type.counters
    )


def use_of(
    station_type: StationType, site: str, decided: tuple[EarlyUse, ...], rules: CountyRules
) -> EarlyDevices:
    """What becomes of this type's devices at a site: the person's decision, else the county rule.

    The rule is about devices that hold results; a person may decide about any kind of device.
    """
    kinds = {part.device_kind for part in station_type.serial_parts()}
    if not kinds:
        return EarlyDevices.STAYS
    for place in (site, ""):
        for one in decided:
            if one.device_kind in kinds and one.site == place:
                return EarlyDevices(one.use)
    return EarlyDevices(rules.choice("early-devices")) if counts_ballots(station_type) else EarlyDevices.STAYS


def phases_of(
    station_type: StationType, site: SiteCounts, decided: tuple[EarlyUse, ...], rules: CountyRules
) -> tuple[Phase, ...]:
    """The sets of stations of one type at a site, that of election day first."""
    if not site.early or not site.late:
        return (THROUGHOUT,)
    use = use_of(station_type, site.site, decided, rules)
    if use is EarlyDevices.STAYS:
        return (THROUGHOUT,)
    return (
        Phase(first_day=min(site.late)),
        Phase(last_day=max(site.early), again=use is EarlyDevices.AGAIN),
    )


def station_number(number: int, phase: Phase) -> str:
    """The last part of a station's id: its number, after ``early-`` where it goes before election day."""
    return f"{EARLY}-{number}" if phase.early else str(number)
