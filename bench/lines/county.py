"""The site-days that are measured: a county folder planned once, with the breaks of its rules."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import msgspec

from pollstead.election.rules import CountyRules, RuleLevel, RuleSetting
from pollstead.election.values import frozen_array
from pollstead.intake import read_folder
from pollstead.plan.compose import compose
from pollstead.plan.lines.loads import load_milli_erlangs
from pollstead.plan.lines.refused import fast_engine_refuses
from pollstead.plan.lines.run import run as run_lines
from pollstead.plan.lines.trials import as_station_counts
from pollstead.plan.planned_lines import planned_lines
from pollstead.plan.terms.lines import (
    ArrivalDay,
    LinesGiven,
    RiskEstimate,
    SiteLines,
    SitePath,
    SizingAnswer,
    WaitFigures,
    WaitLimit,
)
from pollstead.plan.terms.part import Effort, NoWatch, Outcome, Watch, derive_seed
from pollstead.plan.terms.version import NO_DECISIONS, PlanVersion, Told

if TYPE_CHECKING:
    from pathlib import Path

    from pollstead.election.county import Election
    from pollstead.plan.lines.trials import Counts

BREAK_MIN = 15
"""The bench's own break where the county gives none; when breaks fall due, its rules say."""


@dataclass(frozen=True, slots=True)
class SiteDay:
    """One operating day of one site with its planned numbers."""

    name: str
    path: SitePath
    day: ArrivalDay
    counts: Counts
    limit: WaitLimit
    key: int

    def refused(self) -> str | None:
        """Why the fast engine does not do this day; None when it does."""
        return fast_engine_refuses(self.path, self.day, self.counts)

    def with_voters(self, voters: int) -> SiteDay:
        """The same with so many voters."""
        day = msgspec.structs.replace(self.day, totals=frozen_array([voters], "int64"))
        return replace(self, day=day)

    def plain(self) -> SiteDay:
        """The same without breaks, failures, jams and voters at the curb."""
        works = {
            name: None if work is None else msgspec.structs.replace(work, failures=None)
            for name, work in zip(("check_in", "mark", "accessible", "cast"), self.path.works(), strict=True)
        }
        path = msgspec.structs.replace(
            self.path, **works, jams=None, curbside=None, accessible_open=False, patience=None
        )
        day = msgspec.structs.replace(self.day, breaks=(), absences=())
        return replace(self, path=path, day=day)


@dataclass(frozen=True, slots=True)
class County:
    """A county planned: its election as measured (with breaks), the plan, all days of all sites."""

    election: Election
    version: PlanVersion
    told: Told
    days: tuple[SiteDay, ...]
    breaks: str

    @property
    def sites(self) -> int:
        """How many sites have lines."""
        return len({one.name for one in self.days})


def planned_county(folder: Path, seed: int, *, breaks: bool, by_load: bool, workers: int = 1) -> County:
    """Plan the county with its breaks, or the bench's own; numbers from sizing, or `by_load` in no time.

    Without `breaks` nobody has one. Raises ValueError where the folder gives no plan.
    """
    intake = read_folder(folder)
    if intake.election is None:
        raise ValueError(f"expected a county that can be planned, found none in {folder.name}")
    own = intake.election.rules.whole("break-length")
    minutes = (own or BREAK_MIN) if breaks else 0
    words = "none" if not breaks else f"{minutes} min, {'the county' if own else 'added by the bench'}"
    election = with_break(intake.election, minutes)
    told = Told(notices=intake.notices, leave_out=intake.not_planned)
    version = compose(
        election,
        intake.digest,
        NO_DECISIONS,
        seed,
        Effort.QUICK,
        NoWatch(),
        told=told,
        workers=workers,
        lines_run=numbers_by_load if by_load else run_lines,
    )
    days = tuple(
        SiteDay(
            one.lines.site,
            one.lines.path,
            day,
            one.counts,
            one.lines.limit,
            derive_seed(seed, "bench", one.lines.seed_key, f"day {day.date.isoformat()}"),
        )
        for one in planned_lines(election, version, told, NoWatch())
        for day in one.lines.days
    )
    return County(election, version, told, days, words)


def with_break(election: Election, minutes: int) -> Election:
    """The county with breaks of so many minutes at check-in; 0: none."""
    rest = tuple(one for one in election.rules.settings if one.rule != "break-length")
    setting = RuleSetting(rule="break-length", value=minutes, level=RuleLevel.ASSUMED)
    return msgspec.structs.replace(election, rules=CountyRules(settings=(*rest, setting)))


def numbers_by_load(
    given: LinesGiven, seed: int, effort: Effort, watch: Watch | None = None, workers: int = 1
) -> Outcome[tuple[SizingAnswer, ...]]:
    """A stand-in for sizing: the busiest hour keeps stations busy for four fifths; nothing is simulated."""
    return Outcome(tuple(_by_load(site) for site in given.sites))


def _by_load(site: SiteLines) -> SizingAnswer:
    numbers = []
    for stage, limited in enumerate(site.path.limited()):
        load = max(load_milli_erlangs(site, day, stage) for day in site.days)
        least, fixed = site.floor.by_stage()[stage], site.fixed.by_stage()[stage]
        wanted = max(least, 1, -(-load // 800)) if fixed is None else fixed
        numbers.append(wanted if limited else 0)
    a, b, c, d = numbers
    counts = as_station_counts((a, b, c, d))
    figures = WaitFigures(
        counts=counts,
        risk=RiskEstimate(over=0, days=1, low_ppm=0, high_ppm=975_000),
        mean_wait_ms=0,
        mean_by_stage_ms=(0, 0, 0, 0),
        p50_longest_ms=0,
        p90_longest_ms=0,
        p95_longest_ms=0,
        over_limit_ppm=0,
        last_out_ms=site.days[0].close_ms,
        binding=None,
    )
    return SizingAnswer(
        site=site.site,
        date=site.days[0].date,
        counts=counts,
        limit=site.limit,
        figures=figures,
        per_day=(figures,) * len(site.days),
        what_ifs=(),
        floor=site.floor,
        ceiling=site.ceiling,
        fixed=site.fixed,
        meets_limit=True,
        least=True,
        search_days=1,
        complete=True,
    )
