"""A whole plan version: the only place that knows the order of the parts.

Demand → lines → stations → seals → supplies → run sheet → notices and assumptions.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Protocol

import msgspec

from pollstead.election.canonical import digest_of
from pollstead.election.county import Assumption, Election, FixedValue, Site
from pollstead.election.identity import make_id
from pollstead.election.notice import Grade, Notice, by_key
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import StationType
from pollstead.election.words import Message
from pollstead.plan import gaps, inputs, left_out, overrule, seals, setup, stations, supplies
from pollstead.plan.demand.run import DemandGiven, DemandResult
from pollstead.plan.demand.run import run as run_demand
from pollstead.plan.demand.summary import summarize
from pollstead.plan.fixing import DEVICES, SET_UP, SITES, VOTERS, FixedCells
from pollstead.plan.lines.run import run as run_lines
from pollstead.plan.sizing import Before, LinesRun, Sized, SizingGiven, size
from pollstead.plan.stations.counts import TABLE as STATIONS
from pollstead.plan.terms.demand import DemandDraws, SiteDayDemand
from pollstead.plan.terms.lines import SizingAnswer
from pollstead.plan.terms.overruled import Overruled, overruled
from pollstead.plan.terms.part import Effort, NoWatch, Outcome, Reason, Watch
from pollstead.plan.terms.stations import (
    PackingSite,
    RunSheetGiven,
    RunSheetSite,
    SealingSite,
    SealsAnswer,
    SealsGiven,
    SiteCounts,
    SitePacking,
    SiteRunSheet,
    StationsAnswer,
    StationsGiven,
    SuppliesGiven,
)
from pollstead.plan.terms.version import (
    NOTHING_TOLD,
    Decisions,
    EngineVersion,
    PlanVersion,
    SitePlan,
    StageCount,
    Told,
)
from pollstead.plan.waits import wait_report

if TYPE_CHECKING:
    from collections.abc import Iterable


class DemandRun(Protocol):
    """The demand part, or a stand-in for it in a test."""

    def __call__(
        self,
        given: DemandGiven,
        rules: CountyRules,
        seed: int,
        effort: Effort,
        watch: Watch,
    ) -> Outcome[DemandResult]: ...


def compose(
    election: Election,
    snapshot_digest: str,
    decisions: Decisions,
    seed: int,
    effort: Effort,
    watch: Watch,
    parent: str = "",
    *,
    told: Told = NOTHING_TOLD,
    previous: PlanVersion | None = None,
    engines: tuple[EngineVersion, ...] = (),
    workers: int = 1,
    demand_run: DemandRun = run_demand,
    lines_run: LinesRun = run_lines,
) -> PlanVersion:
    """Plan the whole county: f(snapshot, decisions, what intake told, seed, effort, the parent's placing).

    `told` is what intake said: sites on which a contradiction bears are not planned, and the version says
    so. `previous` is the parent version: a device stays where it stood unless something
    needs it elsewhere. The number of `workers` changes no result. Raises `Cancelled` from `watch`.
    """
    return _Plan(election, decisions, seed, effort, watch, told, workers, lines_run).version(
        snapshot_digest, parent, previous, engines, demand_run
    )


class _Plan:
    """One plan version while it is being made."""

    def __init__(
        self,
        election: Election,
        decisions: Decisions,
        seed: int,
        effort: Effort,
        watch: Watch,
        told: Told,
        workers: int,
        lines_run: LinesRun,
    ) -> None:
        self.election = election
        self.decisions = decisions
        self.seed = seed
        self.effort = effort
        self.watch = watch
        self.workers = workers
        self.lines_run = lines_run
        self.types: dict[str, StationType] = {t.id: t for t in election.station_types}
        self.told = told
        self.notices: list[Notice] = list(told.notices)
        self.reasons: list[Reason] = []
        self.assumptions: list[Assumption] = [*election.assumptions, *gaps.assumed_rules(election)]
        self.fixed = inputs.fixed(election, decisions)
        self.cells = FixedCells(self.fixed)
        self.overruled: list[Overruled] = []
        self.own_kinds = {site.id: gaps.kind_of(election, site) for site in election.sites}
        self.kinds = overrule.kinds(election, self.own_kinds, self.cells)
        self.left_out, named = left_out.by_facts(election, self.kinds, told)
        self.notices += named
        self.crews = inputs.crews(election)
        self.costs: dict[str, tuple[Message, ...]] = {}

    def version(
        self,
        snapshot: str,
        parent: str,
        previous: PlanVersion | None,
        engines: tuple[EngineVersion, ...],
        demand_run: DemandRun,
    ) -> PlanVersion:
        """Run the parts in their order and gather what they say."""
        given = DemandGiven(election=self.election, leave_out=tuple(sorted(self.left_out)))
        demanded = self._keep(
            demand_run(given, self.election.rules, self.seed, self.effort, self.watch)
        ).value
        self.assumptions += demanded.assumptions
        draws = overrule.voters(demanded.draws, self.cells)
        crowded, named = left_out.by_crowd(self.election, draws)
        self.notices += named
        own_draws = inputs.without_sites(demanded.draws, crowded)
        draws = inputs.without_sites(draws, crowded)
        planned = {day.site for day in draws.site_days}
        sites = sorted((s for s in self.election.sites if s.id in planned), key=lambda s: s.key)
        sized = size(
            SizingGiven(
                election=self.election,
                sites=tuple(sites),
                kinds=self.kinds,
                fixed=self.cells.of_table(STATIONS),
                draws=draws,
                before=self._before(own_draws),
            ),
            self.seed,
            self.effort,
            self.watch,
            self.workers,
            self.lines_run,
        )
        self._say(sized.notices, sized.reasons)
        self.assumptions += sized.assumptions
        counts, answers = sized.counts, sized.answers
        days, moved = overrule.mark_days(list(summarize(draws, self.seed)), own_draws, self.cells)
        demand: dict[str, list[SiteDayDemand]] = {}
        for day in days:
            demand.setdefault(day.site, []).append(day)
        self._tell_lines(sized, moved)
        stood = self._stations(sites, counts, previous, demand)
        sealed = self._seals(stood, demand)
        packed = self._supplies(sites, counts, sealed, draws)
        sheets = self._run_sheets(sites, counts, demand)
        self.notices += self.cells.notices()
        return self._gather(
            sites, demand, counts, answers, stood, sealed, packed, sheets, snapshot, parent, engines
        )

    def _before(self, draws: DemandDraws) -> dict[str, Before]:
        """The sites whose kind or voters a person fixed, as they are without it."""
        fixed = {cell.row.partition("/")[0] for cell in self.cells.of_table(VOTERS)}
        fixed |= {site for site, kind in self.kinds.items() if kind != self.own_kinds[site]}
        fixed = {site for site in fixed if self.own_kinds.get(site)}
        if not fixed:
            return {}
        return {
            site: Before(kind=self.election.site_kind(self.own_kinds[site]), days=days)
            for site, days in inputs.arrival_days(self.election, draws).items()
            if site in fixed
        }

    def _tell_lines(self, sized: Sized, moved: list[tuple[FixedValue, int]]) -> None:
        """What decisions about voters and stations cost, site by site."""
        decided = Counter(
            cell.row.partition("/")[0]
            for table in (STATIONS, VOTERS, SITES)
            for cell in self.cells.of_table(table)
        )
        self.costs = {
            site: overrule.line_costs((sized.counts[site], sized.answers[site]), before, decided[site])
            for site, before in sized.before.items()
        }
        for cell, middle in moved:
            self.overruled.append(overruled(cell, middle, self.costs.get(cell.row.partition("/")[0], ())))
        for site, counts in sized.counts.items():
            self.overruled += overrule.counts_told(site, counts, self.costs.get(site, ()), self.cells)

    def _keep(self, outcome: Outcome[DemandResult]) -> Outcome[DemandResult]:
        self._say(outcome.notices, outcome.reasons)
        return outcome

    def _say(self, notices: Iterable[Notice], reasons: Iterable[Reason]) -> None:
        """Keep what a part said; a part that names a site by its bare id means ``site/ID``."""
        bare = {site.id for site in self.election.sites}
        for notice in notices:
            subject = f"site/{notice.subject}" if notice.subject in bare else notice.subject
            self.notices.append(msgspec.structs.replace(notice, subject=subject))
        for reason in reasons:
            subject = f"site/{reason.subject}" if reason.subject in bare else reason.subject
            self.reasons.append(msgspec.structs.replace(reason, subject=subject))

    def _stations(
        self,
        sites: list[Site],
        counts: dict[str, tuple[StageCount, ...]],
        previous: PlanVersion | None,
        demand: dict[str, list[SiteDayDemand]],
    ) -> StationsAnswer:
        contradicted = tuple(
            notice.subject
            for notice in self.notices
            if notice.grade is Grade.CONTRADICTS and notice.subject.startswith("device/")
        )
        fleet, standing = overrule.devices(
            self.election, inputs.standing(previous), {site.id for site in sites}, self.cells
        )
        given = StationsGiven(
            sites=tuple(
                SiteCounts(
                    site=s.id,
                    key=s.key,
                    counts=counts[s.id],
                    early=tuple(d.date for d in demand[s.id] if d.date < self.election.election_day),
                    late=tuple(d.date for d in demand[s.id] if d.date >= self.election.election_day),
                )
                for s in sites
            ),
            station_types=self.election.station_types,
            devices=fleet,
            fleet_totals=self.election.fleet_totals,
            previous=standing,
            left_out=contradicted,
            early_devices=self.election.early_devices,
            carts=self.election.carts,
        )
        outcome = stations.run(given, self.election.rules, self.seed, self.effort, self.watch)
        self._say(outcome.notices, outcome.reasons)
        if self.cells.of_table(DEVICES):
            free = msgspec.structs.replace(
                given, devices=self.election.devices, previous=inputs.standing(previous)
            )
            without = stations.run(free, self.election.rules, self.seed, self.effort, NoWatch()).value
            self.overruled += overrule.device_costs(self.election, self.cells, outcome.value, without)
        return outcome.value

    def _seals(self, stood: StationsAnswer, demand: dict[str, list[SiteDayDemand]]) -> SealsAnswer:
        given = SealsGiven(
            sites=tuple(
                SealingSite(
                    site=s.site,
                    days=len(demand[s.site]),
                    stations=s.stations,
                    early_days=sum(d.date < self.election.election_day for d in demand[s.site]),
                    first_date=min((d.date for d in demand[s.site]), default=None),
                )
                for s in stood.sites
            ),
            spares=stood.spares,
            station_types=self.election.station_types,
            closure_seals=self.election.closure_seals,
            seal_ranges=inputs.stock(self.election),
        )
        outcome = seals.run(given, self.election.rules, self.seed, self.effort, self.watch)
        self._say(outcome.notices, outcome.reasons)
        answer, told = overrule.seal_needs(outcome.value, self.cells)
        self.overruled += told
        return answer

    def _supplies(
        self,
        sites: list[Site],
        counts: dict[str, tuple[StageCount, ...]],
        sealed: SealsAnswer,
        draws: DemandDraws,
    ) -> tuple[SitePacking, ...]:
        voters = inputs.planned_voters(draws)
        standing = {s.site: s.stations for s in sealed.sites}
        given = SuppliesGiven(
            sites=tuple(
                PackingSite(
                    site=site.id,
                    kind=self.election.site_kind(self.kinds[site.id]),
                    counts=counts[site.id],
                    stations=standing[site.id],
                    voters=voters[site.id],
                )
                for site in sites
            ),
            station_types=self.election.station_types,
        )
        outcome = supplies.run(given, self.election.rules, self.seed, self.effort, self.watch)
        self._say(outcome.notices, outcome.reasons)
        packed = []
        for site in outcome.value:
            lines, told = overrule.packing(site.site, site.lines, self.cells)
            self.overruled += told
            packed.append(SitePacking(site=site.site, lines=lines))
        return tuple(packed)

    def _run_sheets(
        self,
        sites: list[Site],
        counts: dict[str, tuple[StageCount, ...]],
        demand: dict[str, list[SiteDayDemand]],
    ) -> tuple[SiteRunSheet, ...]:
        plain = tuple(
            RunSheetSite(
                site=site.id,
                counts=counts[site.id],
                crew=self.crews.get(site.id),
                opens_min=min(day.opens_min for day in demand[site.id]),
                access_from_min=site.access_from_min,
            )
            for site in sites
        )
        decided = []
        for site in plain:
            crew = self.cells.find(SET_UP, site.site, "crew")
            decided.append(
                msgspec.structs.replace(
                    site,
                    crew=site.crew if crew is None else int(crew.value),
                    fixed=overrule.steps(site.site, site.counts, self.types, self.cells),
                )
            )
        given = RunSheetGiven(sites=tuple(decided), station_types=self.election.station_types)
        outcome = setup.run(given, self.election.rules, self.seed, self.effort, self.watch)
        self._say(outcome.notices, outcome.reasons)
        if not self.cells.of_table(SET_UP):
            return outcome.value
        free = msgspec.structs.replace(given, sites=plain)
        without = setup.run(free, self.election.rules, self.seed, self.effort, NoWatch()).value
        sheets = []
        for sheet, before in zip(outcome.value, without, strict=True):
            steps, told = overrule.mark_steps(
                sheet.site, sheet.steps, before.steps, before.crew, self.types, self.cells
            )
            self.overruled += told
            sheets.append(msgspec.structs.replace(sheet, steps=steps))
        return tuple(sheets)

    def _gather(
        self,
        sites: list[Site],
        demand: dict[str, list[SiteDayDemand]],
        counts: dict[str, tuple[StageCount, ...]],
        answers: dict[str, SizingAnswer],
        stood: StationsAnswer,
        sealed: SealsAnswer,
        packed: tuple[SitePacking, ...],
        sheets: tuple[SiteRunSheet, ...],
        snapshot: str,
        parent: str,
        engines: tuple[EngineVersion, ...],
    ) -> PlanVersion:
        for site in sites:
            name = self.election.site_kind(self.kinds[site.id]).name
            self.assumptions += gaps.site_gaps(self.election, site, name, self.crews.get(site.id))
        assumptions = gaps.each_once(tuple(self.assumptions))
        by_subject: dict[str, list[Assumption]] = {}
        for assumption in assumptions:
            by_subject.setdefault(assumption.subject, []).append(assumption)
        reasons: dict[str, list[Reason]] = {}
        for reason in self.reasons:
            reasons.setdefault(reason.subject, []).append(reason)
        plans = []
        for site, closed, packing, sheet in zip(sites, sealed.sites, packed, sheets, strict=True):
            subject = make_id("site", site.id)
            kind_reason, told = overrule.kind_told(
                site.id, self.own_kinds[site.id], self.costs.get(site.id, ()), self.cells
            )
            self.overruled += told
            plans.append(
                SitePlan(
                    site=site.id,
                    name=site.name,
                    kind=self.kinds[site.id],
                    kind_reason=kind_reason,
                    demand=tuple(demand[site.id]),
                    counts=counts[site.id],
                    waits=wait_report(answers[site.id]),
                    stations=closed.stations,
                    packing=packing.lines,
                    run_sheet=sheet.steps,
                    seal_needs=closed.needs,
                    assumptions=tuple(by_subject.pop(subject, ())),
                    reasons=tuple(reasons.pop(subject, ())),
                )
            )
        return PlanVersion(
            snapshot=snapshot,
            decisions=digest_of(self.decisions),
            told=digest_of(self.told),
            seed=self.seed,
            effort=self.effort,
            engines=engines,
            parent=parent,
            sites=tuple(sorted(plans, key=lambda plan: plan.site)),
            totals=stood.totals,
            spares=sealed.spares,
            seal_stock=sealed.stock,
            fixed=self.fixed,
            overruled=tuple(sorted(self.overruled, key=lambda o: (o.table, o.row, o.field))),
            assumptions=tuple(a for left in by_subject.values() for a in left),
            notices=by_key(tuple(self.notices)),
            reasons=tuple(r for left in reasons.values() for r in left),
        )
