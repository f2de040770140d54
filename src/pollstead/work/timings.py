"""Take timings in: look first, answer what clock and list leave open, then take values by one act.

What came from a file is held as counts, quantiles and fitted numbers; its digest, number of rows and days go
into the record beside the values, and no row of it anywhere.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import msgspec

from pollstead.election.county import Election
from pollstead.election.timings import (
    Answer,
    CheckInDay,
    FaultKind,
    GapQuantiles,
    LineReading,
    StepSamples,
    TimingFault,
    TimingKind,
    TimingsRead,
)
from pollstead.election.values import Value
from pollstead.intake.timings.clock_faults import answered, clock_faults
from pollstead.plan.lines.fit import CheckInTypes, FitGiven, OpenHours, TimingsFit, fit_timings
from pollstead.record.kinds.timings import TimedFile, TimedValue, TimingsTaken, TimingsTakenPrivate
from pollstead.record.write import Moment
from pollstead.work.facts import FactsTaken, change_facts
from pollstead.work.timings_lines import ValueLine, value_lines
from pollstead.work.timings_names import PlaceNames, UnknownPlace

if TYPE_CHECKING:
    from pollstead.record.event import Person, Signed
    from pollstead.record.facts import Fold
    from pollstead.store.desk import Desk

ACT = "timings"
_What = Literal["check_in_times", "line_counts", "samples"]
_WHAT: dict[TimingKind, _What] = {
    TimingKind.CHECK_IN_TIMES: "check_in_times",
    TimingKind.LINE_COUNTS: "line_counts",
    TimingKind.SAMPLES: "samples",
}


class Said(Value, frozen=True, kw_only=True):
    """What a person says: of names (text to id, "" leaves out) and of faults (key to answer)."""

    same: tuple[tuple[str, str], ...] = ()
    answers: tuple[tuple[str, Answer], ...] = ()


class Looked(Value, frozen=True, kw_only=True):
    """What files of timings say of a county; `lines` are the values that can be taken.

    `open_faults` have no answer yet and keep everything from being taken, as `unknown` names do.
    """

    reads: tuple[TimingsRead, ...]
    unknown: tuple[UnknownPlace, ...]
    faults: tuple[TimingFault, ...]
    answers: tuple[tuple[str, Answer], ...]
    gaps: tuple[GapQuantiles, ...]
    fit: TimingsFit
    lines: tuple[ValueLine, ...]
    without_hours: tuple[str, ...]

    @property
    def refused(self) -> bool:
        """Whether a file was kept out."""
        return any(read.refused for read in self.reads)

    @property
    def open_faults(self) -> tuple[TimingFault, ...]:
        """Faults that nobody has answered."""
        told = dict(self.answers)
        return tuple(one for one in self.faults if told.get(one.key) not in one.answers)

    @property
    def may_take(self) -> bool:
        """Whether values can be taken."""
        return bool(self.lines) and not (self.refused or self.unknown or self.open_faults)


class NothingToTake(ValueError):
    """No line was chosen, or something is still open."""


def look(
    election: Election, names: PlaceNames, reads: Iterable[TimingsRead], said: Said | None = None
) -> Looked:
    """What the files say together; nothing is written."""
    reads, said = tuple(reads), said or Said()
    known = tuple(read for read in reads if not read.refused)
    unknown: dict[tuple[str, str], UnknownPlace] = {}
    days = _days(known, names, unknown)
    lines = _lines(known, names, unknown)
    steps = _steps(known, names, unknown)
    hours = {
        (site.id, one.date): (one.opens_min, one.closes_min) for site in election.sites for one in site.hours
    }
    hours |= _other_days(election, days, lines, hours)
    faults = [_named(fault, names) for read in known for fault in read.faults]
    faults += clock_faults(days, lines, hours)
    answers = tuple((key, answer) for key, answer in said.answers if key in {one.key for one in faults})
    days, lines, not_known = answered(days, lines, tuple(faults), dict(answers))
    places = _places(days, lines)
    fit = fit_timings(
        FitGiven(
            days=days,
            lines=lines,
            steps=steps,
            hours=tuple(
                OpenHours(
                    site=site,
                    date=date,
                    opens_min=hours[site, date][0],
                    closes_min=hours[site, date][1],
                    unknown=tuple(not_known.get((site, date), ())),
                )
                for site, date in sorted(places)
                if (site, date) in hours
            ),
            check_in=_check_in_types(names, {site for site, _ in places}),
            present_ppm=tuple((one.hour, one.share_ppm) for one in election.arrivals),
        )
    )
    return Looked(
        reads=reads,
        unknown=tuple(unknown.values()),
        faults=tuple(faults),
        answers=answers,
        gaps=tuple(gap for read in known for gap in read.gaps),
        fit=fit,
        lines=value_lines(election, fit),
        without_hours=tuple(sorted({site for site, date in places if (site, date) not in hours})),
    )


def _site(text: str, names: PlaceNames, unknown: dict[tuple[str, str], UnknownPlace]) -> str:
    found = names.site(text)
    if found is None and ("site", text) not in unknown:
        unknown["site", text] = names.unknown_site(text)
    return found or ""


def _days(
    reads: tuple[TimingsRead, ...], names: PlaceNames, unknown: dict[tuple[str, str], UnknownPlace]
) -> tuple[CheckInDay, ...]:
    found = [
        msgspec.structs.replace(day, site=site)
        for read in reads
        for day in read.days
        if (site := _site(day.site, names, unknown))
    ]
    return tuple(found)


def _lines(
    reads: tuple[TimingsRead, ...], names: PlaceNames, unknown: dict[tuple[str, str], UnknownPlace]
) -> tuple[LineReading, ...]:
    return tuple(
        msgspec.structs.replace(line, site=site)
        for read in reads
        for line in read.lines
        if (site := _site(line.site, names, unknown))
    )


def _steps(
    reads: tuple[TimingsRead, ...], names: PlaceNames, unknown: dict[tuple[str, str], UnknownPlace]
) -> tuple[StepSamples, ...]:
    found = []
    for step in (step for read in reads for step in read.steps):
        site = _site(step.site, names, unknown) if step.site else ""
        if step.site and not site:
            continue
        kind = names.station_type(step.station_type, site)
        if kind is None:
            key = ("station type", step.station_type)
            unknown.setdefault(key, names.unknown_type(step.station_type, site))
        elif kind:
            found.append(msgspec.structs.replace(step, station_type=kind, site=site))
    return tuple(found)


def _named(fault: TimingFault, names: PlaceNames) -> TimingFault:
    """A fault told while reading, with the site by id: then an answer finds its days."""
    return msgspec.structs.replace(fault, site=names.site(fault.site) or fault.site) if fault.site else fault


def _other_days(
    election: Election,
    days: tuple[CheckInDay, ...],
    lines: tuple[LineReading, ...],
    hours: Mapping[tuple[str, dt.date], tuple[int, int]],
) -> dict[tuple[str, dt.date], tuple[int, int]]:
    """Days of an earlier election take the site's hours of election day: nobody told theirs."""
    usual = {
        site.id: (one.opens_min, one.closes_min)
        for site in election.sites
        for one in site.hours
        if one.date == election.election_day
    }
    return {
        (site, date): usual[site]
        for site, date in _places(days, lines)
        if (site, date) not in hours and site in usual
    }


