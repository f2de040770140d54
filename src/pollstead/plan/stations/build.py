"""Counts of station types to stations with ids, parts and serials; totals against the fleet."""

from __future__ import annotations

from collections import Counter

from pollstead.election.county import Device
from pollstead.election.identity import make_id
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import IdentifiedBy, Part, StationType
from pollstead.election.units import PPM
from pollstead.election.words import N_, message
from pollstead.plan.stations.carts import away_from_cart
from pollstead.plan.stations.early import Phase, phases_of, station_number
from pollstead.plan.stations.serials import Claim, Place, give_devices
from pollstead.plan.terms.part import Effort, Figure, Outcome, Reason, Watch, plain
from pollstead.plan.terms.stations import SiteCounts, SiteStations, StationsAnswer, StationsGiven
from pollstead.plan.terms.version import KindTotal, PartOfStation, Spare, Station

IN_SERVICE = "in service"


def run(
    given: StationsGiven, rules: CountyRules, seed: int, effort: Effort, watch: Watch
) -> Outcome[StationsAnswer]:
    """Make the stations of every site and give them their devices; nothing here is drawn by chance.

    A station that no device is left for keeps its place with an empty serial, and a notice says so.
    """
    types = {t.id: t for t in given.station_types}
    fleet = [d for d in given.devices if d.state == IN_SERVICE and d.id not in given.left_out]
    kinds_with_serials = {d.kind for d in given.devices}
    sites = sorted(given.sites, key=lambda s: s.key)
    phases = {
        (s.site, c.station_type): phases_of(types[c.station_type], s, given.early_devices, rules)
        for s in sites
        for c in s.counts
    }
    every = [
        place
        for s in sites
        for c in s.counts
        for phase in phases[s.site, c.station_type]
        for place in _places(s.site, types[c.station_type], c.count, phase)
    ]
    places = [place for place in every if not place.phase.again]
    twice = [place for place in every if place.phase.again]
    # A device deployed again stood at two places: here the one of election day counts.
    before = sorted(given.previous, key=lambda at: not at.early)
    stood = {at.device: at.station for at in before if at.station}
    left = give_devices(places, fleet, {at.device: (at.site, at.early) for at in before}, stood)
    free = _free_before(places, left, sites)
    early = [at for at in before if at.early]
    stood_early = {at.device: at.station for at in early if at.station}
    give_devices(twice, free, {at.device: (at.site, True) for at in early}, stood_early)
    used_before = {place.device.id for place in twice if place.device is not None}
    left = [device for device in left if device.id not in used_before]
    by_station: dict[str, list[Place]] = {}
    for place in every:
        by_station.setdefault(place.station, []).append(place)
    built = []
    for index, s in enumerate(sites):
        watch.step("stations", index, len(sites))
        stations = tuple(
            _station(s.site, types[c.station_type], number, phase, by_station, used_before)
            for c in s.counts
            for phase in phases[s.site, c.station_type]
            for number in range(1, c.count + 1)
        )
        built.append(SiteStations(site=s.site, stations=stations))
    totals, reasons, notices = _totals(given, places, twice, fleet, left, rules)
    needed = {place.kind for place in every}
    answer = StationsAnswer(
        sites=tuple(built),
        totals=totals,
        spares=tuple(
            Spare(device=d.id, kind=d.kind, serial=d.serial, tag=d.tag) for d in left if d.kind in needed
        ),
    )
    notices += _missing(every, kinds_with_serials)
    notices += _fixed_without_place(given, every)
    notices += away_from_cart(every, given.devices, given.carts)
    reasons = (
        *reasons,
        *(_place_reason(place, place.device) for place in every if place.device is not None),
    )
    return Outcome(answer, notices=tuple(notices), reasons=reasons, work_units=len(every))


def _free_before(places: list[Place], left: list[Device], sites: list[SiteCounts]) -> list[Device]:
    """The devices that nobody uses before election day: spares, and those that stand from that day on."""
    only_late = {s.site for s in sites if not s.early}
    standing = [
        place.device
        for place in places
        if place.device is not None and (place.phase.first_day is not None or place.site in only_late)
    ]
    return [*left, *standing]


