"""Take in a table of counts: look first, confirm how it is read, then record all of it by one act, or none.

What stands in the record already is compared, never written over: a number that differs is corrected by an
event that names the old one, and an import can be taken back the same way.
"""

from __future__ import annotations

import enum
import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Final

import msgspec

from pollstead.election.county import Election
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.values import Value
from pollstead.intake.counts.counted import Counted, CountsRead, read_counted
from pollstead.intake.counts.mapping import (
    SHEETS,
    ColumnUse,
    CountMapping,
    Role,
    Target,
    is_heading_of,
    is_suggested,
    propose,
)
from pollstead.intake.counts.mapping_file import keep_mapping, mapping_for, mappings_text, read_mappings
from pollstead.intake.counts.names import Named, Names, folded
from pollstead.intake.counts.results import standard_mapping, tables_of
from pollstead.intake.counts.results_json import read_json
from pollstead.intake.counts.results_xml import read_xml
from pollstead.intake.counts.table import CountTable, read_tables
from pollstead.intake.csv_text import MOST_BYTES, too_large
from pollstead.intake.foreign import refused_table
from pollstead.intake.held_file import HeldFile, held, size_of
from pollstead.record.kinds.canvass import CanvassTotal, MemoryUploaded, ReceivingTotal, StyleCount
from pollstead.record.kinds.days import Remark
from pollstead.record.kinds.offices import MappingConfirmed
from pollstead.record.write import Moment, ToRecord
from pollstead.work.count_names import (
    HEADING_MODES,
    QUANTITIES,
    QUANTITY_WORDS,
    known_names,
    sites_of_devices,
    styles_of,
    usual_mode,
)
from pollstead.work.count_replacing import correction, said_of, styles_said

if TYPE_CHECKING:
    from pollstead.plan.terms.version import PlanVersion
    from pollstead.record.event import Person, Signed
    from pollstead.record.facts import Fact, Fold, Reading
    from pollstead.store.desk import Desk

SOURCE: Final = "file"
"""The source word of a number that came in a file."""

MEMORY: Final = "memory"


class SheetRead(Value, frozen=True, kw_only=True):
    """One table of a file, with how it is read: as kept (`confirmed`), by an open format, or as proposed."""

    table: CountTable
    mapping: CountMapping
    confirmed: bool


class FileRead(Value, frozen=True, kw_only=True):
    """A file of counts: its tables, or what keeps it from being read; its digest; remarks about it."""

    name: str
    digest: str
    sheets: tuple[SheetRead, ...]
    notices: tuple[Notice, ...]

    def sheet(self, name: str) -> SheetRead | None:
        """The table of a name, the first where none is named; None where there is no such table."""
        return next((one for one in self.sheets if not name or one.table.name == name), None)


class Standing(enum.StrEnum):
    """How a number of the file stands to the record."""

    NEW = "new"
    SAME = "same as recorded"
    DIFFERS = "differs from what is recorded"


class ImportLine(Value, frozen=True, kw_only=True):
    """One number of the file beside what a file said before (`there`) and other sources (`elsewhere`)."""

    counted: Counted
    standing: Standing
    there: tuple[int, ...] = ()
    elsewhere: tuple[tuple[str, int], ...] = ()


class Preview(Value, frozen=True, kw_only=True):
    """What would be recorded of a table."""

    read: CountsRead
    lines: tuple[ImportLine, ...]

    def of(self, standing: Standing) -> tuple[ImportLine, ...]:
        """The lines that stand so to the record."""
        return tuple(line for line in self.lines if line.standing is standing)

    @property
    def to_record(self) -> tuple[ImportLine, ...]:
        """The lines that would become events."""
        return tuple(line for line in self.lines if line.standing is not Standing.SAME)


class NothingToTake(ValueError):
    """The preview has faults or unknown names, or says nothing new."""


class County(Value, frozen=True, kw_only=True):
    """What a table is held against: the county's names, and where each device stands."""

    names: tuple[Named, ...]
    devices: tuple[tuple[str, str], ...]
    any_style: bool
    practice: bool
    mode: str

    def site_names(self) -> frozenset[str]:
        """Every name and id of a site, as `folded` writes them."""
        named = (one for one in self.names if one.role is Role.SITE)
        return frozenset(folded(name) for one in named for name in (one.id, *one.names))


def county_of(election: Election, plan: PlanVersion | None) -> County:
    """The county as tables of counts are held against it."""
    return County(
        names=known_names(election),
        devices=tuple(sorted(sites_of_devices(election, plan).items())),
        any_style=not styles_of(election),
        practice=election.practice,
        mode=usual_mode(election),
    )


