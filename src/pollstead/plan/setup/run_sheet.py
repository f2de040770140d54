"""The run sheet of a site: set-up steps of all its stations, evening before and morning apart.

Each station's steps follow their precedence; the crew does as many at once as it has people. A step waits
for the steps of its own station, for a step done once at the site, or, written ``TYPE/step``, for that
step at every station of another type.
"""

from __future__ import annotations

import msgspec

from pollstead.election.identity import make_id
from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import Moment, SetUpStep, StationType
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan.setup.critical_path import (
    Activity,
    WaitsForItself,
    critical_path,
    levelled,
    people_at_once,
)
from pollstead.plan.terms.part import Effort, Figure, Outcome, Reason, Watch, plain
from pollstead.plan.terms.stations import FixedStep, RunSheetGiven, RunSheetSite, SiteRunSheet
from pollstead.plan.terms.version import RunStep

ASSUMED_CREW = 4
"""People who set up a site while nobody has told how many. Common practice, no source; varies by county."""


class _Step(Value, frozen=True, kw_only=True):
    """One step of one station type at a site, done `times` times."""

    station_type: str
    step: SetUpStep
    times: int

    @property
    def id(self) -> str:
        return f"{self.station_type}/{self.step.id}"

    def instances(self) -> tuple[str, ...]:
        return tuple(f"{self.id}/{number}" for number in range(1, self.times + 1))


class _Sheet(Value, frozen=True, kw_only=True):
    """A schedule: its steps, and for each part the most people at work at once."""

    steps: tuple[RunStep, ...]
    people: tuple[int, ...]


def run(
    given: RunSheetGiven, rules: CountyRules, seed: int, effort: Effort, watch: Watch
) -> Outcome[tuple[SiteRunSheet, ...]]:
    """The run sheets of all sites; sites with equal counts and crew share one computation."""
    types = {t.id: t for t in given.station_types}
    sheets: list[SiteRunSheet] = []
    notices: list[Notice] = []
    reasons: list[Reason] = []
    done: dict[tuple[object, ...], _Sheet | str] = {}
    for index, site in enumerate(given.sites):
        watch.step("run sheets", index, len(given.sites))
        steps = _steps(site, types)
        crew = max(site.crew or ASSUMED_CREW, *(s.step.people for s in steps), 1)
        key = (crew, site.fixed, *((c.station_type, c.count) for c in site.counts))
        if key not in done:
            try:
                done[key] = _schedule(steps, crew)
            except WaitsForItself as error:
                done[key] = str(error)
        found = done[key]
        if isinstance(found, str):
            notices.append(_circle(site, found))
            found = _Sheet(steps=(), people=())
        sheets.append(SiteRunSheet(site=site.site, steps=found.steps, crew=crew))
        reasons += _reasons(site, found, crew)
        notices += _too_late(site, found.steps)
        notices += _crew_too_small(site, crew)
    return Outcome(tuple(sheets), notices=tuple(notices), reasons=tuple(reasons), work_units=len(given.sites))


def _steps(site: RunSheetSite, types: dict[str, StationType]) -> list[_Step]:
    fixed = {f.step: f for f in site.fixed}
    return [
        _Step(
            station_type=c.station_type,
            step=_as_fixed(step, fixed.get(f"{c.station_type}/{step.id}")),
            times=1 if step.once_per_site else c.count,
        )
        for c in site.counts
        if c.count
        for step in types[c.station_type].set_up
    ]


def _as_fixed(step: SetUpStep, fixed: FixedStep | None) -> SetUpStep:
    if fixed is None:
        return step
    return msgspec.structs.replace(
        step,
        minutes=step.minutes if fixed.minutes is None else fixed.minutes,
        people=step.people if fixed.people is None else fixed.people,
    )


def _schedule(steps: list[_Step], crew: int) -> _Sheet:
    """The steps of each part of the run sheet by earliest start; a part begins after the one before."""
    sheet: list[RunStep] = []
    people: list[int] = []
    for when in Moment:
        mine = [s for s in steps if s.step.when is when]
        if not mine:
            continue
        activities = _activities(mine, steps)
        start = levelled(activities, crew)
        critical = {times.id: times.critical for times in critical_path(activities)}
        rows = []
        for s in mine:
            begins = [start[name] for name in s.instances()]
            rows.append(
                RunStep(
                    id=s.id,
                    words=s.step.words,
                    when=when,
                    station_type=s.station_type,
                    starts_min=min(begins),
                    ends_min=max(begins) + s.step.minutes,
                    people=s.step.people,
                    critical=any(critical[name] for name in s.instances()),
                    times=s.times,
                    caution=s.step.caution,
                )
            )
        sheet += sorted(rows, key=lambda row: (row.starts_min, row.ends_min))
        people.append(max(people_at_once(activities, start), default=0))
    return _Sheet(steps=tuple(sheet), people=tuple(people))


