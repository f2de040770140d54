"""What a county is before an election: one deeply frozen value, the immutable snapshot of its facts.

Unknown is a state of its own: an optional field that is None has not been told yet.
"""

from __future__ import annotations

import datetime as dt
from typing import TypeVar

from pollstead.election.ballots import BallotContest, Choice, Contest
from pollstead.election.buildings import (
    Circuit,
    Door,
    Outlet,
    Port,
    Room,
    RoomCorner,
    SiteAccess,
    SiteSurvey,
)
from pollstead.election.calendar import Holiday, Task
from pollstead.election.check_characters import CheckScheme
from pollstead.election.contacts import ReadyWeight, SiteContact
from pollstead.election.fault_odds import FaultOdds
from pollstead.election.fleet import Cart, EarlyUse
from pollstead.election.forms import FormLine
from pollstead.election.identity import require_part
from pollstead.election.incidents import IncidentKind
from pollstead.election.instants import OperatingDay, zone
from pollstead.election.label_stock import LabelStock
from pollstead.election.next_acts import ActCost
from pollstead.election.reading_errors import ReadingError
from pollstead.election.rules import CountyRules
from pollstead.election.seal_stock import SealBlock, SealReceipt, SealReturn, SealVoid
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.style_sheets import StyleSheets
from pollstead.election.surroundings import DeliveryStop, SiteRoute, SiteTime, SiteVoters, Vehicle
from pollstead.election.values import Value, require, require_unique
from pollstead.election.words import Message


class Assumption(Value, frozen=True, kw_only=True):
    """A value nobody has told us: what was taken instead, why, and which list would replace it."""

    subject: str
    field: str
    value: str
    why: Message
    list_wanted: str = ""


class Hours(Value, frozen=True, kw_only=True):
    """Opening hours of one operating day at a site, in minutes of the wall clock of that day."""

    date: dt.date
    opens_min: int
    closes_min: int

    def __post_init__(self) -> None:
        require(
            0 <= self.opens_min < self.closes_min < 48 * 60,
            f"{self.date}: opening must come before closing, got {self.opens_min} and {self.closes_min} min",
        )


class Site(Value, frozen=True, kw_only=True):
    """A place where people vote. `seed_key` keeps its random draws when its id changes."""

    id: str
    name: str
    address: str = ""
    area: str = ""
    kind: str | None = None
    hours: tuple[Hours, ...] = ()
    registered: int | None = None
    expected_voters: int | None = None
    door_clear_um: int | None = None
    room_width_um: int | None = None
    room_depth_um: int | None = None
    outlets: int | None = None
    access_from_min: int | None = None
    openers: tuple[str, ...] = ()
    contact: str | None = None
    language_assistance: tuple[str, ...] = ()
    seed_key: str = ""
    notes: str = ""

    def __post_init__(self) -> None:
        require_part(self.id, "a site's id")

    @property
    def key(self) -> str:
        """The seed key: the table's own, else the id."""
        return self.seed_key or self.id


class Precinct(Value, frozen=True, kw_only=True):
    """The smallest voting area on the rolls and the site it votes at.

    `style_told_by` says how check-in tells a voter's style where the precinct has more than one.
    """

    id: str
    site: str
    registered: int | None = None
    styles: tuple[str, ...] = ()
    style_told_by: str = ""


class PastCount(Value, frozen=True, kw_only=True):
    """In-person ballots of a past election in one precinct or site; `registered` as of then."""

    election: str
    date: dt.date
    unit: str
    mode: str
    ballots: int
    registered: int | None = None

    def __post_init__(self) -> None:
        require(self.ballots >= 0, f"{self.unit} {self.election}: ballots must be >= 0, got {self.ballots}")


class ArrivalShare(Value, frozen=True, kw_only=True):
    """Share of the day's voters who arrive in a clock hour, parts per million."""

    hour: int
    share_ppm: int


class Device(Value, frozen=True, kw_only=True):
    """One serial of the fleet. `fixed` (a site) with `reason` is a person's overruling."""

    id: str
    serial: str
    kind: str
    tag: str = ""
    home: str = ""
    state: str = "in service"
    memory_devices: tuple[str, ...] = ()
    lifetime_counter: int | None = None
    cart: str = ""
    fixed: str = ""
    reason: str = ""


class FleetTotal(Value, frozen=True, kw_only=True):
    """How many devices of a kind the county owns, where serials are not known."""

    kind: str
    count: int
    source: str = ""


class Person(Value, frozen=True, kw_only=True):
    """A person by id; names and phones are shown only to roles that need them."""

    id: str
    name: str
    role: str = ""
    site: str = ""
    phone: str = ""
    party: str = ""
    languages: tuple[str, ...] = ()


class SealRange(Value, frozen=True, kw_only=True, omit_defaults=True):
    """A block of seals of one kind and series in stock, from and to inclusive, as text.

    `check_character` says how the last character of each number is made; from and to are whole numbers, as
    they stand on the seals, and count up without that character.
    """

    seal_kind: str
    series: str
    first: str
    last: str
    # Left out of the digest where blank, so that a county without check characters keeps its digests.
    check_character: str = ""

    def __post_init__(self) -> None:
        known = [scheme.value for scheme in CheckScheme]
        require(
            self.check_character in ("", *known),
            f"check_character must be blank or one of {', '.join(known)}, got {self.check_character!r}",
        )

    @property
    def scheme(self) -> CheckScheme:
        """The check character of the series; none where the cell is blank."""
        return CheckScheme(self.check_character or CheckScheme.NONE)


