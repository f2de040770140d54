"""Split the fleet of a county folder's newest plan; accept a split as fixed numbers; take one back."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from pollstead.election.county import Assumption, Election
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan.lines.spares import KindSpares
from pollstead.plan.lines.split_compare import SplitFacts, facts_of
from pollstead.plan.splitting import Splitting, StagedStation, splitting_of
from pollstead.plan.stations.counts import FIELD, TABLE
from pollstead.plan.terms.fresh import Fresh
from pollstead.plan.terms.split import Goal, SplitAnswer
from pollstead.plan.terms.version import EngineVersion
from pollstead.work.county_folder import digests, engines, store_of, told_of, version_of
from pollstead.work.overruling import Decision, Place, decisions_standing, fix, unfix

if TYPE_CHECKING:
    from pollstead.plan.terms.part import Watch
    from pollstead.record.event import Person
    from pollstead.record.fold import Fold
    from pollstead.record.write import Moment, Recorder

FORMAT = "pollstead split 1"
WITHIN_PERCENT, STAY_MIN, DAYS, FRESH_DAYS = 10, 5, 64, 256
FRESH_PART = N_("fresh days")


class SplitReport(Value, frozen=True, kw_only=True):
    """A split of one plan version with all that stands behind it; `answer` is None where there is none."""

    format: str = FORMAT
    plan: str
    number: int
    goal: Goal
    within_percent: int
    stay_min: int
    answer: SplitAnswer | None
    fresh: Fresh | None
    notices: tuple[Notice, ...]
    staged: tuple[StagedStation, ...]
    spares: tuple[KindSpares, ...]
    assumptions: tuple[Assumption, ...]
    no_number: tuple[str, ...]
    facts: SplitFacts
    engines: tuple[EngineVersion, ...]


class NewNumber(Value, frozen=True, kw_only=True):
    """One number that accepting a split fixes."""

    place: Place
    before: int
    value: int


class AcceptedSplit(Value, frozen=True, kw_only=True):
    """Numbers that one person fixed in one act, with one reason."""

    reason: str
    person: str
    utc_ms: int
    places: tuple[Place, ...]


def split_folder(
    folder: Path,
    *,
    watch: Watch,
    goal: Goal = Goal.TOTAL,
    within_percent: int = WITHIN_PERCENT,
    stay_min: int = STAY_MIN,
    days: int = DAYS,
    fresh_days: int = FRESH_DAYS,
    workers: int = 0,
) -> SplitReport:
    """Split the fleet of the newest plan version, compare it on fresh days; nothing is changed.

    Refuses a folder without a plan; raises `Cancelled` from `watch`.
    """
    with store_of(folder) as store:
        kept = digests(store)
        version = version_of(store, kept[-1])
        election = msgspec.json.decode(store.snapshots.load(version.snapshot), type=Election)
        told = told_of(store, version)
    from pollstead.plan.lines.split import split
    from pollstead.plan.lines.split_fresh import fresh

    made = splitting_of(
        election,
        version,
        told,
        watch,
        goal=goal,
        within_ppm=within_percent * 10_000,
        stay_ms=stay_min * 60_000,
        days=days,
    )
    threads = workers or os.cpu_count() or 1
    notices = made.notices if made.given.fleet else (*made.notices, _nothing_counted(made))
    answer = None
    if made.given.fleet:
        found = split(made.given, version.seed, watch=watch, workers=threads)
        notices = (*found.notices, *made.notices)
        answer = found.value if isinstance(found.value, SplitAnswer) else None
    compared = None
    if answer is not None:
        compared = fresh(
            made.given,
            answer,
            version.seed,
            fresh_days,
            workers=threads,
            told=lambda done, total: watch.step(FRESH_PART, done, total),
        )
    return SplitReport(
        plan=kept[-1],
        number=len(kept),
        goal=goal,
        within_percent=within_percent,
        stay_min=stay_min,
        answer=answer,
        fresh=compared,
        notices=notices,
        staged=made.staged,
        spares=made.spares,
        assumptions=made.assumptions,
        no_number=made.no_number,
        facts=facts_of(made.given),
        engines=(*engines(), _solver()),
    )


def _nothing_counted(made: Splitting) -> Notice:
    kinds = ", ".join(made.no_number) or "-"
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="split-no-fleet",
        subject="day/split",
        text=message(
            N_(
                "Nobody has counted the fleet, so there is nothing to split. Kinds of device that stations "
                "take: {kinds}."
            ),
            kinds=kinds,
        ),
        remedy=message(N_("Add the serials to devices.csv, or the number to fleet_totals.csv.")),
        depends=(kinds,),
    )


def _solver() -> EngineVersion:
    import importlib.metadata

    return EngineVersion(name="highspy", version=importlib.metadata.version("highspy"))


def new_numbers(report: SplitReport) -> tuple[NewNumber, ...]:
    """What accepting fixes: every number of each site that changes, so that none follows another.

    A number that stays the same at such a site is fixed too: sizing would otherwise answer one new number
    with others.
    """
    if report.answer is None:
        return ()
    types = {one.site: one.types for one in report.staged}
    found = []
    for one in report.answer.sites:
        if not one.changed:
            continue
        for station_type, before, value in zip(types[one.site], one.has, one.counts, strict=True):
            if station_type and value:
                place = Place(table=TABLE, row=f"{one.site}/{station_type}", field=FIELD)
                found.append(NewNumber(place=place, before=before, value=value))
    return tuple(found)


def accept(
    recorder: Recorder,
    fold: Fold,
    report: SplitReport,
    *,
    reason: str,
    people: tuple[Person, ...],
    moment: Moment,
) -> int:
    """Fix the numbers of a split by one person at one moment; gives how many. Those fixed before stay."""
    standing = {decision.place for decision in decisions_standing(fold)}
    wanted = [new for new in new_numbers(report) if new.place not in standing]
    for new in wanted:
        fix(recorder, fold, new.place, str(new.value), reason=reason, people=people, moment=moment)
    return len(wanted)


def accepted_splits(fold: Fold) -> tuple[AcceptedSplit, ...]:
    """Acts that fixed several numbers of stations at one moment and still stand, the newest first."""
    acts: dict[tuple[int, str, str], list[Decision]] = {}
    for decision in decisions_standing(fold):
        if decision.place.table == TABLE:
            acts.setdefault((decision.utc_ms, decision.person, decision.reason), []).append(decision)
    return tuple(
        AcceptedSplit(
            reason=reason, person=person, utc_ms=utc_ms, places=tuple(one.place for one in decisions)
        )
        for (utc_ms, person, reason), decisions in sorted(acts.items(), reverse=True)
        if len(decisions) > 1
    )


def take_back(
    recorder: Recorder,
    fold: Fold,
    act: AcceptedSplit,
    *,
    reason: str,
    people: tuple[Person, ...],
    moment: Moment,
) -> int:
    """Let all numbers of one act follow the plan again; gives how many."""
    for place in act.places:
        unfix(recorder, fold, place, reason=reason, people=people, moment=moment)
    return len(act.places)
