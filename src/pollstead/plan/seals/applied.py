"""Seals on closures by the facts: which kind of seal is on which closure, and which numbers are told."""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.plan.seals.policy import closure_id
from pollstead.plan.terms.seals import SealEvent, SealStep
from pollstead.plan.terms.version import PlanVersion


def kinds_of_closures(election: Election, plan: PlanVersion | None) -> dict[str, str]:
    """Kind of seal by closure id: those of the plan, and those of devices that stand nowhere."""
    kinds: dict[str, str] = {}
    for station_type in election.station_types:
        devices = {part.id: part.device_kind for part in station_type.serial_parts()}
        for closure in station_type.closures:
            for device in election.devices:
                if closure.part in devices and devices[closure.part] == device.kind:
                    kinds.setdefault(closure_id(device.id, closure), closure.seal_kind)
    for site in () if plan is None else plan.sites:
        for station in site.stations:
            for seal in station.seals:
                kinds[seal.closure] = seal.seal_kind
    return kinds


def applied_in_facts(election: Election, kinds: dict[str, str]) -> tuple[SealEvent, ...]:
    """The numbers of closure_seals.csv as steps; rows of unknown closures are told elsewhere."""
    found = []
    for row in election.closure_seals:
        closure = "/".join(("closure", row.device.removeprefix("device/"), row.closure))
        kind = kinds.get(closure, "")
        if kind and row.number:
            found.append(
                SealEvent(
                    number=row.number,
                    step=SealStep.APPLIED,
                    seal_kind=kind,
                    place=closure if row.position == 1 else f"{closure}/{row.position}",
                    source="closure_seals.csv",
                )
            )
    return tuple(found)
