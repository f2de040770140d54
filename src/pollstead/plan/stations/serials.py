"""Who gets which machine: every place for a serial and the device that stands there.

The order of claims, the same for every kind of device: a person's fixed site; the tag of the machine that
the part belongs to; the device's home site; the site where an earlier version put it; then the rest, by
serial. What is short is shared out so that no site goes without while another has two more than it.
"""

from __future__ import annotations

import enum
from collections import defaultdict

from pollstead.election.county import Device
from pollstead.election.station_type import DeviceOrder
from pollstead.plan.stations.order import in_order


class Claim(enum.Enum):
    """Why a device stands where it stands; the earlier claim wins."""

    FIXED = "fixed"
    TAG = "tag"
    HOME = "home"
    EARLIER = "earlier"
    REST = "rest"


class Place:
    """One place for a serial: the part of a station. `lead` is the place whose tag it goes by."""

    __slots__ = ("claim", "device", "kind", "lead", "order", "part", "rank", "site", "station")

    def __init__(
        self,
        *,
        site: str,
        station: str,
        part: str,
        kind: str,
        rank: int,
        order: DeviceOrder,
        lead: Place | None,
    ) -> None:
        self.site = site
        self.station = station
        self.part = part
        self.kind = kind
        self.rank = rank
        self.order = order
        self.lead = lead
        self.device: Device | None = None
        self.claim = Claim.REST

    @property
    def by_fixed(self) -> bool:
        """Whether a person fixed the device to this site."""
        return self.device is not None and self.device.fixed == self.site


class _Pool:
    """The devices that stand nowhere yet, by serial low to high."""

    def __init__(self, fleet: list[Device]) -> None:
        self.free = {device.id: device for device in in_order(fleet, DeviceOrder.LOW_TO_HIGH)}

    def of_kind(self, kind: str) -> list[Device]:
        return [device for device in self.free.values() if device.kind == kind]

    def take(self, device: Device) -> Device:
        return self.free.pop(device.id)


def give_devices(places: list[Place], fleet: list[Device], earlier: dict[str, str]) -> list[Device]:
    """Set `device` of as many places as the fleet allows; gives back the devices left over.

    `places` come in the order of sites and stations; `earlier` is device id -> site of an earlier version.
    """
    pool = _Pool(fleet)
    groups: dict[tuple[int, str], list[Place]] = defaultdict(list)
    for place in places:
        groups[place.rank, place.kind].append(place)
    for rank, kind in sorted(groups):
        _give_kind(groups[rank, kind], kind, pool, earlier)
    return list(pool.free.values())


def _give_kind(places: list[Place], kind: str, pool: _Pool, earlier: dict[str, str]) -> None:
    open_places: dict[str, list[Place]] = defaultdict(list)
    for place in places:
        open_places[place.site].append(place)
    chosen: dict[str, list[Device]] = {site: [] for site in open_places}
    claims: dict[str, Claim] = {}

    def claim(site: str, device: Device, why: Claim) -> None:
        if site in chosen and len(open_places[site]) > len(chosen[site]):
            chosen[site].append(pool.take(device))
            claims[device.id] = why

    for device in pool.of_kind(kind):
        claim(device.fixed, device, Claim.FIXED)
    _give_by_tag(open_places, chosen, pool, kind)
    for device in pool.of_kind(kind):
        if not device.fixed:
            claim(device.home, device, Claim.HOME)
    for device in pool.of_kind(kind):
        if not device.fixed:
            claim(earlier.get(device.id, ""), device, Claim.EARLIER)
    rest = [device for device in pool.of_kind(kind) if not device.fixed]
    wants = {site: len(here) - len(chosen[site]) for site, here in open_places.items()}
    shares = _shares(wants, {site: len(devices) for site, devices in chosen.items()}, len(rest))
    for site, share in shares.items():
        for device in rest[:share]:
            claim(site, device, Claim.REST)
        del rest[:share]
    for site, here in open_places.items():
        if here:
            waiting = in_order(chosen[site], here[0].order)
            for place, device in zip(here, waiting, strict=False):
                place.device = device
                place.claim = claims[device.id]


def _give_by_tag(
    open_places: dict[str, list[Place]], chosen: dict[str, list[Device]], pool: _Pool, kind: str
) -> None:
    """Set the places whose station's first machine has a tag that a free device of this kind shares."""
    tagged: dict[str, list[Device]] = defaultdict(list)
    for device in pool.of_kind(kind):
        if device.tag and not device.fixed:
            tagged[device.tag].append(device)
    for site, here in open_places.items():
        room = len(here) - len(chosen[site])
        for place in here:
            lead = place.lead.device if place.lead is not None else None
            if room > 0 and lead is not None and tagged.get(lead.tag):
                place.device = pool.take(tagged[lead.tag].pop(0))
                place.claim = Claim.TAG
                room -= 1
        open_places[site] = [place for place in here if place.device is None]


def _shares(wants: dict[str, int], have: dict[str, int], stock: int) -> dict[str, int]:
    """How many of `stock` each site gets of what it wants; who has least comes first, then site order."""
    if sum(wants.values()) <= stock:
        return wants
    claims = sorted(
        (have[site] + extra, index, site)
        for index, (site, wanted) in enumerate(wants.items())
        for extra in range(wanted)
    )
    shares = dict.fromkeys(wants, 0)
    for _, _, site in claims[:stock]:
        shares[site] += 1
    return shares
