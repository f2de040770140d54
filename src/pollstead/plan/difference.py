"""What changed between two plan versions, row by row, in the order in which a coordinator asks.

Numbers of seals are never told here: a changed number is named by its closure alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.setup.run_sheet import minutes_of
from pollstead.plan.terms.version import PlanVersion, SitePlan

TABLES = (
    "sites",
    "stations",
    "voters",
    "waits",
    "devices",
    "seals",
    "seal needs",
    "packing",
    "run sheet",
    "fleet",
    "fixed",
    "assumptions",
    "notices",
)
"""The tables that are compared, in the order in which their changes are given."""

Rows = dict[tuple[str, str], str]

_WORDS = {
    "sites": N_("{row} is now {after} (was {before})."),
    "stations": N_("{row}: {after} stations (were {before})."),
    "voters": N_("{row}: {field} voters {after} (were {before})."),
    "waits": N_("{row}: {field} {after} (was {before})."),
    "devices": N_("{row} stands at {after} (was {before})."),
    "seals": N_("{row}: the seal is now {after} (was {before})."),
    "seal needs": N_("{row}: {after} seals needed (were {before})."),
    "packing": N_("{row}: {after} to pack (were {before})."),
    "run sheet": N_("{row}: {field} takes {after} min (was {before})."),
    "fleet": N_("{row}: {field} {after} (was {before})."),
    "fixed": N_("{row} {field} is fixed at {after} (was {before})."),
    "assumptions": N_("{row} {field}: taken as {after} (was {before})."),
    "notices": N_("{row}: {after} (was {before})."),
}
NOTHING = "-"


class Change(Value, frozen=True, kw_only=True):
    """One cell that differs: table, row, field, what stood there and what stands there now.

    A row that one version lacks has ``-`` on that side.
    """

    table: str
    row: str
    field: str
    before: str
    after: str

    @property
    def words(self) -> Message:
        """The change as a sentence."""
        return message(
            _WORDS[self.table], row=self.row, field=self.field, before=self.before, after=self.after
        )


def compare(before: PlanVersion, after: PlanVersion) -> tuple[Change, ...]:
    """Every cell that differs between two plan versions, by table, row and field.

    Seals, packing lists and needs of a site that only one version has are left out: the row of the site
    says it already.
    """
    both = {plan.site for plan in before.sites} & {plan.site for plan in after.sites}
    changes = []
    for table, rows_of in _READERS.items():
        old, new = rows_of(before, both), rows_of(after, both)
        changes += [
            Change(
                table=table,
                row=row,
                field=field,
                before=old.get((row, field), NOTHING),
                after=new.get((row, field), NOTHING),
            )
            for row, field in sorted({*old, *new})
            if old.get((row, field)) != new.get((row, field))
        ]
    return tuple(_without_number(change) for change in changes)


def _without_number(change: Change) -> Change:
    """The same change without any seal's number in it."""
    if change.table != "seals" or change.field != "number":
        return change
    known = {"": N_("without a number"), NOTHING: NOTHING}
    changed = N_("recorded") if change.before in known else N_("recorded with another number")
    return Change(
        table=change.table,
        row=change.row,
        field=change.field,
        before=known.get(change.before, N_("recorded")),
        after=known.get(change.after, changed),
    )


def _sites(version: PlanVersion, both: set[str]) -> Rows:
    return {(f"site/{plan.site}", "kind"): plan.kind for plan in version.sites}


def _per_site(cells: Callable[[SitePlan], Iterator[tuple[str, str, str]]]) -> Callable[..., Rows]:
    """Rows of the sites that both versions have."""

    def rows(version: PlanVersion, both: set[str]) -> Rows:
        found: Rows = {}
        for plan in version.sites:
            if plan.site in both:
                for row, field, value in cells(plan):
                    found[row, field] = value
        return found

    return rows


def _counts(plan: SitePlan) -> Iterator[tuple[str, str, str]]:
    for count in plan.counts:
        yield f"{plan.site}/{count.station_type}", "count", str(count.count)


def _voters(plan: SitePlan) -> Iterator[tuple[str, str, str]]:
    for day in plan.demand:
        row = f"{plan.site} {day.date.isoformat()}"
        yield row, "P10", str(day.voters.p10)
        yield row, "P50", str(day.voters.p50)
        yield row, "P90", str(day.voters.p90)


def _waits(plan: SitePlan) -> Iterator[tuple[str, str, str]]:
    if plan.waits is not None:
        yield plan.site, "P95 of the longest wait, s", str(plan.waits.p95_longest_wait_ms // 1000)
        yield plan.site, "risk, ppm", str(plan.waits.risk_ppm)


def _devices(version: PlanVersion, both: set[str]) -> Rows:
    found: Rows = {(spare.device, "station"): "spares" for spare in version.spares}
    for plan in version.sites:
        for station in plan.stations:
            for part in station.parts:
                if part.device:
                    found[part.device, "station"] = station.id
    return found


def _seals(version: PlanVersion, both: set[str]) -> Rows:
    """Every position of a seal, with its policy and its number."""
    found: Rows = {}
    stations = (s for plan in version.sites if plan.site in both for s in plan.stations)
    seals = [seal for station in stations for seal in station.seals]
    seals += [seal for spare in version.spares for seal in spare.seals]
    for seal in seals:
        row = f"{seal.closure}/{seal.position}"
        found[row, "policy"] = f"{seal.seal_kind}, {seal.number_policy.value}, {seal.entry.value}"
        found[row, "number"] = seal.number
    return found


def _needs(plan: SitePlan) -> Iterator[tuple[str, str, str]]:
    for need in plan.seal_needs:
        yield f"{plan.site} {need.seal_kind}, {need.moment.value}", "quantity", str(need.quantity)


def _packing(plan: SitePlan) -> Iterator[tuple[str, str, str]]:
    for line in plan.packing:
        yield f"{plan.site} {line.item} ({line.unit})", "quantity", str(line.quantity)


def _run_sheet(plan: SitePlan) -> Iterator[tuple[str, str, str]]:
    for when in (Moment.EVENING_BEFORE, Moment.OPENING):
        yield plan.site, when.value, str(minutes_of(plan.run_sheet, when))


def _fleet(version: PlanVersion, both: set[str]) -> Rows:
    found: Rows = {}
    for total in version.totals:
        found[total.kind, "planned"] = str(total.planned)
        found[total.kind, "in service"] = NOTHING if total.owned is None else str(total.owned)
        found[total.kind, "short"] = str(total.short)
    return found


def _fixed(version: PlanVersion, both: set[str]) -> Rows:
    return {(f"{f.table} {f.row}", f.field): f.value for f in version.fixed}


def _assumptions(version: PlanVersion, both: set[str]) -> Rows:
    every = [*version.assumptions, *(a for plan in version.sites for a in plan.assumptions)]
    return {(a.subject, a.field): a.value for a in every}


def _notices(version: PlanVersion, both: set[str]) -> Rows:
    return {(notice.key, "notice"): notice.text.english() for notice in version.notices}


_READERS: dict[str, Callable[[PlanVersion, set[str]], Rows]] = {
    "sites": _sites,
    "stations": _per_site(_counts),
    "voters": _per_site(_voters),
    "waits": _per_site(_waits),
    "devices": _devices,
    "seals": _seals,
    "seal needs": _per_site(_needs),
    "packing": _per_site(_packing),
    "run sheet": _per_site(_run_sheet),
    "fleet": _fleet,
    "fixed": _fixed,
    "assumptions": _assumptions,
    "notices": _notices,
}
