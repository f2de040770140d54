"""Which station types serve which step of the voter path, and within which bounds they are sized."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.county import Assumption
from pollstead.election.instants import MS_PER_MINUTE
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import (
    MOST_STATIONS,
    Failure,
    LawKind,
    Service,
    SiteKind,
    StationType,
    StationUse,
    VoterStep,
)
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.lines import (
    HOUR_MS,
    SIZED,
    Curbside,
    Failures,
    Jams,
    ServiceLaw,
    SitePath,
    Stage,
    StageWork,
    StationChoice,
    StationCounts,
)
from pollstead.plan.terms.lines import LawKind as LineLaw

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pollstead.plan.terms.version import SitePlan

_LAWS = {
    LawKind.LOGNORMAL: LineLaw.LOGNORMAL,
    LawKind.EXPONENTIAL: LineLaw.EXPONENTIAL,
    LawKind.FIXED: LineLaw.DETERMINISTIC,
}

# What a voter takes while nobody has told: 90 s to check in, 5 min to mark, 10 min at an accessible
# station. Common practice, no source; varies by county.
_ASSUMED_MEAN_MS = {Stage.CHECK_IN: 90_000, Stage.MARK: 300_000, Stage.MARK_ACCESSIBLE: 600_000}

# Nobody waits for a step that has no stations; a path needs its first step to be there.
_AT_ONCE = StageWork(law=ServiceLaw(kind=LineLaw.DETERMINISTIC, mean_ms=1), limited=False)


class StagedType(Value, frozen=True, kw_only=True):
    """The station type whose number is sized for one stage."""

    stage: Stage
    station_type: str


def numbers_by_stage(plan: SitePlan, sized: Iterable[StagedType]) -> dict[Stage, int]:
    """The planned number of stations of each stage that is sized; 0 where the plan has none of its type."""
    planned = {count.station_type: count.count for count in plan.counts}
    return {one.stage: planned.get(one.station_type, 0) for one in sized}


class VoterPath(Value, frozen=True, kw_only=True):
    """A kind of site as the lines see it: the path, which types are sized, bounds, assumptions.

    `set` are the types whose number does not follow from lines, with that number.
    """

    path: SitePath
    sized: tuple[StagedType, ...]
    floor: StationCounts
    ceiling: StationChoice
    fixed: StationChoice
    costs: tuple[int, int, int, int]
    set: tuple[tuple[str, int], ...]
    assumptions: tuple[Assumption, ...]
    long_ballot_percent: int = 100


def voter_path(
    kind: SiteKind, types: dict[str, StationType], rules: CountyRules, fixed: dict[str, int]
) -> VoterPath:
    """The voter path of a kind of site; `fixed` are numbers that a person set, by station type.

    For each stage the first station type of the kind that serves it is sized; a second one keeps its fixed
    number or minimum. Where every station for marking is accessible, they are one stage for all voters. A
    ballot box (casting without a service time) makes no line.
    """
    stages = _stages(kind, types, fixed)
    staged: dict[Stage, StationUse] = {}
    set_numbers: list[tuple[str, int]] = []
    for use in kind.uses:
        stage = stages.get(use.station_type)
        if stage is None or stage in staged:
            number = fixed.get(use.station_type, use.minimum if use.fixed is None else use.fixed)
            set_numbers.append((use.station_type, number))
        else:
            staged[stage] = use
    works: dict[Stage, StageWork] = {}
    assumptions: list[Assumption] = []
    for stage, use in staged.items():
        work, assumed = _work(types[use.station_type], stage)
        works[stage] = work
        assumptions += assumed
    share = rules.whole("accessible-share") if Stage.MARK_ACCESSIBLE in works else 0
    path = SitePath(
        check_in=works.get(Stage.CHECK_IN, _AT_ONCE),
        mark=works.get(Stage.MARK),
        accessible=works.get(Stage.MARK_ACCESSIBLE),
        accessible_share_ppm=share,
        cast=works.get(Stage.CAST),
        jams=_jams(rules) if Stage.CAST in works else None,
        curbside=_curbside(rules),
        accessible_open=rules.choice("accessible-open") == "yes"
        and Stage.MARK in works
        and Stage.MARK_ACCESSIBLE in works,
        patience=_patience(rules),
    )
    return VoterPath(
        path=path,
        sized=tuple(StagedType(stage=s, station_type=staged[s].station_type) for s in SIZED if s in staged),
        floor=_floor(staged, types, rules),
        ceiling=_choice({s: use.maximum for s, use in staged.items()}),
        fixed=_choice({s: fixed.get(use.station_type, use.fixed) for s, use in staged.items()}),
        costs=_costs(staged, types),
        set=tuple(set_numbers),
        assumptions=tuple(assumptions),
        long_ballot_percent=100 + rules.whole("long-ballot"),
    )


def _stages(kind: SiteKind, types: dict[str, StationType], fixed: dict[str, int]) -> dict[str, Stage]:
    """The stage of each station type that voters can stand in line for; a type set to 0 serves nobody."""
    here = [
        types[use.station_type]
        for use in kind.uses
        if fixed.get(use.station_type, use.fixed) != 0 and use.maximum != 0
    ]
    marking = [t for t in here if t.step in (VoterStep.MARK, VoterStep.MARK_AND_CAST)]
    all_accessible = all(t.accessible for t in marking)
    stages: dict[str, Stage] = {}
    for station_type in here:
        if station_type.step is VoterStep.CHECK_IN:
            stages[station_type.id] = Stage.CHECK_IN
        elif station_type.step is VoterStep.CAST and station_type.service is not None:
            stages[station_type.id] = Stage.CAST
        elif station_type in marking:
            apart = station_type.accessible and not all_accessible
            stages[station_type.id] = Stage.MARK_ACCESSIBLE if apart else Stage.MARK
    return stages


def _work(station_type: StationType, stage: Stage) -> tuple[StageWork, list[Assumption]]:
    service = station_type.service
    if service is None:
        service = Service(mean_ms=_ASSUMED_MEAN_MS[stage], assumed=True)
    law = ServiceLaw(kind=_LAWS[service.law], mean_ms=service.mean_ms, cv_ppm=service.cv_ppm)
    failure = station_type.failure
    work = StageWork(law=law, failures=None if failure is None else _failures(failure))
    assumed: list[tuple[str, str, Message]] = []
    if service.assumed:
        why = message(N_("Nobody has timed voters at this type of station."))
        assumed.append(("service", f"{service.mean_ms // 1000} s", why))
    if failure is not None and failure.assumed:
        why = message(N_("Nobody has counted the failures of this type of station."))
        told = f"{failure.mean_use_hours} h, {failure.repair_minutes} min"
        assumed.append(("failure", told, why))
    return work, [
        Assumption(
            subject=f"station_type/{station_type.id}",
            field=field,
            value=value,
            why=why,
            list_wanted="station_types.toml",
        )
        for field, value, why in assumed
    ]


def _failures(failure: Failure) -> Failures:
    """Repairs are exponential about their mean: most are short, some take long."""
    repair = ServiceLaw(kind=LineLaw.EXPONENTIAL, mean_ms=failure.repair_minutes * MS_PER_MINUTE)
    return Failures(mean_use_ms=failure.mean_use_hours * HOUR_MS, repair=repair)


def _jams(rules: CountyRules) -> Jams | None:
    chance = rules.whole("jam-chance")
    if chance == 0:
        return None
    time = ServiceLaw(kind=LineLaw.EXPONENTIAL, mean_ms=rules.whole("jam-time") * MS_PER_MINUTE)
    return Jams(chance_ppm=chance, time=time)


def _curbside(rules: CountyRules) -> Curbside | None:
    share = rules.whole("curbside-share")
    if share == 0:
        return None
    # Spread as at other stations that nobody has timed: half the mean.
    law = ServiceLaw(mean_ms=rules.whole("curbside-time") * MS_PER_MINUTE, cv_ppm=500_000)
    return Curbside(share_ppm=share, stations=rules.whole("curbside-stations"), law=law)


def _patience(rules: CountyRules) -> ServiceLaw | None:
    minutes = rules.whole("line-patience")
    if minutes == 0:
        return None
    return ServiceLaw(kind=LineLaw.EXPONENTIAL, mean_ms=minutes * MS_PER_MINUTE)


def _floor(
    staged: dict[Stage, StationUse], types: dict[str, StationType], rules: CountyRules
) -> StationCounts:
    numbers = dict.fromkeys(SIZED, 0)
    for stage, use in staged.items():
        least = use.minimum
        marks = stage in (Stage.MARK, Stage.MARK_ACCESSIBLE)
        if marks and types[use.station_type].accessible:
            least = max(least, rules.whole("accessible-stations"))
        numbers[stage] = min(max(least, 1), MOST_STATIONS)
    check_in, mark, accessible, cast = (numbers[stage] for stage in SIZED)
    return StationCounts(check_in=check_in, mark=mark, mark_accessible=accessible, cast=cast)


def _choice(numbers: dict[Stage, int | None]) -> StationChoice:
    check_in, mark, accessible, cast = (numbers.get(stage) for stage in SIZED)
    return StationChoice(check_in=check_in, mark=mark, mark_accessible=accessible, cast=cast)


def _costs(staged: dict[Stage, StationUse], types: dict[str, StationType]) -> tuple[int, int, int, int]:
    a, b, c, d = (types[staged[s].station_type].cost if s in staged else 1 for s in SIZED)
    return a, b, c, d
