"""What files of timings say, as pages show it: columns, values with intervals, arrivals by hour."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from pollstead.election.notice import Notice
from pollstead.election.timings import Answer, TimingKind
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.timings.columns import Role
from pollstead.work.timings_lines import percent_text, seconds_text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.election.timings import TimingsRead
    from pollstead.work.timings import Looked, TakenBefore
    from pollstead.work.timings_lines import ValueLine
    from pollstead.work.timings_names import UnknownPlace

KIND_WORDS: Final = {
    TimingKind.CHECK_IN_TIMES: N_("check-in times"),
    TimingKind.LINE_COUNTS: N_("line counts"),
    TimingKind.SAMPLES: N_("timed samples"),
}
ROLE_WORDS: Final = {
    Role.TIME: N_("time"),
    Role.DATE: N_("date"),
    Role.SITE: N_("site"),
    Role.STATION: N_("station"),
    Role.IN_LINE: N_("people in line"),
    Role.CHECK_INS: N_("check-ins of the hour that begins then"),
    Role.CHECK_INS_BEFORE: N_("check-ins of the hour before"),
    Role.CHECK_INS_SO_FAR: N_("check-ins so far"),
    Role.STATIONS_OPEN: N_("stations open"),
    Role.STATION_TYPE: N_("station type"),
    Role.STEP: N_("step"),
    Role.SECONDS: N_("seconds"),
    Role.START: N_("start"),
    Role.END: N_("end"),
    Role.STILL_GOING: N_("still going"),
}
ANSWER_WORDS: Final = {
    Answer.AS_READ: N_("take it as read"),
    Answer.SHIFT: N_("the clock was off: shift it"),
    Answer.UNKNOWN: N_("nobody counted then"),
    Answer.LEAVE_OUT: N_("leave it out"),
}
SERVICE: Final = "service/"
LEFT_OUT: Final = "-"


class FileRow(Value, frozen=True, kw_only=True):
    """A file as it was read: what it is, its rows, each heading with what it was taken for."""

    name: str
    digest: str
    kind: str
    rows: int
    columns: tuple[tuple[str, str], ...]
    remarks: tuple[Notice, ...]


class AskedRow(Value, frozen=True, kw_only=True):
    """A name that is not known, or a fault of clock or list: what is asked, the answers, the one given."""

    field: str
    key: str
    name: str
    words: Message | None
    answers: tuple[tuple[str, str], ...]
    others: tuple[tuple[str, str], ...]
    chosen: str


class ValueRow(Value, frozen=True, kw_only=True):
    """One value that can be taken, with its interval and what to know; `ticked` before anybody chose."""

    number: int
    title: Message
    now: Message
    then: Message
    interval: Message
    basis: Message
    thin: bool
    notes: tuple[Message, ...]
    ticked: bool


class HourRow(Value, frozen=True, kw_only=True):
    """One clock hour of arrivals in percent of the day: now, as counted with its interval, as offered."""

    hour: str
    now: str
    counted: str
    low: str
    high: str
    offered: str


class BeforeRow(Value, frozen=True, kw_only=True):
    """Timings that were taken before: when, by whom, what they rested on, the values."""

    utc_ms: int
    person: str
    rows: int
    files: int
    first: str
    last: str
    change: str
    values: tuple[tuple[Message, Message, int], ...]


def file_rows(looked: Looked) -> tuple[FileRow, ...]:
    """Each file of a look."""
    return tuple(
        FileRow(
            name=read.name,
            digest=read.digest,
            kind=KIND_WORDS[read.kind],
            rows=read.rows,
            columns=tuple((theirs, ROLE_WORDS[Role(ours)]) for theirs, ours in read.used),
            remarks=read.remarks,
        )
        for read in looked.reads
    )


def unknown_headings(read: TimingsRead) -> tuple[str, ...]:
    """Headings that may not come in, or that somebody must say the meaning of."""
    return tuple(
        notice.place.column
        for notice in read.refused
        if notice.rule == "timings-column" and notice.place is not None and notice.place.column
    )


def name_rows(looked: Looked, election: Election) -> tuple[AskedRow, ...]:
    """Each name that nobody knows, with the ids that it may mean, the nearest first."""
    sites = {site.id: f"{site.id} {site.name}" for site in election.sites}
    types = {kind.id: kind.name for kind in election.station_types}
    return tuple(
        _name_row(n, one, sites if one.what == "site" else types) for n, one in enumerate(looked.unknown)
    )


def _name_row(number: int, one: UnknownPlace, known: dict[str, str]) -> AskedRow:
    near = [key for key in one.nearest if key in known]
    return AskedRow(
        field=f"name-{number}",
        key=one.text,
        name=one.text,
        words=None,
        answers=tuple((key, known[key]) for key in near),
        others=tuple((key, name) for key, name in known.items() if key not in near),
        chosen="",
    )


def fault_rows(looked: Looked) -> tuple[AskedRow, ...]:
    """Each fault of clock or list with the answers that it takes; none stands there before it was given."""
    told = dict(looked.answers)
    return tuple(
        AskedRow(
            field=f"fault-{n}",
            key=fault.key,
            name="",
            words=fault.words,
            answers=tuple((answer.value, ANSWER_WORDS[answer]) for answer in fault.answers),
            others=(),
            chosen=told[fault.key].value if told.get(fault.key) in fault.answers else "",
        )
        for n, fault in enumerate(looked.faults)
    )


def value_rows(looked: Looked, chosen: frozenset[int] | None) -> tuple[ValueRow, ...]:
    """Each value; before anybody chose, all are ticked that are not too thin."""
    return tuple(_value_row(line, chosen) for line in looked.lines)


def _value_row(line: ValueLine, chosen: frozenset[int] | None) -> ValueRow:
    return ValueRow(
        number=line.number,
        title=line.title,
        now=line.now,
        then=line.then,
        interval=line.interval,
        basis=line.basis,
        thin=line.thin,
        notes=line.notes,
        ticked=line.number in chosen if chosen is not None else not line.thin,
    )


def too_thin(looked: Looked, election: Election) -> tuple[Message, ...]:
    """Steps that were timed too seldom to have a value at all."""
    have = {line.subject for line in looked.lines}
    names = {kind.id: kind.name for kind in election.station_types}
    words = N_("{type}: too thin, {n} samples timed to the end; about {wanted} give ±10 %.")
    return tuple(
        message(
            words,
            type=names.get(step.station_type, step.station_type),
            n=step.service.done,
            wanted=step.service.wanted,
        )
        for step in looked.fit.steps
        if f"{SERVICE}{step.station_type}" not in have
    )


def hour_rows(looked: Looked, election: Election) -> tuple[HourRow, ...]:
    """The share of a day's voters by clock hour; nothing where no counts came."""
    shape = looked.fit.shape
    if shape is None:
        return ()
    now = {one.hour: one.share_ppm for one in election.arrivals}
    return tuple(
        HourRow(
            hour=f"{(shape.first_hour + n) % 24:02}",
            now=_tenths(now[hour]) if (hour := (shape.first_hour + n) % 24) in now else "–",
            counted=_tenths(band.value),
            low=_tenths(band.low),
            high=_tenths(band.high),
            offered=_tenths(shape.hours_ppm[n]),
        )
        for n, band in enumerate(shape.counted_ppm)
    )


