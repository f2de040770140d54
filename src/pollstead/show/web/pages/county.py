"""The county page: which sites need something next, with what each gets and how long its lines may be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, ClassVar

import msgspec
from litestar import Request, Response, get

from pollstead.election.county import Election, Site
from pollstead.election.identity import make_id
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.plan.terms.demand import QuantileRow
from pollstead.plan.terms.version import KindTotal, PlanVersion, SitePlan, WaitReport
from pollstead.show import assumed
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.next_step import NextStep, next_steps
from pollstead.show.web.pages.frame import Ask, Page, answer, in_thread
from pollstead.show.web.site_list import SORTS, STATES, Wish, chosen, page_rows, pages_of, wish_of

if TYPE_CHECKING:
    from pollstead.show.web.open_folder import OpenFolder


class TypeCount(Value, frozen=True, kw_only=True):
    """How many stations of a type, by the county's own name of it."""

    name: str
    count: int
    fixed: bool


class SiteRow(Value, frozen=True, kw_only=True):
    """One site: voters of its busiest day, stations, longest wait, what it needs next."""

    link: str
    name: str
    id: str
    voters: QuantileRow | None
    days: int
    stations: tuple[TypeCount, ...]
    wait: WaitReport | None
    assumptions: int
    next: NextStep
    area: str
    kind: str
    rules: int

    @property
    def needs(self) -> bool:
        """Whether somebody must do something next."""
        return self.next.needs

    @property
    def above_limit(self) -> bool:
        """Whether its wait is above the county's limit."""
        return self.wait is not None and not self.wait.meets_limit

    @property
    def order(self) -> int:
        """The place of its next step."""
        return self.next.order

    @property
    def voters_p50(self) -> int:
        """Voters of the busiest day, -1 while not known."""
        return -1 if self.voters is None else self.voters.p50

    @property
    def wait_ms(self) -> int:
        """The longest wait, -1 while not known."""
        return -1 if self.wait is None else self.wait.p95_longest_wait_ms


class Option(Value, frozen=True, kw_only=True):
    """One choice of a filter; `own_words` where the words are ours, not the county's."""

    value: str
    words: str
    chosen: bool
    own_words: bool = True


class TakenValue(Value, frozen=True, kw_only=True):
    """A value taken for the whole county, or alike for some sites that are in no plan yet.

    About what, at which sites, which value, why, which list would tell.
    """

    about: str
    sites: tuple[str, ...]
    taken: str
    why: Message
    list_wanted: str


class CountyPage(Page, frozen=True, kw_only=True):
    """All sites of the county, those that need something first."""

    template: ClassVar[str] = "county.html"

    has_plan: bool
    digest: str
    approved: bool
    stopped_early: bool
    sites: tuple[SiteRow, ...]
    unplanned: tuple[str, ...]
    fitting: int
    all_sites: int
    wish: Wish
    areas: tuple[Option, ...]
    kinds: tuple[Option, ...]
    states: tuple[Option, ...]
    sorts: tuple[Option, ...]
    earlier: str
    later: str
    pages: int
    needing: int
    with_rules: int
    above_limit: int
    totals: tuple[KindTotal, ...]
    assumptions: int
    county_assumptions: tuple[TakenValue, ...]
    faults: tuple[Notice, ...]
    may_compute: bool


def site_link(site_id: str) -> str:
    """The address of a site's page."""
    return f"/site/{site_id.removeprefix('site/')}"


def busiest(plan: SitePlan) -> QuantileRow | None:
    """Voters of the day with the most at P50; percentiles of several days do not add up."""
    return max((day.voters for day in plan.demand), key=lambda row: row.p50, default=None)


def type_counts(plan: SitePlan, election: Election) -> tuple[TypeCount, ...]:
    """Stations of each type that is there, by name."""
    names = {kind.id: kind.name for kind in election.station_types}
    return tuple(
        TypeCount(name=names.get(c.station_type, c.station_type), count=c.count, fixed=c.fixed)
        for c in plan.counts
        if c.count
    )


