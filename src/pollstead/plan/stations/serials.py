"""Who gets which machine: every place for a serial and the device that stands there.

The order of claims, the same for every kind of device: a person's fixed site; the tag of the machine that
the part belongs to; the device's home site; the site where an earlier version put it; then the rest, by
serial. What is short is shared out so that no site goes without while another has two more than it.
"""

from __future__ import annotations

import enum
from collections import defaultdict
from collections.abc import Callable

from pollstead.election.county import Device
from pollstead.election.station_type import DeviceOrder
from pollstead.plan.stations.early import THROUGHOUT, Phase
from pollstead.plan.stations.order import in_order

Group = tuple[str, bool]
"""A site, and whether it is about the days before election day only."""


class Claim(enum.Enum):
    """Why a device stands where it stands; the earlier claim wins."""

    FIXED = "fixed"
    TAG = "tag"
    HOME = "home"
    EARLIER = "earlier"
    REST = "rest"


class Place:
    """One place for a serial: the part of a station. `lead` is the place whose tag it goes by.

    `phase` says on which days of the site the station stands.
    """

    __slots__ = ("claim", "device", "kind", "lead", "order", "part", "phase", "rank", "site", "station")

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
        phase: Phase = THROUGHOUT,
    ) -> None:
        self.site = site
        self.station = station
        self.part = part
        self.kind = kind
        self.rank = rank
        self.order = order
        self.lead = lead
        self.phase = phase
        self.device: Device | None = None
        self.claim = Claim.REST

    @property
    def group(self) -> Group:
        """The places among which the device of one claim is the same to everybody."""
        return self.site, self.phase.early

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


def give_devices(
    places: list[Place],
    fleet: list[Device],
    earlier: dict[str, Group],
    stood: dict[str, str] | None = None,
) -> list[Device]:
    """Set `device` of as many places as the fleet allows; gives back the devices left over.

    `places` come in the order of sites and stations; `earlier` is device id -> where an earlier version put
    it. A device that several groups of one site could have stays in the one where it stood. `stood` is device
    id -> station: there it stays, so that a swap moves one machine; new ones fill the rest in serial order.
    """
    pool = _Pool(fleet)
    groups: dict[tuple[int, str], list[Place]] = defaultdict(list)
    for place in places:
        groups[place.rank, place.kind].append(place)
    for rank, kind in sorted(groups):
        _give_kind(groups[rank, kind], kind, pool, earlier, stood or {})
    return list(pool.free.values())


def _give_kind(
    places: list[Place], kind: str, pool: _Pool, earlier: dict[str, Group], stood: dict[str, str]
) -> None:
    open_places: dict[Group, list[Place]] = defaultdict(list)
    for place in places:
        open_places[place.group].append(place)
    chosen: dict[Group, list[Device]] = {group: [] for group in open_places}
    claims: dict[str, Claim] = {}

    def claim(group: Group, device: Device, why: Claim) -> bool:
        if group not in chosen or len(open_places[group]) <= len(chosen[group]):
            return False
        chosen[group].append(pool.take(device))
        claims[device.id] = why
        return True

    def claim_all(site_of: Callable[[Device], str], why: Claim, *, decided: bool) -> None:
        mine = [d for d in pool.of_kind(kind) if bool(d.fixed) == decided and site_of(d)]
        # Whoever stood at the site keeps its place there; then the others, election day's places first.
        for device in mine:
            if earlier.get(device.id, ("", False))[0] == site_of(device):
                claim(earlier[device.id], device, why)
        for device in mine:
            if device.id not in claims:
                claim((site_of(device), False), device, why) or claim((site_of(device), True), device, why)

    claim_all(lambda d: d.fixed, Claim.FIXED, decided=True)
    _give_by_tag(open_places, chosen, pool, kind)
    claim_all(lambda d: d.home, Claim.HOME, decided=False)
    claim_all(lambda d: earlier.get(d.id, ("", False))[0], Claim.EARLIER, decided=False)
    rest = [device for device in pool.of_kind(kind) if not device.fixed]
    wants = {group: len(here) - len(chosen[group]) for group, here in open_places.items()}
    shares = _shares(wants, {group: len(devices) for group, devices in chosen.items()}, len(rest))
    for group, share in shares.items():
        for device in rest[:share]:
            claim(group, device, Claim.REST)
        del rest[:share]
    for group, here in open_places.items():
        if here:
            waiting = in_order(chosen[group], here[0].order)
            empty = _stay(here, waiting, stood)
            rest_here = [device for device in waiting if all(p.device is not device for p in here)]
            for place, device in zip(empty, rest_here, strict=False):
                place.device = device
            for place in here:
                if place.device is not None:
                    place.claim = claims[place.device.id]


def _stay(here: list[Place], waiting: list[Device], stood: dict[str, str]) -> list[Place]:
    """Leave every device at the station where it stood before; the places that are empty then."""
    for device in waiting:
        same = (p for p in here if p.device is None and p.station == stood.get(device.id))
        place = next(same, None)
        if place is not None:
            place.device = device
    return [place for place in here if place.device is None]


def _give_by_tag(
    open_places: dict[Group, list[Place]], chosen: dict[Group, list[Device]], pool: _Pool, kind: str
) -> None:
    """Set the places whose station's first machine has a tag that a free device of this kind shares."""
    tagged: dict[str, list[Device]] = defaultdict(list)
    for device in pool.of_kind(kind):
        if device.tag and not device.fixed:
            tagged[device.tag].append(device)
    for group, here in open_places.items():
        room = len(here) - len(chosen[group])
        for place in here:
            lead = place.lead.device if place.lead is not None else None
            if room > 0 and lead is not None and tagged.get(lead.tag):
                place.device = pool.take(tagged[lead.tag].pop(0))
                place.claim = Claim.TAG
                room -= 1
        open_places[group] = [place for place in here if place.device is None]


def _shares(wants: dict[Group, int], have: dict[Group, int], stock: int) -> dict[Group, int]:
    """How many of `stock` each group gets of what it wants; who has least comes first, then site order."""
    if sum(wants.values()) <= stock:
        return wants
    claims = sorted(
        (have[group] + extra, index, group)
        for index, (group, wanted) in enumerate(wants.items())
        for extra in range(wanted)
    )
    shares = dict.fromkeys(wants, 0)
    for _, _, group in claims[:stock]:
        shares[group] += 1
    return shares
