"""Every thing of a county that can be searched for, from its facts and a plan version."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from pollstead.election.county import Election
from pollstead.plan.terms.version import PlanVersion, SitePlan
from pollstead.show.web.finding import Sort, Thing


def site_address(site: str) -> str:
    """The address of a site's page."""
    return f"/site/{site.removeprefix('site/')}"


def things_of(
    election: Election, version: PlanVersion | None, *, seals_at: frozenset[str] | None, people: bool
) -> tuple[Thing, ...]:
    """All things; seals only at the sites `seals_at` (None: everywhere), people only where asked for."""
    names = {site.id.removeprefix("site/"): site.name for site in election.sites}
    plans = () if version is None else version.sites
    found = [*_sites(election), *_precincts(election, names), *_devices(election, plans, names)]
    found += _carts(election, plans, names)
    found += _seals(election, plans, seals_at)
    if people:
        found += _people(election, names)
    if version is not None:
        found += [
            Thing(
                sort=Sort.NOTICE,
                codes=(n.key, n.rule),
                name=n.text.english(),
                where=n.subject,
                link="/open",
                subject=n.key,
            )
            for n in version.notices
        ]
    return tuple(found)


def _sites(election: Election) -> Iterator[Thing]:
    for site in election.sites:
        key = site.id.removeprefix("site/")
        yield Thing(
            sort=Sort.SITE,
            codes=(key, site.name, site.address),
            name=site.name,
            where=site.address or site.area,
            link=site_address(key),
            subject=f"site/{key}",
        )


def _precincts(election: Election, names: dict[str, str]) -> Iterator[Thing]:
    for precinct in election.precincts:
        site = precinct.site.removeprefix("site/")
        yield Thing(
            sort=Sort.PRECINCT,
            codes=(precinct.id,),
            where=names.get(site, site),
            link=site_address(site),
            subject=f"precinct/{precinct.id}",
        )


def _places(plans: tuple[SitePlan, ...]) -> dict[str, tuple[str, str]]:
    """Where each device of the plan stands: its site and its station with a number."""
    return {
        part.device: (plan.site, f"{station.station_type} {station.number}")
        for plan in plans
        for station in plan.stations
        for part in station.parts
        if part.device
    }


def _devices(election: Election, plans: tuple[SitePlan, ...], names: dict[str, str]) -> Iterator[Thing]:
    places = _places(plans)
    types = {kind.id: kind.name for kind in election.station_types}
    for device in election.devices:
        site, station = places.get(device.id, (device.home.removeprefix("site/"), ""))
        kind, _, number = station.rpartition(" ")
        where = ", ".join(
            p for p in (names.get(site, site), f"{types.get(kind, kind)} {number}".strip()) if p
        )
        link = f"{site_address(site)}#stations" if site in names else ""
        common = {"where": where, "link": link, "state": device.state}
        yield Thing(
            sort=Sort.DEVICE,
            codes=tuple(c for c in (device.serial, device.tag, device.id) if c),
            name=device.kind,
            who=device.cart,
            subject=device.id,
            **common,
        )
        for memory in device.memory_devices:
            yield Thing(
                sort=Sort.MEMORY_DEVICE,
                codes=(memory,),
                name=f"{device.kind} {device.serial}",
                subject=f"memory/{memory}",
                **common,
            )


def _carts(election: Election, plans: tuple[SitePlan, ...], names: dict[str, str]) -> Iterator[Thing]:
    sites: dict[str, set[str]] = defaultdict(set)
    for device in election.devices:
        if device.cart:
            sites[device.cart].add(device.home.removeprefix("site/"))
    tags = {cart.id: cart.tag for cart in election.carts}
    for cart in election.carts:
        sites[cart.id].add(cart.site.removeprefix("site/"))
    for cart_id in sorted(sites):
        homes = sorted(s for s in sites[cart_id] if s)
        yield Thing(
            sort=Sort.CART,
            codes=tuple(c for c in (cart_id, tags.get(cart_id, "")) if c),
            where=", ".join(names.get(s, s) for s in homes),
            link=f"{site_address(homes[0])}#stations" if homes and homes[0] in names else "",
            subject=f"cart/{cart_id}",
        )


def _seals(
    election: Election, plans: tuple[SitePlan, ...], seals_at: frozenset[str] | None
) -> Iterator[Thing]:
    numbers: set[str] = set()
    for plan in plans:
        for station in plan.stations:
            for seal in station.seals:
                numbers.add(seal.number)
                if seal.number and (seals_at is None or plan.site in seals_at):
                    yield Thing(
                        sort=Sort.SEAL,
                        codes=(seal.number,),
                        name=f"{seal.name} {seal.position}" if seal.position > 1 else seal.name,
                        where=f"{plan.name}, {station.station_type} {station.number}",
                        state=seal.seal_kind,
                        link=f"{site_address(plan.site)}#seals",
                        subject=f"{seal.closure}/{seal.position}",
                    )
    if seals_at is not None:
        return
    for one in election.closure_seals:
        if one.number not in numbers:
            yield Thing(
                sort=Sort.SEAL,
                codes=(one.number,),
                name=f"{one.closure} {one.position}" if one.position > 1 else one.closure,
                where=one.device,
                subject=f"{one.device}/{one.closure}/{one.position}",
            )


def _people(election: Election, names: dict[str, str]) -> Iterator[Thing]:
    for person in election.people:
        site = person.site.removeprefix("site/")
        yield Thing(
            sort=Sort.PERSON,
            codes=(person.name, person.id),
            name=person.role,
            where=names.get(site, site),
            link=f"{site_address(site)}#people" if site in names else "",
            subject=f"person/{person.id.removeprefix('person/')}",
        )