class ClosureSeal(Value, frozen=True, kw_only=True):
    """The number that stands on a device's closure after test (entered or scanned by two people).

    `counts_from` is the first operating day for which it counts; None counts from the first test on. A device
    that is tested and sealed again between early voting and election day has a row for each.
    """

    device: str
    closure: str
    position: int = 1
    counts_from: dt.date | None = None
    number: str


class FixedValue(Value, frozen=True, kw_only=True):
    """A person's overruling of a plan table's field, with the reason."""

    table: str
    row: str
    field: str
    value: str
    reason: str

    def __post_init__(self) -> None:
        require(bool(self.reason.strip()), f"fixed value {self.table} {self.row} {self.field} needs a reason")


class Election(Value, frozen=True, kw_only=True):
    """The whole county for one election."""

    county: str
    name: str
    election_day: dt.date
    zone_name: str
    rules: CountyRules = CountyRules()
    station_types: tuple[StationType, ...] = ()
    site_kinds: tuple[SiteKind, ...] = ()
    sites: tuple[Site, ...] = ()
    precincts: tuple[Precinct, ...] = ()
    history: tuple[PastCount, ...] = ()
    arrivals: tuple[ArrivalShare, ...] = ()
    devices: tuple[Device, ...] = ()
    fleet_totals: tuple[FleetTotal, ...] = ()
    people: tuple[Person, ...] = ()
    seal_ranges: tuple[SealRange, ...] = ()
    closure_seals: tuple[ClosureSeal, ...] = ()
    fixed: tuple[FixedValue, ...] = ()
    rooms: tuple[Room, ...] = ()
    room_corners: tuple[RoomCorner, ...] = ()
    doors: tuple[Door, ...] = ()
    circuits: tuple[Circuit, ...] = ()
    outlets: tuple[Outlet, ...] = ()
    ports: tuple[Port, ...] = ()
    site_access: tuple[SiteAccess, ...] = ()
    site_survey: tuple[SiteSurvey, ...] = ()
    site_routes: tuple[SiteRoute, ...] = ()
    site_voters: tuple[SiteVoters, ...] = ()
    site_times: tuple[SiteTime, ...] = ()
    vehicles: tuple[Vehicle, ...] = ()
    delivery_stops: tuple[DeliveryStop, ...] = ()
    seal_receipts: tuple[SealReceipt, ...] = ()
    seal_voids: tuple[SealVoid, ...] = ()
    label_stock: tuple[LabelStock, ...] = ()
    seal_returns: tuple[SealReturn, ...] = ()
    seal_blocks: tuple[SealBlock, ...] = ()
    early_devices: tuple[EarlyUse, ...] = ()
    carts: tuple[Cart, ...] = ()
    tasks: tuple[Task, ...] = ()
    holidays: tuple[Holiday, ...] = ()
    site_contacts: tuple[SiteContact, ...] = ()
    ready_weights: tuple[ReadyWeight, ...] = ()
    incident_kinds: tuple[IncidentKind, ...] = ()
    reading_errors: tuple[ReadingError, ...] = ()
    fault_odds: tuple[FaultOdds, ...] = ()
    next_acts: tuple[ActCost, ...] = ()
    form_lines: tuple[FormLine, ...] = ()
    style_sheets: tuple[StyleSheets, ...] = ()
    contests: tuple[Contest, ...] = ()
    choices: tuple[Choice, ...] = ()
    ballot_contests: tuple[BallotContest, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    practice: bool = False
    invented: bool = False

    def __post_init__(self) -> None:
        zone(self.zone_name)
        for what, ids in (
            ("site ids", tuple(s.id for s in self.sites)),
            ("station type ids", tuple(t.id for t in self.station_types)),
            ("site kind ids", tuple(k.id for k in self.site_kinds)),
            ("device ids", tuple(d.id for d in self.devices)),
            ("person ids", tuple(p.id for p in self.people)),
            ("precinct ids", tuple(p.id for p in self.precincts)),
            ("contest ids", tuple(c.id for c in self.contests)),
        ):
            require_unique(ids, what)

    def site(self, site_id: str) -> Site:
        """The site with this id; raises KeyError naming it otherwise."""
        return _find(self.sites, site_id, "site")

    def station_type(self, type_id: str) -> StationType:
        """The station type with this id; raises KeyError naming it otherwise."""
        return _find(self.station_types, type_id, "station type")

    def site_kind(self, kind_id: str) -> SiteKind:
        """The kind of site with this id; raises KeyError naming it otherwise."""
        return _find(self.site_kinds, kind_id, "site kind")

    def operating_day(self, date: dt.date) -> OperatingDay:
        """The operating day of `date` in the county's zone."""
        return OperatingDay(date=date, zone_name=self.zone_name)


_T = TypeVar("_T", Site, StationType, SiteKind)


def _find(items: tuple[_T, ...], wanted: str, what: str) -> _T:
    for item in items:
        if item.id == wanted:
            return item
    raise KeyError(f"no {what} has the id {wanted!r}")
