"""The site page: everything of one site, from its voters to its seals, sheets and people."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from litestar import Request, Response, get
from litestar.params import FromPath

from pollstead.election.county import Assumption, Election, Site
from pollstead.election.notice import Notice
from pollstead.election.station_type import Moment, NumberPolicy
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.terms.demand import QuantileRow, SiteDayDemand
from pollstead.plan.terms.part import Reason
from pollstead.plan.terms.version import (
    PackingLine,
    PartOfStation,
    PlanVersion,
    RunStep,
    SealNeed,
    SitePlan,
    Station,
    WaitReport,
)
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.chart import SLOT_MIN, DemandChart, demand_chart
from pollstead.show.web.day import days_now
from pollstead.show.web.next_step import NextStep, next_step
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.web.pages.county import TypeCount, site_link
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, in_thread
from pollstead.show.web.pages.site_people import Someone, people_of, sees_keys, with_names
from pollstead.show.web.site_facts import FactTable, facts_of_site
from pollstead.show.web.site_record import CALLS, CHANGES, EntryOfSite, SheetOfSite, entries_of, sheets_of


class SlotRow(Value, frozen=True, kw_only=True):
    """One quarter hour of the table beside the drawing."""

    minute: int
    voters: QuantileRow


class DayOfSite(Value, frozen=True, kw_only=True):
    """One operating day: its voters, the drawing and the same numbers as rows."""

    date: dt.date
    opens_min: int
    closes_min: int
    voters: QuantileRow
    chart: DemandChart | None
    slots: tuple[SlotRow, ...]


class CountOfType(Value, frozen=True, kw_only=True):
    """How many stations of a type, whether a person fixed it, and what was computed."""

    type: str
    step: str
    name: str
    count: int
    fixed: bool
    reason: str
    computed: int | None


class SealRow(Value, frozen=True, kw_only=True):
    """One seal of a closure; `number` is empty while it is hidden from this role or not known."""

    closure: str
    name: str
    position: int
    seal_kind: str
    policy: NumberPolicy
    number: str
    applied: Moment
    checked: tuple[Moment, ...]


class StationOfSite(Value, frozen=True, kw_only=True):
    """One station by its type's name and its number, with the parts told apart by serial, and its seals."""

    name: str
    number: int
    first_day: dt.date | None = None
    last_day: dt.date | None = None
    serials: tuple[PartOfStation, ...]
    seals: tuple[SealRow, ...]


class SitePage(Page, frozen=True, kw_only=True):
    """Everything of one site."""

    template: ClassVar[str] = "site.html"

    address: str
    id: str
    link: str
    kind: str
    area: str
    next: NextStep
    days: tuple[DayOfSite, ...]
    counts: tuple[CountOfType, ...]
    waits: WaitReport | None
    stations: tuple[StationOfSite, ...]
    counted: tuple[TypeCount, ...]
    numbers_hidden: bool
    packing: tuple[PackingLine, ...]
    run_sheet: tuple[RunStep, ...]
    seal_needs: tuple[SealNeed, ...]
    sheets: tuple[SheetOfSite, ...]
    facts: tuple[FactTable, ...]
    calls: tuple[EntryOfSite, ...]
    changed: tuple[EntryOfSite, ...]
    zone: str
    compare: str
    may_change: bool
    may_call: bool
    notices: tuple[Notice, ...]
    assumptions: tuple[Assumption, ...]
    reasons: tuple[Reason, ...]
    people: tuple[Someone, ...]
    people_hidden: bool
    keys_hidden: bool
    may_compute: bool
    digest: str


class SiteInPlan(Value, frozen=True, kw_only=True):
    """A site with the facts and the plan version that it is shown from."""

    election: Election
    version: PlanVersion
    digest: str
    site: Site
    plan: SitePlan


def find_site(folder: OpenFolder, key: str) -> SiteInPlan:
    """The site of an address; raises Trouble where there is no plan or no such site."""
    digest = folder.current_digest()
    election = folder.election()
    if not digest or election is None:
        raise Trouble(
            409,
            N_("There is no plan yet, so no site can be shown."),
            N_("Make a plan on the page Jobs."),
            "/jobs",
        )
    version = folder.version(digest)
    site = next((s for s in election.sites if s.id.removeprefix("site/") == key), None)
    plan = next((p for p in version.sites if site is not None and p.site == site.id), None)
    listed = site or next((s for s in _listed(folder) if s.id.removeprefix("site/") == key), None)
    if plan is None and listed is not None:
        raise Trouble(
            404,
            N_("{site} is in the county's tables, and the plan does not have it yet."),
            N_("The page What is open? says what the plan needs to know; then make a plan again."),
            "/open",
            site=listed.name,
        )
    if site is None or plan is None:
        raise Trouble(
            404,
            N_("The plan has no site {site}."),
            N_("The page Sites lists those that it has."),
            "/",
            site=key[:80],
        )
    return SiteInPlan(election=election, version=version, digest=digest, site=site, plan=plan)


def _listed(folder: OpenFolder) -> tuple[Site, ...]:
    election = folder.tables_election()
    return () if election is None else election.sites


