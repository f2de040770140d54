"""Find what a person means by what was typed or scanned: device, closure by its seal, person or site."""

from __future__ import annotations

import enum

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.changed.candidates import standing_of

MOST = 20


class Thing(enum.StrEnum):
    """What was found."""

    DEVICE = "device"
    CLOSURE = "closure"
    PERSON = "person"
    SITE = "site"


class Hit(Value, frozen=True, kw_only=True):
    """One thing found: its id, what people call it, where it is; `exact` where all of it was typed."""

    thing: Thing
    id: str
    name: str
    about: str
    site: str
    exact: bool


def find(election: Election, plan: PlanVersion | None, typed: str, *, seals: bool = True) -> tuple[Hit, ...]:
    """The things that `typed` names, whole matches first, twenty at most.

    Serials, tags, ids and memory devices name devices; seal numbers name closures (not looked at without
    `seals`); ids and names name people and sites. Case, and blanks at the ends, do not count.
    """
    wanted = typed.strip().casefold()
    if not wanted:
        return ()
    hits = [
        *_devices(election, plan, wanted),
        *(_closures(plan, wanted) if plan is not None and seals else ()),
        *_people(election, wanted),
        *_sites(election, wanted),
    ]
    return tuple(sorted(hits, key=lambda hit: not hit.exact)[:MOST])


def _fits(wanted: str, words: tuple[str, ...]) -> bool | None:
    """True where one of `words` is `wanted`, False where one only holds it, None where none does."""
    folded = [word.casefold() for word in words if word]
    if wanted in folded:
        return True
    return False if len(wanted) >= 3 and any(wanted in word for word in folded) else None


def _devices(election: Election, plan: PlanVersion | None, wanted: str) -> list[Hit]:
    stands = standing_of(plan) if plan is not None else {}
    found = []
    for device in election.devices:
        fits = _fits(wanted, (device.id, device.serial, device.tag, *device.memory_devices))
        if fits is not None:
            site = stands[device.id].site if device.id in stands else ""
            found.append(
                Hit(
                    thing=Thing.DEVICE,
                    id=device.id,
                    name=device.serial,
                    about=" ".join(filter(None, (device.kind, device.tag))),
                    site=site,
                    exact=fits,
                )
            )
    return found


def _closures(plan: PlanVersion, wanted: str) -> list[Hit]:
    places = [(site.site, station.seals) for site in plan.sites for station in site.stations]
    places += [("", spare.seals) for spare in plan.spares]
    found = []
    for site, seals in places:
        for seal in seals:
            # A number names a seal only as a whole: half a number names many.
            if wanted in (seal.number.casefold(), seal.closure.casefold()):
                name = seal.closure if seal.position == 1 else f"{seal.closure}#{seal.position}"
                found.append(
                    Hit(
                        thing=Thing.CLOSURE,
                        id=name,
                        name=seal.name,
                        about=seal.closure,
                        site=site,
                        exact=True,
                    )
                )
    return found


def _people(election: Election, wanted: str) -> list[Hit]:
    found = []
    for person in election.people:
        fits = _fits(wanted, (person.id, person.name))
        if fits is not None:
            found.append(
                Hit(
                    thing=Thing.PERSON,
                    id=person.id,
                    name=person.name,
                    about=person.role,
                    site=person.site,
                    exact=fits,
                )
            )
    return found


def _sites(election: Election, wanted: str) -> list[Hit]:
    found = []
    for site in election.sites:
        fits = _fits(wanted, (site.id, site.name, site.address))
        if fits is not None:
            found.append(
                Hit(
                    thing=Thing.SITE, id=site.id, name=site.name, about=site.address, site=site.id, exact=fits
                )
            )
    return found