def _places(days: tuple[CheckInDay, ...], lines: tuple[LineReading, ...]) -> set[tuple[str, dt.date]]:
    return {(one.site, one.date) for one in days} | {(one.site, one.date) for one in lines}


def _check_in_types(names: PlaceNames, sites: set[str]) -> tuple[CheckInTypes, ...]:
    found = []
    for site in sorted(sites):
        kind = names.check_in_type(site)
        if kind is not None:
            cv = kind.service.cv_ppm if kind.service is not None else 1_000_000
            found.append(CheckInTypes(site=site, station_type=kind.id, cv_ppm=cv))
    return tuple(found)


def take(
    folder: Path,
    desk: Desk,
    looked: Looked,
    numbers: frozenset[int],
    *,
    reason: str,
    people: tuple[Person, ...],
    moment: Moment,
) -> tuple[FactsTaken, Signed]:
    """Write the chosen values into the facts by one change, then what they rest on beside it.

    Raises NothingToTake, and what `change_facts` raises.
    """
    chosen = [line for line in looked.lines if line.number in numbers]
    if not looked.may_take or not chosen:
        raise NothingToTake("no value was chosen, or a name or fault is still open")
    taken = change_facts(
        folder,
        [edit for line in chosen for edit in line.edits],
        act=ACT,
        reason=reason,
        people=people,
        desk=desk,
        moment=moment,
    )
    first, last = _span(looked, chosen)
    event = desk.recorder.record(
        TimingsTaken(
            change=taken.event.id,
            files=tuple(
                TimedFile(digest=read.digest, what=_WHAT[read.kind], rows=read.rows) for read in looked.reads
            ),
            values=tuple(
                TimedValue(
                    of=line.subject,
                    value=line.band.value,
                    low=line.band.low,
                    high=line.band.high,
                    samples=line.samples,
                )
                for line in chosen
            ),
            first=first.isoformat() if first else "",
            last=last.isoformat() if last else "",
        ),
        subject="facts",
        people=people,
        moment=moment,
        after=(taken.event.id,),
        private=TimingsTakenPrivate(
            files=tuple(read.name[:200] for read in looked.reads),
            answers=tuple(f"{key}={answer.value}" for key, answer in looked.answers),
            reason=reason.strip(),
        ),
    )
    return taken, event


def _span(looked: Looked, chosen: list[ValueLine]) -> tuple[dt.date | None, dt.date | None]:
    days = [day for line in chosen for day in (line.first, line.last) if day is not None]
    return min(days, default=None), max(days, default=None)


class TakenBefore(Value, frozen=True, kw_only=True):
    """Timings that were taken before: when, by whom, what."""

    event: str
    utc_ms: int
    person: str
    change: str
    rows: int
    digests: tuple[str, ...]
    first: str
    last: str
    values: tuple[TimedValue, ...]


def taken_before(fold: Fold) -> tuple[TakenBefore, ...]:
    """What was taken from timings so far, the newest first."""
    found = []
    for fact in fold.named(TimingsTaken.kind):
        for reading in fact.current:
            body = reading.value
            found.append(
                TakenBefore(
                    event=reading.event,
                    utc_ms=reading.utc_ms,
                    person=reading.people[0].person if reading.people else "",
                    change=str(body["change"]),
                    rows=sum(int(one["rows"]) for one in body["files"]),
                    digests=tuple(str(one["digest"]) for one in body["files"]),
                    first=str(body.get("first", "")),
                    last=str(body.get("last", "")),
                    values=tuple(
                        TimedValue(
                            of=str(one["of"]),
                            value=int(one["value"]),
                            low=int(one["low"]),
                            high=int(one["high"]),
                            samples=int(one["samples"]),
                        )
                        for one in body["values"]
                    ),
                )
            )
    return tuple(sorted(found, key=lambda one: (-one.utc_ms, one.event)))


def usual_answer(fault: TimingFault) -> Answer:
    """What a form stands on before somebody says: nothing is shifted or taken as read by itself."""
    return Answer.LEAVE_OUT if fault.kind is FaultKind.BAD_ROW else fault.answers[0]
