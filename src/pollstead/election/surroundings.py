"""Around a site: where it lies, roads, water, other uses by the hour, vehicles, how its voters come."""

from __future__ import annotations

import datetime as dt

from pollstead.election.identity import require_part
from pollstead.election.values import Value, require

TIME_KINDS = ("other use", "before", "traffic", "parking", "road closed", "ferry")
"""What a row of ``site_times.csv`` can be: another use of the room; something that may be left from
before; traffic at the door; parking or an unloading place blocked; the road closed (water, works); a
ferry's departure."""


MOST_STOPS = 500


class SiteRoute(Value, frozen=True, kw_only=True):
    """The way to a site and back. `x_m` and `y_m` count from the warehouse, east and north.

    `returns_to` is a site that receives after close, or blank for the office; `returns_by` says how
    the two people travel. `receiving_lead` is the person in charge where this site receives.
    """

    site: str
    x_m: int | None = None
    y_m: int | None = None
    drive_min: int | None = None
    vehicle: str = ""
    truck_limit_um: int | None = None
    road_grade_ppm: int | None = None
    snow_plan: str = ""
    returns_to: str = ""
    returns_by: str = ""
    receives: bool | None = None
    receiving_lead: str = ""


class SiteTime(Value, frozen=True, kw_only=True):
    """Something that happens at or around a site between two times; `settled` says what was agreed."""

    site: str
    date: dt.date
    kind: str
    from_min: int
    to_min: int
    what: str = ""
    settled: str = ""

    def __post_init__(self) -> None:
        require(self.kind in TIME_KINDS, f"kind must be one of {', '.join(TIME_KINDS)}, got {self.kind!r}")
        require(
            self.from_min <= self.to_min, f"from must not be after to, got {self.from_min}, {self.to_min}"
        )


class Vehicle(Value, frozen=True, kw_only=True):
    """A vehicle of the warehouse; length over all, what it may carry, and whether it has a lift gate."""

    id: str
    name: str = ""
    length_um: int | None = None
    height_um: int | None = None
    payload_kg: int | None = None
    carts: int | None = None
    lift_gate: bool | None = None

    def __post_init__(self) -> None:
        require_part(self.id, "a vehicle's id")


class DeliveryStop(Value, frozen=True, kw_only=True):
    """One stop of one vehicle on one day: its number in the order of driving, its site, when it is due there.

    What goes to a site is its carts and its supply case; who drives is told at the load-out, not here.
    """

    vehicle: str
    date: dt.date
    stop: int
    site: str
    arrives_min: int | None = None

    def __post_init__(self) -> None:
        require_part(self.vehicle, "a vehicle's id")
        require(1 <= self.stop <= MOST_STOPS, f"stop must be 1 to {MOST_STOPS}, got {self.stop}")


class SiteVoters(Value, frozen=True, kw_only=True):
    """How the voters of one site differ from the county's: busy hours, changes of address, precincts kept
    apart (own lists, boxes and returns)."""

    site: str
    busy_from_min: int | None = None
    busy_to_min: int | None = None
    busy_share_ppm: int | None = None
    busy_plan: str = ""
    address_changes_ppm: int | None = None
    help_tables: int | None = None
    precincts_kept_apart: bool | None = None
    room_divided_by: str = ""