def read_count_file(
    folder: Path,
    file: Path | HeldFile,
    county: County,
    *,
    given: tuple[ColumnUse, ...] = (),
    target: Target | None = None,
) -> FileRead:
    """A file of counts and how its tables are read; nothing is written.

    `given` are columns as a person says them now; with them, a kept mapping is not used. Raises KeyError
    naming a column that no table of the file has.
    """
    size = size_of(file)
    read = held(file) if size <= MOST_BYTES else HeldFile(file.name, b"")
    digest = hashlib.sha256(read.data).hexdigest()
    if not read.data:
        notice = too_large(file.name, size) if size else refused_table(file.name, "an empty file")
        return FileRead(name=file.name, digest=digest, sheets=(), notices=(notice,))
    tables, notices = _tables(read, county)
    kept, faults = read_mappings(folder)
    sheets = tuple(_sheet(table, kept, given, target, county.mode) for table in tables)
    if given and not any(use.theirs in sheet.table.header for use in given for sheet in sheets) and sheets:
        raise KeyError(given[0].theirs)
    return FileRead(name=file.name, digest=digest, sheets=sheets, notices=(*notices, *faults))


def _tables(file: HeldFile, county: County) -> tuple[tuple[CountTable, ...], tuple[Notice, ...]]:
    suffix = file.suffix
    if suffix not in (".json", ".xml"):
        return read_tables(file, lambda heading: is_heading_of(QUANTITIES, HEADING_MODES, heading))
    try:
        report = read_json(file.name, file.data) if suffix == ".json" else read_xml(file.name, file.data)
    except ValueError as error:
        wanted = "an election results report of NIST SP 1500-100 version 2"
        return (), (refused_table(file.name, str(error), wanted),)
    sites = county.site_names()
    return tables_of(report, lambda text: folded(text) in sites, practice=county.practice)


def _sheet(
    table: CountTable,
    kept: tuple[CountMapping, ...],
    given: tuple[ColumnUse, ...],
    target: Target | None,
    mode: str,
) -> SheetRead:
    known = mapping_for(kept, table.header)
    own = tuple(use for use in given if use.theirs in table.header)
    if known is not None and not own and target in (None, known.target):
        return SheetRead(table=table, mapping=known, confirmed=True)
    if table.standard and not own:
        mapping = standard_mapping(target or Target.CANVASS)
    else:
        columns = propose(table, QUANTITIES, HEADING_MODES, own)
        mapping = CountMapping(
            header=table.header, target=target or is_suggested(columns), columns=columns, mode=mode
        )
    if known is not None:
        # What a name means does not change with the columns.
        mapping = msgspec.structs.replace(mapping, names=known.names)
    return SheetRead(table=table, mapping=mapping, confirmed=False)


def preview(table: CountTable, mapping: CountMapping, county: County, folded_record: Fold) -> Preview:
    """What a table says by a mapping, each number against what the record holds."""
    names = Names(county.names, mapping.names)
    read = read_counted(table, mapping, names, dict(county.devices), any_style=county.any_style)
    if mapping.target is Target.UPLOADS:
        lines = _upload_lines(read, folded_record)
    else:
        facts = {
            (fact.subject, str(fact.key["mode"]), str(fact.key["quantity"]), str(fact.key["source"])): fact
            for fact in folded_record.named(_kind(mapping.target))
        }
        lines = tuple(_total_line(one, facts) for one in read.counted)
    return Preview(read=read, lines=lines)


def _kind(target: Target) -> str:
    kinds = {
        Target.CANVASS: CanvassTotal.kind,
        Target.RECEIVING: ReceivingTotal.kind,
        Target.UPLOADS: MemoryUploaded.kind,
    }
    return kinds[target]


def _total_line(one: Counted, facts: Mapping[tuple[str, str, str, str], Fact]) -> ImportLine:
    key = (f"site/{one.subject}", one.mode, one.quantity)
    there = facts.get((*key, SOURCE))
    current = () if there is None else there.current
    elsewhere = tuple(
        (source, said_of(reading))
        for (*own, source), fact in sorted(facts.items())
        if tuple(own) == key and source != SOURCE
        for reading in fact.current
    )
    standing = (
        Standing.NEW
        if not current
        else Standing.SAME
        if all(_same(one, reading) for reading in current)
        else Standing.DIFFERS
    )
    return ImportLine(
        counted=one, standing=standing, there=tuple(said_of(r) for r in current), elsewhere=elsewhere
    )


def _same(one: Counted, reading: Reading) -> bool:
    return reading.value.get("total") == one.total and styles_said(reading) == one.styles