def day_of_site(day: SiteDayDemand) -> DayOfSite:
    """One day with its drawing and rows."""
    return DayOfSite(
        date=day.date,
        opens_min=day.opens_min,
        closes_min=day.closes_min,
        voters=day.voters,
        chart=demand_chart(day, f"demand-{day.date.isoformat()}"),
        slots=tuple(SlotRow(minute=day.opens_min + SLOT_MIN * i, voters=s) for i, s in enumerate(day.slots)),
    )


def station_rows(found: SiteInPlan, show_numbers: bool) -> tuple[StationOfSite, ...]:
    """The stations with parts and seals; seal numbers only where they may be shown."""
    names = {kind.id: kind.name for kind in found.election.station_types}

    def row(station: Station) -> StationOfSite:
        return StationOfSite(
            name=names.get(station.station_type, station.station_type),
            number=station.number,
            first_day=station.first_day,
            last_day=station.last_day,
            serials=tuple(part for part in station.parts if part.by_serial),
            seals=tuple(
                SealRow(
                    closure=seal.closure,
                    name=seal.name,
                    position=seal.position,
                    seal_kind=seal.seal_kind,
                    policy=seal.number_policy,
                    number=seal.number if show_numbers else "",
                    applied=seal.applied,
                    checked=seal.checked,
                )
                for seal in station.seals
            ),
        )

    return tuple(row(station) for station in found.plan.stations)


def counted_parts(plan: SitePlan) -> tuple[TypeCount, ...]:
    """The parts that are only counted, over all stations, in the order in which they first come."""
    totals: dict[str, int] = {}
    for station in plan.stations:
        for part in station.parts:
            if not part.by_serial:
                totals[part.name] = totals.get(part.name, 0) + part.quantity
    return tuple(TypeCount(name=name, count=count, fixed=False) for name, count in totals.items())


def has_opened(folder: OpenFolder, site: Site) -> bool:
    """Whether the record says that the site's doors opened; from then on seal numbers are no secret."""
    subject = f"site/{site.id.removeprefix('site/')}"
    return any(fact.name == "site.opened" and fact.current for fact in folder.facts_of(subject))


def site_page(ask: Ask, key: str) -> SitePage:
    """The page of one site as this person may see it."""
    found = find_site(ask.folder, key)
    election, plan, site = found.election, found.plan, found.site
    show_numbers = ask.may(Capability.SEE_EXPECTED) or has_opened(ask.folder, site)
    see_people = ask.may(Capability.SEE_PEOPLE)
    names = {kind.id: kind.name for kind in election.station_types}
    kind_names = {kind.id: kind.name for kind in election.site_kinds}
    subject = f"site/{key}"
    folded = ask.folder.fold()
    return SitePage(
        **ask.frame(N_("{site}: what does it need?"), site=plan.name),
        address=site.address,
        id=key,
        link=site_link(site.id),
        kind=kind_names.get(plan.kind, plan.kind),
        area=site.area,
        next=next_step(days_now(ask.folder), election, plan),
        days=tuple(day_of_site(day) for day in plan.demand),
        counts=tuple(
            CountOfType(
                type=c.station_type,
                step=c.step,
                name=names.get(c.station_type, c.station_type),
                count=c.count,
                fixed=c.fixed,
                reason=c.reason,
                computed=c.computed,
            )
            for c in plan.counts
        ),
        waits=plan.waits,
        stations=station_rows(found, show_numbers),
        counted=counted_parts(plan),
        numbers_hidden=not show_numbers,
        packing=plan.packing,
        run_sheet=plan.run_sheet,
        seal_needs=plan.seal_needs,
        sheets=sheets_of(
            tuple({s.serial: s for i in (subject, key) for s in ask.folder.store.sheets.of(site=i)}.values()),
            folded,
            key,
            found.digest,
        ),
        facts=facts_of_site(election, found.version.snapshot, key, ask.may),
        calls=with_names(ask, entries_of(folded, key, CALLS)),
        changed=with_names(ask, entries_of(folded, key, CHANGES)),
        zone=ask.folder.zone_name,
        compare=compare_link(ask.folder, found.digest, key),
        may_change=ask.may(Capability.CHANGE),
        may_call=ask.may(Capability.CALL),
        notices=tuple(n for n in found.version.notices if about_site(n, key)),
        assumptions=plan.assumptions,
        reasons=plan.reasons,
        people=people_of(ask, found),
        people_hidden=not see_people,
        keys_hidden=not sees_keys(ask, election, key),
        may_compute=ask.may(Capability.COMPUTE),
        digest=found.digest,
    )


def compare_link(folder: OpenFolder, digest: str, key: str) -> str:
    """The address that says what changed at the site since the approved version before the one shown."""
    lines = [line.digest for line in folder.versions()]
    approved = [one for one in folder.approvals() if one in lines and one != digest]
    older = lines[lines.index(digest) + 1 :] if digest in lines else []
    before = next(iter(approved), next(iter(older), ""))
    return f"/compare?a={before[:12]}&b={digest[:12]}&site={key}" if before else ""


def about_site(notice: Notice, key: str) -> bool:
    """Whether a notice is about this site or a thing of it."""
    parts = notice.subject.split("/")
    return key in (notice.subject, *parts[1:2])


@get("/site/{site:str}")
@in_thread
def site(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[str]:
    """The page of one site."""
    ask = Ask(request)
    return answer(ask, site_page(ask, site))
