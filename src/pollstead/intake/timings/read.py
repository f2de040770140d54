"""Read a file of timings: which kind it is, what may come in, and what it is reduced to."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator, Mapping

from pollstead.election.notice import Notice
from pollstead.election.timings import TimingFault, TimingKind, TimingsRead
from pollstead.intake.foreign import DEEPEST_HEADER, refused_table
from pollstead.intake.timings.check_ins import CheckInReducer
from pollstead.intake.timings.columns import MAY_HOLD, WORDS, Header, Role, is_header, read_header
from pollstead.intake.timings.rows import TEXTS, WORKBOOKS, rows_of
from pollstead.intake.timings.tables import LineReader, SampleReader

WANTED = "a header with time and site (check-in times), in line (line counts), or step and seconds (samples)"


def read_timings(
    name: str,
    data: bytes,
    *,
    zone_name: str,
    day: dt.date | None = None,
    said: Mapping[str, Role] | None = None,
) -> TimingsRead:
    """A file of timings, reduced while it is read: no row of it is kept.

    `day` is the date of rows without one; `said` are headings as a person says them. Never raises for what
    stands in the file: every reason to keep it out is in `refused`.
    """
    digest = hashlib.sha256(data).hexdigest()
    try:
        return _read(name, data, digest, zone_name, day, said or {})
    except ValueError as error:
        return _refused(name, digest, refused_table(name, str(error), WANTED))


def role_said(word: str) -> Role:
    """The role of a word such as ``people in line``, or of one of its other names. Raises ValueError."""
    for role, words in WORDS.items():
        if word.strip().casefold() in (role.value, *words.split("|")):
            return role
    raise ValueError(f"expected one of {', '.join(role.value for role in Role)}, got {word!r}")


def _read(
    name: str, data: bytes, digest: str, zone_name: str, day: dt.date | None, said: Mapping[str, Role]
) -> TimingsRead:
    if not name.lower().endswith((*TEXTS, *WORKBOOKS)):
        return _refused(name, digest, refused_table(name, "a file of another kind", "CSV or XLSX"))
    if not data:
        return _refused(name, digest, refused_table(name, "an empty file", WANTED))
    rows, notices = rows_of(name, data)
    if rows is None:
        return _refused(name, digest, *notices)
    numbered = enumerate(rows, 1)
    header, kind, faults = _find_header(name, numbered, said)
    if header is None:
        return _refused(name, digest, *(faults or [refused_table(name, "no such header", WANTED)]), kind=kind)
    remarks = tuple(notices)
    if kind is TimingKind.CHECK_IN_TIMES:
        return _check_ins(CheckInReducer(name, header, day, zone_name), numbered, digest, remarks)
    reader = (LineReader if kind is TimingKind.LINE_COUNTS else SampleReader)(name, header, day, zone_name)
    for number, row in numbered:
        reader.take(number, row)
    lines = reader.lines() if isinstance(reader, LineReader) else ()
    steps = reader.steps() if isinstance(reader, SampleReader) else ()
    return _found(
        TimingsRead(
            name=name,
            digest=digest,
            kind=kind,
            rows=reader.rows,
            used=header.used,
            lines=lines,
            steps=steps,
            refused=tuple(reader.refused),
            faults=tuple(reader.faults) if isinstance(reader, SampleReader) else (),
            remarks=(*remarks, *reader.remarks),
        )
    )


def _check_ins(
    reducer: CheckInReducer,
    numbered: Iterator[tuple[int, list[str]]],
    digest: str,
    remarks: tuple[Notice, ...],
) -> TimingsRead:
    for number, row in numbered:
        if not reducer.take(number, row):
            break
    days, gaps = (reducer.days(), reducer.gap_quantiles()) if not reducer.refused else ((), ())
    faults: tuple[TimingFault, ...] = reducer.faults() if not reducer.refused else ()
    return _found(
        TimingsRead(
            name=reducer.file,
            digest=digest,
            kind=TimingKind.CHECK_IN_TIMES,
            rows=reducer.rows,
            used=reducer.header.used,
            days=days,
            gaps=gaps,
            refused=tuple(reducer.refused),
            faults=faults,
            remarks=remarks,
        )
    )


def _found(read: TimingsRead) -> TimingsRead:
    """The reading, refused where there is a header and nothing under it."""
    if read.rows or read.refused or read.faults:
        return read
    return _refused(read.name, read.digest, refused_table(read.name, "no row", WANTED), kind=read.kind)


def _refused(
    name: str, digest: str, *notices: Notice, kind: TimingKind = TimingKind.CHECK_IN_TIMES
) -> TimingsRead:
    return TimingsRead(name=name, digest=digest, kind=kind, refused=tuple(notices))


def _find_header(
    name: str, numbered: Iterator[tuple[int, list[str]]], said: Mapping[str, Role]
) -> tuple[Header | None, TimingKind, list[Notice]]:
    """The first row near the top with headings that are known; what stands above it is a title."""
    for number, row in numbered:
        if is_header(row, said):
            return read_header(name, number, row, said)
        if number >= DEEPEST_HEADER:
            break
    return None, next(iter(MAY_HOLD)), []