def _activities(mine: list[_Step], all_steps: list[_Step]) -> tuple[Activity, ...]:
    """One activity for each step of each station of this part; waits for earlier parts are met already."""
    here = {s.id: s for s in mine}
    known = {s.id for s in all_steps}
    found = []
    for s in mine:
        for number, name in enumerate(s.instances(), start=1):
            after: list[str] = []
            for wanted in s.step.after:
                own = f"{s.station_type}/{wanted}"
                before = here.get(own if own in known else wanted)
                if before is None:
                    continue
                alike = before.station_type == s.station_type and before.times == s.times
                after += [f"{before.id}/{number}"] if alike else before.instances()
            found.append(Activity(id=name, minutes=s.step.minutes, people=s.step.people, after=tuple(after)))
    return tuple(found)


def minutes_of(steps: tuple[RunStep, ...], when: Moment) -> int:
    """How long one part of a run sheet takes."""
    return max((step.ends_min for step in steps if step.when is when), default=0)


def _reasons(site: RunSheetSite, sheet: _Sheet, crew: int) -> list[Reason]:
    found = []
    steps = sheet.steps
    for when, at_once in zip(dict.fromkeys(step.when for step in steps), sheet.people, strict=True):
        mine = [step for step in steps if step.when is when]
        found.append(
            Reason(
                subject=make_id("site", site.site),
                field=f"run sheet {when.value}",
                text=message(
                    N_("This part of setting up takes {minutes} min with {crew} people."),
                    minutes=minutes_of(steps, when),
                    crew=crew,
                ),
                figures=(
                    Figure(
                        name=N_("people"),
                        value=plain(crew),
                        source=N_("assumed") if site.crew is None else "people.csv",
                    ),
                    Figure(name=N_("most people at work at once"), value=plain(at_once)),
                    *(
                        Figure(name=s.id, value=f"{s.starts_min}-{s.ends_min}", unit="min", source=s.words)
                        for s in mine
                    ),
                ),
            )
        )
    return found


def _too_late(site: RunSheetSite, steps: tuple[RunStep, ...]) -> list[Notice]:
    """An open item where the building opens to the crew too late for the morning part."""
    needed = minutes_of(steps, Moment.OPENING)
    if site.opens_min is None or site.access_from_min is None:
        return []
    if site.access_from_min + needed <= site.opens_min:
        return []
    return [
        Notice(
            kind=NoticeKind.OPEN_ITEM,
            rule="set-up-time",
            subject=make_id("site", site.site),
            text=message(
                N_(
                    "Setting up in the morning takes {minutes} min, so that people must be in by {latest}; "
                    "the building is open to them from {access}."
                ),
                minutes=needed,
                latest=format_clock(max(0, site.opens_min - needed)),
                access=format_clock(site.access_from_min),
            ),
            found=format_clock(site.access_from_min),
            wanted=format_clock(max(0, site.opens_min - needed)),
            remedy=message(N_("Ask for earlier access, send more people, or set up the evening before.")),
            depends=(str(needed), str(site.opens_min), str(site.access_from_min)),
        )
    ]


def _crew_too_small(site: RunSheetSite, crew: int) -> list[Notice]:
    if site.crew is None or site.crew >= crew:
        return []
    return [
        Notice(
            kind=NoticeKind.OPEN_ITEM,
            rule="set-up-people",
            subject=make_id("site", site.site),
            text=message(
                N_("One set-up step needs {needed} people at once; {crew} are named for this site."),
                needed=crew,
                crew=site.crew,
            ),
            found=plain(site.crew),
            wanted=plain(crew),
            depends=(str(site.crew), str(crew)),
        )
    ]


def _circle(site: RunSheetSite, told: str) -> Notice:
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="set-up-circle",
        subject=make_id("site", site.site),
        text=message(N_("No run sheet for this site: {told}."), told=told),
        remedy=message(N_("Correct the column after of the set-up steps in station_types.toml.")),
        depends=(told,),
    )
