"""Split the fleet of a county folder's newest plan; accept a split as fixed numbers; take one back."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from pollstead.election.county import Assumption, Election
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import RuleLevel
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan.lines.spares import KindSpares
from pollstead.plan.lines.split_compare import SplitFacts, facts_of
from pollstead.plan.lines.split_holds import NumberHeld, numbers_held
from pollstead.plan.lines.split_tables import uses
from pollstead.plan.splitting import Splitting, StagedStation, splitting_of
from pollstead.plan.stations.counts import FIELD, TABLE
from pollstead.plan.terms.fresh import Fresh
from pollstead.plan.terms.split import Goal, SplitAnswer, SplitGiven
from pollstead.plan.terms.version import EngineVersion
from pollstead.work.county_folder import digests, engines, refuse, store_of, told_of, version_of
from pollstead.work.overruling import Decision, Place, decisions_standing, fix_all, unfix_all

if TYPE_CHECKING:
    from pollstead.plan.terms.part import Watch
    from pollstead.record.event import Person
    from pollstead.record.fold import Fold
    from pollstead.record.write import Moment, Recorder

FORMAT = "pollstead split 1"
WITHIN_PERCENT, STAY_MIN, DAYS, FRESH_DAYS = 10, 5, 64, 256
SPARE_SHARE, RUN_OUT = "spare-share", "spare-run-out"
FRESH_PART = N_("fresh days")


class SplitReport(Value, frozen=True, kw_only=True):
    """A split of one plan version with all that stands behind it; `answer` is None where there is none.

    `planned_use` are the devices that the numbers of the plan take at the sites, by kind as in `facts.fleet`.
    """

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
    held: tuple[NumberHeld, ...] = ()
    planned_use: tuple[int, ...] = ()
    spare_share_ppm: int | None = None
    run_out_ppm: int | None = None


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
    spare_share_ppm: int | None = None,
    run_out_ppm: int | None = None,
) -> SplitReport:
    """Split the fleet of the newest plan version, compare it on fresh days; nothing is changed.

    `spare_share_ppm` and `run_out_ppm` try other spares than the county's rules ask for (None). Refuses a
    folder without a plan, and fewer spares than a rule of law or a directive asks for; raises `Cancelled`
    from `watch`.
    """
    with store_of(folder) as store:
        kept = digests(store)
        version = version_of(store, kept[-1])
        election = msgspec.json.decode(store.snapshots.load(version.snapshot), type=Election)
        told = told_of(store, version)
    _spares_that_may_be_tried(election, spare_share_ppm, run_out_ppm)
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
        spare_share_ppm=spare_share_ppm,
        run_out_ppm=run_out_ppm,
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
        planned_use=_planned_use(made.given),
        held=() if answer is None else numbers_held(made.given, answer),
        spare_share_ppm=spare_share_ppm,
        run_out_ppm=run_out_ppm,
    )


def _planned_use(given: SplitGiven) -> tuple[int, ...]:
    used = [uses(site, site.has) for site in given.sites]
    return tuple(sum(one[n] for one in used) for n in range(len(given.fleet)))


def _spares_that_may_be_tried(
    election: Election, spare_share_ppm: int | None, run_out_ppm: int | None
) -> None:
    """Refuse fewer spares than a law or a directive asks for; the office's own choices may be tried."""
    rules = election.rules
    fewer = {
        SPARE_SHARE: spare_share_ppm is not None and spare_share_ppm < rules.whole(SPARE_SHARE),
        RUN_OUT: run_out_ppm is not None and run_out_ppm > rules.whole(RUN_OUT),
    }
    for rule in (rule for rule, found in fewer.items() if found):
        level = rules.setting(rule).level
        if level not in (RuleLevel.POLICY, RuleLevel.ASSUMED):
            refuse(
                N_("The rule {rule} is a {level}: fewer spares than it asks for are not tried here."),
                rule=rule,
                level=level.value,
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
    wanted = tuple((new.place, str(new.value)) for new in new_numbers(report) if new.place not in standing)
    return len(fix_all(recorder, fold, wanted, reason=reason, people=people, moment=moment))


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
    """Let all numbers of one act that still stand follow the plan again; gives how many."""
    return len(unfix_all(recorder, fold, act.places, reason=reason, people=people, moment=moment))
