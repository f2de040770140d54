"""Every cell of a plan version that people can fix, with what stands there and what was computed."""

from __future__ import annotations

from collections.abc import Iterator

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.plan import inputs
from pollstead.plan.fixing import (
    DEVICES,
    PACKING,
    SEAL_NEEDS,
    SET_UP,
    SITES,
    VOTERS,
    need_row,
    packing_row,
)
from pollstead.plan.setup.run_sheet import ASSUMED_CREW
from pollstead.plan.stations.counts import TABLE as STATIONS
from pollstead.plan.terms.overruled import Overruled
from pollstead.plan.terms.version import PlanVersion, SitePlan


class Cell(Value, frozen=True, kw_only=True):
    """One cell: where it is, what stands there; `overruled` where a person fixed it."""

    table: str
    row: str
    field: str
    site: str
    value: str
    overruled: Overruled | None = None


def find_cell(election: Election, version: PlanVersion, table: str, row: str, field: str) -> Cell | None:
    """The cell of this table, row and field; None where the plan has no such row."""
    for cell in cells_of(election, version):
        if (cell.table, cell.row, cell.field) == (table, row, field):
            return cell
    return None


def cells_of(election: Election, version: PlanVersion, site: str = "") -> Iterator[Cell]:
    """The cells of a version, of one site where it is named, table by table."""
    decided = {(o.table, o.row, o.field): o for o in version.overruled}
    crews = inputs.crews(election)
    for plan in version.sites:
        if site in ("", plan.site):
            for table, row, field, value in _of_site(election, plan, crews.get(plan.site, ASSUMED_CREW)):
                told = decided.get((table, row, field))
                shown = told.value if told is not None else str(value)
                yield Cell(table=table, row=row, field=field, site=plan.site, value=shown, overruled=told)
    if not site:
        for spare in version.spares:
            for field in ("site", "station"):
                yield Cell(table=DEVICES, row=spare.device, field=field, site="", value="spares")


def _of_site(election: Election, plan: SitePlan, crew: int) -> Iterator[tuple[str, str, str, object]]:
    site = plan.site
    yield SITES, site, "kind", plan.kind
    for day in plan.demand:
        yield VOTERS, f"{site}/{day.date.isoformat()}", "p50", day.voters.p50
    for count in plan.counts:
        yield STATIONS, f"{site}/{count.station_type}", "count", count.count
    for station in plan.stations:
        for part in station.parts:
            if part.device:
                yield DEVICES, part.device, "site", site
                yield DEVICES, part.device, "station", station.id
    for line in plan.packing:
        yield PACKING, packing_row(site, line), "quantity", line.quantity
    for need in plan.seal_needs:
        yield SEAL_NEEDS, need_row(site, need), "quantity", need.quantity
        yield SEAL_NEEDS, need_row(site, need), "extra", 0
    yield SET_UP, site, "crew", crew
    for step in plan.run_sheet:
        steps = election.station_type(step.station_type).set_up
        own = next((s for s in steps if f"{step.station_type}/{s.id}" == step.id), None)
        if own is not None:
            yield SET_UP, f"{site}/{step.id}", "minutes", own.minutes
            yield SET_UP, f"{site}/{step.id}", "people", step.people