def _places(site: str, station_type: StationType, count: int, phase: Phase) -> list[Place]:
    """The places for serials of all stations of one type at a site, the station's first machine first."""
    found = []
    for number in range(1, count + 1):
        station = make_id("station", site, station_type.id, station_number(number, phase))
        lead: Place | None = None
        for rank, part in enumerate(station_type.serial_parts()):
            for _ in range(part.per_station):
                place = Place(
                    site=site,
                    station=station,
                    part=part.id,
                    kind=part.device_kind,
                    rank=rank,
                    order=part.order,
                    lead=lead,
                    phase=phase,
                )
                found.append(place)
                lead = lead or place
    return found


def _station(
    site: str,
    station_type: StationType,
    number: int,
    phase: Phase,
    by_station: dict[str, list[Place]],
    used_before: set[str],
) -> Station:
    station_id = make_id("station", site, station_type.id, station_number(number, phase))
    mine = by_station.get(station_id, [])
    parts: list[PartOfStation] = []
    for part in station_type.parts:
        if part.identified_by is IdentifiedBy.SERIAL:
            parts += [_with_serial(part, place, used_before) for place in mine if place.part == part.id]
        else:
            parts.append(PartOfStation(part=part.id, name=part.name, quantity=part.per_station))
    return Station(
        id=station_id,
        station_type=station_type.id,
        number=number,
        parts=tuple(parts),
        first_day=phase.first_day,
        last_day=phase.last_day,
    )


def _with_serial(part: Part, place: Place, used_before: set[str]) -> PartOfStation:
    device = place.device
    if device is None:
        return PartOfStation(part=part.id, name=part.name, quantity=1, by_serial=True)
    return PartOfStation(
        part=part.id,
        name=part.name,
        quantity=1,
        device=device.id,
        serial=device.serial,
        tag=device.tag,
        cart=device.cart,
        lifetime_counter=device.lifetime_counter,
        memory_devices=device.memory_devices,
        by_serial=True,
        fixed=place.by_fixed,
        again=device.id in used_before and not place.phase.early,
    )


_BY_CLAIM = {
    Claim.FIXED: N_("{serial} stands at {station} because a person fixed it there: {reason}"),
    Claim.TAG: N_("{serial} stands at {station} because it shares the tag {tag} with the machine there."),
    Claim.HOME: N_("{serial} stands at {station} because {site} is its home."),
    Claim.EARLIER: N_("{serial} stands at {station} because it stood at {site} in the version before."),
    Claim.REST: N_("{serial} stands at {station}: it was the next by serial that had no other claim."),
}


def _place_reason(place: Place, device: Device) -> Reason:
    """Why a device stands at its station."""
    return Reason(
        subject=device.id,
        field="station",
        text=message(
            _BY_CLAIM[place.claim],
            serial=device.serial,
            station=place.station,
            site=place.site,
            tag=device.tag,
            reason=device.reason,
        ),
    )


