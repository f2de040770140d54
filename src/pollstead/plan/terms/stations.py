"""What passes from sizing to stations, from stations to seals, supplies and the run sheet."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import ClosureSeal, Device, FleetTotal, SealRange
from pollstead.election.fleet import Cart, EarlyUse
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.values import Value, require
from pollstead.plan.terms.version import (
    KindTotal,
    PackingLine,
    RunStep,
    SealNeed,
    SealStock,
    Spare,
    StageCount,
    Station,
)


class SiteCounts(Value, frozen=True, kw_only=True):
    """How many stations of which types stand at one site; `key` orders sites, whatever their ids are.

    `early` are its operating days before election day, `late` those from election day on.
    """

    site: str
    key: str
    counts: tuple[StageCount, ...]
    early: tuple[dt.date, ...] = ()
    late: tuple[dt.date, ...] = ()


class StandsAt(Value, frozen=True, kw_only=True):
    """A device and the site where an earlier plan version put it; `early`: before election day.

    `station` is the station where it stood, "" where only the site is known.
    """

    device: str
    site: str
    early: bool = False
    station: str = ""


class StationsGiven(Value, frozen=True, kw_only=True):
    """Counts and the fleet; `left_out` are devices whose facts contradict one another."""

    sites: tuple[SiteCounts, ...]
    station_types: tuple[StationType, ...]
    devices: tuple[Device, ...] = ()
    fleet_totals: tuple[FleetTotal, ...] = ()
    previous: tuple[StandsAt, ...] = ()
    left_out: tuple[str, ...] = ()
    early_devices: tuple[EarlyUse, ...] = ()
    carts: tuple[Cart, ...] = ()


class SiteStations(Value, frozen=True, kw_only=True):
    """The stations of one site, in the order of its kind's station types."""

    site: str
    stations: tuple[Station, ...]


class StationsAnswer(Value, frozen=True, kw_only=True):
    """Stations with their devices, the totals of each kind of device, the devices left as spares."""

    sites: tuple[SiteStations, ...]
    totals: tuple[KindTotal, ...]
    spares: tuple[Spare, ...]


class SealingSite(Value, frozen=True, kw_only=True):
    """A site whose stations are to be sealed, and for how many operating days.

    `early_days` of them come before election day; a station that stands on some days only counts its own.
    `first_date` is the first of them, None where it is not told.
    """

    site: str
    days: int
    stations: tuple[Station, ...]
    early_days: int = 0
    first_date: dt.date | None = None

    def __post_init__(self) -> None:
        require(self.days >= 1, f"{self.site}: days must be >= 1, got {self.days}")
        require(
            0 <= self.early_days <= self.days,
            f"{self.site}: early_days must be 0 to {self.days}, got {self.early_days}",
        )

    def days_of(self, station: Station) -> int:
        """On how many operating days the station stands here."""
        if station.last_day is not None:
            return self.early_days
        return self.days - self.early_days if station.first_day is not None else self.days


class SealsGiven(Value, frozen=True, kw_only=True):
    """Stations and spares, the seal policy of their types, numbers already recorded, stock."""

    sites: tuple[SealingSite, ...]
    spares: tuple[Spare, ...]
    station_types: tuple[StationType, ...]
    closure_seals: tuple[ClosureSeal, ...] = ()
    seal_ranges: tuple[SealRange, ...] = ()


class SealedSite(Value, frozen=True, kw_only=True):
    """The same stations with their seals, and what the site needs of each kind at each moment."""

    site: str
    stations: tuple[Station, ...]
    needs: tuple[SealNeed, ...]


class SealsAnswer(Value, frozen=True, kw_only=True):
    """Sealed stations and spares, and the county's stock against what is needed."""

    sites: tuple[SealedSite, ...]
    spares: tuple[Spare, ...]
    stock: tuple[SealStock, ...]


class PackingSite(Value, frozen=True, kw_only=True):
    """What a site's packing list follows from; `voters` is the planned number, all days together."""

    site: str
    kind: SiteKind
    counts: tuple[StageCount, ...]
    stations: tuple[Station, ...]
    voters: int


class SuppliesGiven(Value, frozen=True, kw_only=True):
    """The sites to be packed for, and the station types that stand there."""

    sites: tuple[PackingSite, ...]
    station_types: tuple[StationType, ...]


class SitePacking(Value, frozen=True, kw_only=True):
    """The packing list of one site."""

    site: str
    lines: tuple[PackingLine, ...]


class FixedStep(Value, frozen=True, kw_only=True):
    """Minutes or people (None: as the station type says) that a person fixed for a step, ``TYPE/step``."""

    step: str
    minutes: int | None = None
    people: int | None = None


class RunSheetSite(Value, frozen=True, kw_only=True):
    """What a site's run sheet follows from; `crew` is how many people set up, None while unknown."""

    site: str
    counts: tuple[StageCount, ...]
    crew: int | None = None
    fixed: tuple[FixedStep, ...] = ()
    opens_min: int | None = None
    access_from_min: int | None = None


class RunSheetGiven(Value, frozen=True, kw_only=True):
    """The sites to be set up, and the station types that stand there."""

    sites: tuple[RunSheetSite, ...]
    station_types: tuple[StationType, ...]


class SiteRunSheet(Value, frozen=True, kw_only=True):
    """The run sheet of one site: its steps by part (evening before, morning) and earliest start."""

    site: str
    steps: tuple[RunStep, ...]
    crew: int
