"""Lines for every site: its path, its days, people's numbers; sized, and once more without those."""

from __future__ import annotations

from typing import Protocol

import msgspec

from pollstead.election.county import Assumption, Election, FixedValue, Site
from pollstead.election.instants import MS_PER_MINUTE
from pollstead.election.notice import Notice
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import SiteKind
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.inputs import arrival_days
from pollstead.plan.stations.counts import (
    FixedCounts,
    accessible_notices,
    fixed_reasons,
    minimum_notices,
    site_counts,
)
from pollstead.plan.stations.path import VoterPath, voter_path
from pollstead.plan.terms.demand import DemandDraws
from pollstead.plan.terms.lines import ArrivalDay, LinesGiven, SiteLines, SizingAnswer, WaitLimit
from pollstead.plan.terms.part import Effort, Outcome, Reason, Watch
from pollstead.plan.terms.version import StageCount


class LinesRun(Protocol):
    """The lines part, or a stand-in for it in a test."""

    def __call__(
        self, given: LinesGiven, seed: int, effort: Effort, watch: Watch | None, workers: int
    ) -> Outcome[tuple[SizingAnswer, ...]]: ...


class Before(Value, frozen=True, kw_only=True):
    """A site without what people fixed for it: its kind and its days as the lines need them."""

    kind: SiteKind
    days: tuple[ArrivalDay, ...]


class SizingGiven:
    """What sizing needs: facts, the sites to be planned, their kinds, people's numbers, demand's draws."""

    def __init__(
        self,
        *,
        election: Election,
        sites: tuple[Site, ...],
        kinds: dict[str, str],
        fixed: tuple[FixedValue, ...],
        draws: DemandDraws,
        before: dict[str, Before] | None = None,
    ) -> None:
        """`before` are the sites whose kind or voters a person fixed, as they would be without."""
        self.election = election
        self.sites = sites
        self.kinds = {site.id: election.site_kind(kinds[site.id]) for site in sites}
        self.types = {t.id: t for t in election.station_types}
        self.draws = draws
        self.before = before or {}
        self.fixed = FixedCounts(
            fixed, {site: tuple(use.station_type for use in kind.uses) for site, kind in self.kinds.items()}
        )

    def path(self, site: Site, fixed: dict[str, int]) -> VoterPath:
        """The voter path of a site with these numbers fixed."""
        return voter_path(self.kinds[site.id], self.types, self.election.rules, fixed)


class _Apart:
    """A watch for sizing some sites once more: told under a name of its own, nothing of what was kept."""

    def __init__(self, watch: Watch) -> None:
        self._watch = watch

    def step(self, part: str, done: int, total: int) -> None:
        """Pass on how far the lines are."""
        if part == "lines":
            self._watch.step(N_("lines without people's numbers"), done, total)


class Sized:
    """Numbers of stations of all sites, the answer behind each, and what is to be said."""

    def __init__(self) -> None:
        self.counts: dict[str, tuple[StageCount, ...]] = {}
        self.answers: dict[str, SizingAnswer] = {}
        self.notices: list[Notice] = []
        self.reasons: list[Reason] = []
        self.assumptions: list[Assumption] = []
        self.before: dict[str, tuple[tuple[StageCount, ...], SizingAnswer]] = {}
        """What sizing finds for a site without anything that people fixed there; only where they did."""