def _totals(
    given: StationsGiven,
    places: list[Place],
    twice: list[Place],
    fleet: list[Device],
    left: list[Device],
    rules: CountyRules,
) -> tuple[tuple[KindTotal, ...], tuple[Reason, ...], list[Notice]]:
    """Planned, owned, left over and short for each kind of device, with what a person should know."""
    planned = Counter(place.kind for place in places)
    serials = Counter(d.kind for d in fleet)
    all_serials = Counter(d.kind for d in given.devices)
    told: Counter[str] = Counter()
    for total in given.fleet_totals:
        told[total.kind] += total.count
    share = rules.whole("spare-share")
    totals, reasons, notices = [], [], []
    for kind in sorted({*planned, *all_serials, *told}):
        known = serials[kind] if kind in all_serials else told.get(kind)
        need = planned[kind]
        if kind in all_serials:
            placed = sum(1 for place in places if place.kind == kind and place.device is not None)
            # A place before election day that no device is free for is short too.
            empty = sum(1 for place in twice if place.kind == kind and place.device is None)
            spares, short = sum(1 for d in left if d.kind == kind), need - placed + empty
            need += empty
        else:
            spares, short = max(0, (known or 0) - need), max(0, need - known) if known is not None else 0
        totals.append(KindTotal(kind=kind, planned=need, owned=known, spares=spares, short=short))
        if not need:
            continue
        reasons.append(_total_reason(kind, need, known, kind in all_serials))
        if known is None:
            notices.append(_fleet_unknown(kind, need))
            continue
        if short:
            notices.append(_fleet_short(kind, need, known, short))
        wanted = -(-known * share // PPM)
        if spares < wanted:
            notices.append(_spares_short(kind, spares, wanted, known))
    return tuple(totals), tuple(reasons), notices


def _total_reason(kind: str, need: int, known: int | None, by_serial: bool) -> Reason:
    return Reason(
        subject=f"device/{kind}",
        field="planned",
        text=message(
            N_("Devices of kind {kind} at sites: {planned}; the county has {owned} in service."),
            planned=need,
            kind=kind,
            owned="?" if known is None else known,
        ),
        figures=(
            Figure(name="planned", value=plain(need)),
            Figure(
                name="owned",
                value="unknown" if known is None else plain(known),
                source="devices.csv" if by_serial else "fleet_totals.csv",
            ),
        ),
    )


def _fleet_unknown(kind: str, need: int) -> Notice:
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="fleet-unknown",
        subject=f"device/{kind}",
        text=message(
            N_("How many devices of kind {kind} the county has is not known; the plan needs {planned}."),
            kind=kind,
            planned=need,
        ),
        remedy=message(N_("Add the serials to devices.csv, or the number to fleet_totals.csv.")),
        depends=(str(need),),
    )


def _fleet_short(kind: str, need: int, known: int, short: int) -> Notice:
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="fleet-short",
        subject=f"device/{kind}",
        text=message(
            N_("Devices of kind {kind} short: {short}. The plan needs {planned}, in service are {owned}."),
            short=short,
            kind=kind,
            planned=need,
            owned=known,
        ),
        found=plain(known),
        wanted=plain(need),
        remedy=message(
            N_("Rent or repair devices, or fix smaller numbers at sites and look at the waits that follow.")
        ),
        depends=(str(need), str(known)),
    )


def _spares_short(kind: str, spares: int, wanted: int, known: int) -> Notice:
    return Notice(
        kind=NoticeKind.RULE_NOT_MET,
        rule="spare-share",
        subject=f"device/{kind}",
        text=message(
            N_("Devices of kind {kind} left as spares: {spares}; the county's rule asks for {wanted}."),
            spares=spares,
            kind=kind,
            wanted=wanted,
        ),
        found=plain(spares),
        wanted=plain(wanted),
        depends=(str(spares), str(known)),
    )


def _missing(places: list[Place], kinds_with_serials: set[str]) -> list[Notice]:
    """One open item for each site where places stay empty although serials of the kind are known."""
    empty: dict[str, Counter[str]] = {}
    for place in places:
        if place.device is None and place.kind in kinds_with_serials:
            empty.setdefault(place.site, Counter())[place.kind] += 1
    notices = []
    for site, kinds in sorted(empty.items()):
        listed = ", ".join(f"{kind} {count}" for kind, count in sorted(kinds.items()))
        notices.append(
            Notice(
                kind=NoticeKind.OPEN_ITEM,
                rule="device-missing",
                subject=make_id("site", site),
                text=message(N_("Stations of this site have no device yet: {kinds}."), kinds=listed),
                depends=(listed,),
            )
        )
    return notices


def _fixed_without_place(given: StationsGiven, places: list[Place]) -> list[Notice]:
    """An open item for each device that a person fixed to a site and that does not stand there."""
    standing = {place.device.id for place in places if place.device is not None}
    return [
        Notice(
            kind=NoticeKind.OPEN_ITEM,
            rule="fixed-device",
            subject=device.id,
            text=message(
                N_("{serial} ({state}) is fixed to site {site} but does not stand there."),
                serial=device.serial,
                state=device.state,
                site=device.fixed,
            ),
            remedy=message(
                N_("Fix one station more there, put the device in service, or take the fixed site away.")
            ),
            depends=(device.fixed, device.state),
        )
        for device in given.devices
        if device.fixed and device.id not in standing
    ]