def _upload_lines(read: CountsRead, folded_record: Fold) -> tuple[ImportLine, ...]:
    """Readings of memory devices: as many of one kind as the record has already are the same ones."""
    held: dict[tuple[object, ...], int] = {}
    counts: dict[str, list[int]] = {}
    for fact in folded_record.named(MemoryUploaded.kind):
        memory = fact.subject.partition("/")[2]
        for reading in fact.current:
            value = reading.value
            if value.get("state", "taken") != "taken":
                continue
            counts.setdefault(memory, []).append(said_of(reading))
            if value.get("source") == SOURCE:
                own = (memory, value.get("mode", ""), value.get("unit", "ballots"), said_of(reading))
                held[own] = held.get(own, 0) + 1
    lines = []
    for one in read.counted:
        own = (one.subject, one.mode, _unit(one), one.amount)
        same = held.get(own, 0) > 0
        held[own] = held.get(own, 0) - 1
        lines.append(
            ImportLine(
                counted=one,
                standing=Standing.SAME if same else Standing.NEW,
                there=tuple(counts.get(one.subject, ())),
            )
        )
    return tuple(lines)


def _unit(one: Counted) -> str:
    return "sheets" if one.quantity == SHEETS else "ballots"


def confirm_mapping(
    desk: Desk, folder: Path, mapping: CountMapping, *, people: tuple[Person, ...], moment: Moment
) -> CountMapping:
    """Keep how a table is read, in the person's name: an event with its digest, then the file.

    Raises ValueError where the file of mappings that is there cannot be read.
    """
    named = msgspec.structs.replace(mapping, confirmed_by=people[0].person)
    _, faults = read_mappings(folder)
    if faults:
        raise ValueError(faults[0].text.english())
    data = mappings_text((named,)).encode()
    digest = desk.store.snapshots.save(data, label="count mapping", created_utc_ms=moment.utc_ms)
    header = hashlib.sha256("\0".join(mapping.header).encode()).hexdigest()[:16]
    table = f"counts_{header}"
    desk.recorder.record(
        MappingConfirmed(table=table, digest=digest),
        subject="facts",
        people=people,
        moment=moment,
        after=desk.fold().heads("facts", MappingConfirmed.kind, table=table),
    )
    keep_mapping(folder, named)
    return named


def take(
    desk: Desk, found: Preview, file: FileRead, *, people: tuple[Person, ...], moment: Moment, day: str = ""
) -> tuple[Signed, ...]:
    """Record every line that is new or differs, all or none. Raises NothingToTake naming why it cannot be."""
    if not found.read.may_be_taken:
        raise NothingToTake("faults or unknown names are left")
    if not found.to_record:
        raise NothingToTake("every number is recorded already")
    record = desk.fold(private=True)
    entries: list[ToRecord] = []
    for line in found.to_record:
        one = line.counted
        body = _body(one, file.digest)
        if isinstance(body, MemoryUploaded):
            entries.append(
                ToRecord(
                    body=body, subject=f"{MEMORY}/{one.subject}", day=day, private=_where(one, file.name)
                )
            )
            continue
        subject = f"site/{one.subject}"
        fact = record.find(subject, body.kind, mode=one.mode, quantity=one.quantity, source=SOURCE)
        if fact is None or not fact.current:
            entries.append(ToRecord(body=body, subject=subject, site=subject, private=_where(one, file.name)))
            continue
        where, why = _where(one, file.name), f"{file.name}: another number in a later file"
        entries += [
            correction(fact, reading, body, why, where) for reading in fact.current if not _same(one, reading)
        ]
    return desk.recorder.record_run(tuple(entries), people=people, moment=moment)


def _body(one: Counted, digest: str) -> CanvassTotal | ReceivingTotal | MemoryUploaded:
    styles = tuple(StyleCount(style=style, count=count) for style, count in one.styles)
    if one.target is Target.UPLOADS:
        return MemoryUploaded(
            count=one.amount,
            unit="sheets" if one.quantity == SHEETS else "ballots",
            source=SOURCE,
            machine=one.machine,
            mode=one.mode,
            styles=styles,
            file_digest=digest,
        )
    kind = CanvassTotal if one.target is Target.CANVASS else ReceivingTotal
    return kind(
        mode=one.mode,
        quantity=one.quantity,
        source=SOURCE,
        total=one.total,
        styles=styles,
        file_digest=digest,
    )


def _where(one: Counted, file: str) -> Remark:
    rows = ", ".join(str(row) for row in sorted({part.row for part in one.parts})[:40])
    return Remark(remark=f"{file[:200]}, row {rows}")


def is_fault(notice: Notice) -> bool:
    """Whether a notice keeps a file out."""
    return notice.kind is NoticeKind.FAULT


def quantity_words(quantity: str) -> str:
    """A quantity in English words."""
    return QUANTITY_WORDS.get(quantity, quantity)