def size(
    given: SizingGiven, seed: int, effort: Effort, watch: Watch, workers: int, lines_run: LinesRun
) -> Sized:
    """Size every site; one with numbers that people fixed is sized without them too, to tell their cost."""
    sized = Sized()
    days = arrival_days(given.election, given.draws)
    rules = given.election.rules
    limit = wait_limit(rules)
    paths: dict[str, VoterPath] = {}
    lines: list[SiteLines] = []
    without: list[SiteLines] = []
    for site in given.sites:
        mine = given.fixed.of(site.id)
        paths[site.id] = path = given.path(site, mine)
        sized.assumptions += path.assumptions
        whole = site_lines(site, path, days[site.id], limit)
        lines.append(whole)
        if mine:
            free = given.path(site, {})
            without.append(
                msgspec.structs.replace(
                    whole,
                    path=free.path,
                    floor=free.floor,
                    ceiling=free.ceiling,
                    fixed=free.fixed,
                    costs=free.costs,
                )
            )
    outcome = lines_run(LinesGiven(sites=tuple(lines)), seed, effort, watch, workers)
    sized.notices += outcome.notices
    sized.reasons += outcome.reasons
    sized.answers = {answer.site: answer for answer in outcome.value}
    frees: dict[str, SizingAnswer] = {}
    whole_sites = {line.site: line for line in lines}
    bare = [_bare(given, whole_sites[site], given.before[site]) for site in given.before if site in paths]
    if without or bare:
        again = lines_run(
            LinesGiven(sites=(*without, *(line for _, line in bare))), seed, effort, _Apart(watch), workers
        ).value
        frees = {answer.site: answer for answer in again[: len(without)]}
        for (path, line), answer in zip(bare, again[len(without) :], strict=True):
            kind = given.before[line.site].kind
            counts = site_counts(line.site, kind, path, FixedCounts((), {}), answer, None)
            sized.before[line.site] = (counts, answer)
    _count(given, paths, frees, sized)
    sized.notices += given.fixed.notices()
    return sized


def wait_limit(rules: CountyRules) -> WaitLimit:
    """The county's limit of a wait, and how often the day's longest may pass it."""
    return WaitLimit(limit_ms=rules.whole("wait-limit") * MS_PER_MINUTE, risk_ppm=rules.whole("wait-risk"))


def site_lines(site: Site, path: VoterPath, days: tuple[ArrivalDay, ...], limit: WaitLimit) -> SiteLines:
    """What sizing, and whoever splits the fleet, needs to know of a site."""
    return SiteLines(
        site=site.id,
        seed_key=site.key,
        path=path.path,
        days=days,
        limit=limit,
        floor=path.floor,
        ceiling=path.ceiling,
        fixed=path.fixed,
        costs=path.costs,
        long_ballot_percent=path.long_ballot_percent,
    )


def _bare(given: SizingGiven, whole: SiteLines, before: Before) -> tuple[VoterPath, SiteLines]:
    """The path and the lines of a site without anything that people fixed there."""
    path = voter_path(before.kind, given.types, given.election.rules, {})
    return path, msgspec.structs.replace(
        whole,
        path=path.path,
        days=before.days,
        floor=path.floor,
        ceiling=path.ceiling,
        fixed=path.fixed,
        costs=path.costs,
    )


def _count(
    given: SizingGiven, paths: dict[str, VoterPath], frees: dict[str, SizingAnswer], sized: Sized
) -> None:
    """The numbers of each site by station type, with the cost of what people fixed."""
    wanted = given.election.rules.whole("accessible-stations")
    for site in given.sites:
        answer, free = sized.answers[site.id], frees.get(site.id)
        counts = site_counts(site.id, given.kinds[site.id], paths[site.id], given.fixed, answer, free)
        sized.counts[site.id] = counts
        if free is not None and site.id not in sized.before:
            sized.before[site.id] = (_as_computed(counts), free)
        sized.reasons += fixed_reasons(site.id, counts, given.types, answer, free)
        sized.notices += accessible_notices(site.id, counts, given.types, wanted)
        sized.notices += minimum_notices(site.id, given.kinds[site.id], counts, given.types)


def _as_computed(counts: tuple[StageCount, ...]) -> tuple[StageCount, ...]:
    """The numbers that would be planned without those that people fixed."""
    return tuple(
        count if count.computed is None else msgspec.structs.replace(count, count=count.computed, fixed=False)
        for count in counts
    )