def site_rows(folder: OpenFolder, election: Election, version: PlanVersion) -> tuple[SiteRow, ...]:
    """A row a site, in the order of the plan."""
    steps = next_steps(folder, election, version)
    sites: dict[str, Site] = {site.id: site for site in election.sites}
    rules = rules_not_met(version)
    kinds = {kind.id: kind.name for kind in election.site_kinds}
    return tuple(
        SiteRow(
            link=site_link(plan.site),
            name=plan.name,
            id=sites[plan.site].id.removeprefix("site/") if plan.site in sites else plan.site,
            voters=busiest(plan),
            days=len(plan.demand),
            stations=type_counts(plan, election),
            wait=plan.waits,
            assumptions=len(plan.assumptions),
            next=steps[plan.site],
            area=sites[plan.site].area if plan.site in sites else "",
            kind=kinds.get(plan.kind, plan.kind),
            rules=rules.get(plan.site.removeprefix("site/"), 0),
        )
        for plan in version.sites
    )


def rules_not_met(version: PlanVersion) -> Counter[str]:
    """How many rules each site does not meet, by its id; a notice about a thing there counts for its site."""
    return Counter(
        parts[1]
        for notice in version.notices
        if notice.kind is NoticeKind.RULE_NOT_MET and len(parts := notice.subject.split("/")) > 1
    )


def options(known: Iterable[str], given: str) -> tuple[Option, ...]:
    """The county's own words as choices, in order."""
    words = sorted({word for word in known if word})
    return tuple(Option(value=w, words=w, chosen=w == given, own_words=False) for w in words)


def taken_values(version: PlanVersion | None, election: Election | None, ask: Ask) -> tuple[TakenValue, ...]:
    """What was assumed for the whole county, in the reader's words."""
    if version is None or election is None:
        return ()
    names = {make_id("site", site.id.removeprefix("site/")): site.name for site in election.sites}
    alike: dict[tuple[str, str, Message, str], list[str]] = {}
    for a in version.assumptions:
        told = (assumed.about(a, election, ask.speak.plain), assumed.taken(a), a.why, a.list_wanted)
        where = [names[a.subject]] if a.subject in names else []
        alike.setdefault(told, []).extend(where)
    return tuple(
        TakenValue(about=about, sites=tuple(where), taken=taken, why=why, list_wanted=wanted)
        for (about, taken, why, wanted), where in alike.items()
    )


def unplanned_sites(folder: OpenFolder, version: PlanVersion | None) -> tuple[str, ...]:
    """Names of the sites that stand in the tables and not in the plan."""
    election = folder.tables_election()
    if version is None or election is None:
        return ()
    planned = {plan.site for plan in version.sites}
    return tuple(site.name for site in election.sites if site.id not in planned)


def county_page(ask: Ask) -> CountyPage:
    """The county page as asked for."""
    folder = ask.folder
    digest = folder.current_digest()
    election = folder.election()
    version = folder.version(digest) if digest else None
    rows = site_rows(folder, election, version) if version is not None and election is not None else ()
    assumptions = 0 if version is None else len(version.assumptions) + sum(row.assumptions for row in rows)
    wish = wish_of(ask.query)
    fitting = chosen(rows, wish)
    pages = pages_of(len(fitting))
    page = min(wish.page, pages)
    return CountyPage(
        **ask.frame(N_("Which sites need something next?")),
        has_plan=version is not None,
        digest=digest,
        approved=digest in folder.approvals(),
        stopped_early=version is not None and version.stopped_early,
        sites=page_rows(fitting, page),
        unplanned=unplanned_sites(folder, version),
        fitting=len(fitting),
        all_sites=len(rows),
        wish=msgspec.structs.replace(wish, page=page),
        areas=options((row.area for row in rows), wish.area),
        kinds=options((row.kind for row in rows), wish.kind),
        states=tuple(Option(value=k, words=w, chosen=k == wish.state) for k, (w, _) in STATES.items()),
        sorts=tuple(Option(value=k, words=w, chosen=k == wish.sort) for k, (w, _) in SORTS.items()),
        earlier=wish.address("/", page=page - 1) if page > 1 else "",
        later=wish.address("/", page=page + 1) if page < pages else "",
        pages=pages,
        with_rules=sum(1 for row in rows if row.rules),
        above_limit=sum(1 for row in rows if row.above_limit),
        needing=sum(1 for row in rows if row.next.needs),
        totals=() if version is None else version.totals,
        assumptions=assumptions,
        county_assumptions=taken_values(version, election, ask),
        faults=folder.read_faults() if version is None else (),
        may_compute=ask.may(Capability.COMPUTE),
    )


@get("/")
@in_thread
def county(request: Request[Any, Any, Any]) -> Response[str]:
    """The first page."""
    ask = Ask(request)
    return answer(ask, county_page(ask))