def _tenths(ppm: int) -> str:
    """Percent with one decimal always, so that a column of them stands in line."""
    return f"{ppm / 10_000:.1f}"


def before_row(one: TakenBefore, election: Election | None, person: str) -> BeforeRow:
    """What was taken once."""
    names = {} if election is None else {kind.id: kind.name for kind in election.station_types}
    values = []
    for value in one.values:
        service = value.of.startswith(SERVICE)
        tell = seconds_text if service else percent_text
        words = N_("{value} s ({low} to {high})") if service else N_("{value} % ({low} to {high})")
        told = message(words, value=tell(value.value), low=tell(value.low), high=tell(value.high))
        known = value.of.removeprefix(SERVICE)
        name = (
            message(N_("{name}: seconds for a voter"), name=names.get(known, known))
            if service
            else message(OF_WORDS[value.of])
        )
        values.append((name, told, value.samples))
    return BeforeRow(
        utc_ms=one.utc_ms,
        person=person,
        rows=one.rows,
        files=len(one.digests),
        first=one.first,
        last=one.last,
        change=one.change,
        values=tuple(values),
    )


OF_WORDS: Final = {
    "arrivals": N_("When voters come: share of the busiest hour"),
    "opening-line": N_("Share of the day's voters in line at opening"),
}
