"""What goes onto which vehicle, stop by stop, and how far each thing is: loaded, handed over, coming back.

A site's things are its carts and cases and its supply case. Things of the last stop are loaded first, so that
those of the first stop stand at the door: common practice, no source; varies by county.
"""

from __future__ import annotations

import datetime as dt
import enum
from collections.abc import Iterable, Mapping
from typing import Final

from pollstead.election.county import Election
from pollstead.election.instants import OperatingDay
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.custody.legs import Leg, LegKind
from pollstead.reconcile.custody.near_sites import NearSite, near_to
from pollstead.reconcile.custody.places import Held

WAREHOUSE: Final = "place/warehouse"
BOX: Final = "BOX"


class LoadState(enum.StrEnum):
    """How far one thing of a load is."""

    WAITS = N_("not loaded")
    LOADED = N_("on the vehicle")
    AT_SITE = N_("handed over")
    COMING_BACK = N_("on its way back")
    BACK = N_("back in the warehouse")


class Carried(Value, frozen=True, kw_only=True):
    """A cart or case as the book has it: id, the codes on its label, its site ("" for none), its devices."""

    cart: str
    codes: tuple[str, ...]
    site: str
    devices: int


class LoadThing(Value, frozen=True, kw_only=True):
    """One thing of a stop: its id, the codes on its label, how many devices it holds, its last leg."""

    thing: str
    codes: tuple[str, ...]
    site: str
    devices: int
    state: LoadState = LoadState.WAITS
    leg: Leg | None = None
    overdue: bool = False

    @property
    def code(self) -> str:
        """What people read on it."""
        return self.codes[0]


class Stop(Value, frozen=True, kw_only=True):
    """One stop: its number, site, when it is due (UTC ms; None where nobody said), things, sites like it."""

    number: int
    site: str
    name: str
    due_ms: int | None
    things: tuple[LoadThing, ...]
    near: tuple[NearSite, ...] = ()


class Drive(Value, frozen=True, kw_only=True):
    """One drive of one vehicle on one day, its stops in the order of driving."""

    vehicle: str
    name: str
    date: dt.date
    stops: tuple[Stop, ...]

    @property
    def id(self) -> str:
        """Date and vehicle, as an address has them."""
        return f"{self.date.isoformat()}/{self.vehicle}"

    @property
    def things(self) -> tuple[LoadThing, ...]:
        """Everything of the drive, stop by stop."""
        return tuple(thing for stop in self.stops for thing in stop.things)

    def count(self, *states: LoadState) -> int:
        """How many things are in one of these states."""
        return sum(thing.state in states for thing in self.things)

    def stop_of(self, site: str) -> Stop | None:
        """The stop at a site, None where the vehicle does not go there."""
        return next((stop for stop in self.stops if stop.site == site), None)

    def later_waits(self, site: str) -> bool:
        """Whether something of a later stop is not loaded yet: it would stand before this stop's things."""
        mine = self.stop_of(site)
        return mine is not None and any(
            thing.state is LoadState.WAITS
            for stop in self.stops
            if stop.number > mine.number
            for thing in stop.things
        )


def site_key(site: str) -> str:
    """A site's id without its prefix."""
    return site.removeprefix("site/")


def drives(
    election: Election, carts: Iterable[Carried], held: Mapping[str, Held], now_ms: int
) -> tuple[Drive, ...]:
    """Every drive of the table of stops, by date and vehicle; the time is stops × sites (names alike)."""
    names = {vehicle.id: vehicle.name for vehicle in election.vehicles}
    things = things_of_sites(election, carts, held, now_ms)
    by_drive: dict[tuple[dt.date, str], list[Stop]] = {}
    sites = {site_key(site.id): site for site in election.sites}
    for row in election.delivery_stops:
        key = site_key(row.site)
        site = sites.get(key)
        if site is None:
            continue
        clock = OperatingDay(date=row.date, zone_name=election.zone_name)
        by_drive.setdefault((row.date, row.vehicle), []).append(
            Stop(
                number=row.stop,
                site=key,
                name=site.name,
                due_ms=None if row.arrives_min is None else clock.at_wall_clock(row.arrives_min).utc_ms,
                things=things.get(key, ()),
                near=near_to(election, site.id),
            )
        )
    return tuple(
        Drive(
            vehicle=vehicle,
            name=names.get(vehicle, ""),
            date=date,
            stops=tuple(sorted(stops, key=lambda stop: stop.number)),
        )
        for (date, vehicle), stops in sorted(by_drive.items())
    )


def things_of_sites(
    election: Election, carts: Iterable[Carried], held: Mapping[str, Held], now_ms: int
) -> dict[str, tuple[LoadThing, ...]]:
    """Carts and cases of each site by its id, then its supply case."""
    grace = election.rules.whole("leg-grace")

    def thing(name: str, codes: tuple[str, ...], site: str, devices: int) -> LoadThing:
        mine = held.get(name)
        state, leg = _state(mine)
        late = mine is not None and mine.overdue(now_ms, grace)
        return LoadThing(
            thing=name, codes=codes, site=site, devices=devices, state=state, leg=leg, overdue=late
        )

    found: dict[str, list[LoadThing]] = {site_key(site.id): [] for site in election.sites}
    for cart in carts:
        if cart.site in found:
            found[cart.site].append(thing(f"cart/{cart.cart}", cart.codes, cart.site, cart.devices))
    for site, mine in found.items():
        mine.append(thing(f"box/{site}", (f"{BOX}-{site}",), site, 0))
    return {site: tuple(mine) for site, mine in found.items()}


def _state(held: Held | None) -> tuple[LoadState, Leg | None]:
    """How far a thing is by the last word about where it is."""
    if held is None or not held.at:
        return LoadState.WAITS, None
    leg = held.at[-1]
    home = leg.to_place == WAREHOUSE
    if leg.kind is LegKind.SENT:
        return (LoadState.COMING_BACK if home else LoadState.LOADED), leg
    return (LoadState.BACK if home else LoadState.AT_SITE), leg
