"""Take the changes of a workbook into a county folder: compare, take lines, check, keep, replace."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

import msgspec

from pollstead.election.county import Election
from pollstead.election.notice import Grade, Notice
from pollstead.election.values import Value
from pollstead.election.words import Message, Param
from pollstead.intake.export import blank_rules, table_text
from pollstead.intake.fact_difference import Difference, compare, taking
from pollstead.intake.files import FolderReader
from pollstead.intake.folder import Intake, read_folder
from pollstead.intake.kept_tables import KeptTables, kept, new_folder, replace_tables, table_files
from pollstead.intake.snapshot import snapshot
from pollstead.intake.tab_rows import ReadFacts, TabRows, as_grids, read_tabs, rows_of, taken_of
from pollstead.intake.tables import (
    ASSUMPTIONS_FILE,
    BY_NAME,
    COUNTY_FILE,
    RULES_FILE,
    STATION_TYPES_FILE,
    TABLES,
)
from pollstead.intake.tabs import place_of, tab_named, tabs
from pollstead.intake.toml_values import toml_lines
from pollstead.intake.workbook_in import ReadWorkbook, read_workbook


class FolderFacts(Value, frozen=True, kw_only=True):
    """The facts of a folder as rows, with what reading it told; no rows where there is no folder yet."""

    rows: tuple[TabRows, ...] = ()
    digest: str = ""
    faults: tuple[Notice, ...] = ()

    @property
    def unread(self) -> tuple[Notice, ...]:
        """The faults of tables that could not be read: their rows are not in `rows`."""
        return tuple(n for n in self.faults if n.grade is Grade.CANNOT_READ)


class Import(Value, frozen=True, kw_only=True):
    """A workbook beside a folder: every difference, and what should be known before lines are taken.

    `older`: the workbook was made from other facts than the folder holds now. `base_known`: the
    facts it was made from are at hand, so each line says which side changed. `faults` keep the whole
    workbook out.
    """

    folder: FolderFacts
    workbook: ReadWorkbook
    difference: Difference
    older: bool
    base_known: bool
    faults: tuple[Notice, ...]


class NotTaken(ValueError):
    """The lines cannot be taken together; `faults` say why. Nothing was written."""

    def __init__(self, faults: tuple[Notice, ...]) -> None:
        super().__init__("; ".join(notice.text.english() for notice in faults[:5]))
        self.faults = faults


class Taking(Value, frozen=True, kw_only=True):
    """What was written: the files, the digest of the facts now, and the copy of the tables before."""

    files: tuple[str, ...]
    digest: str
    copy: KeptTables | None


def folder_facts(folder: Path) -> FolderFacts:
    """The facts of a county folder; without rows where `folder` is not there or empty."""
    if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
        return FolderFacts()
    intake = read_folder(folder)
    if not folder.is_dir():
        return FolderFacts(faults=intake.faults)
    reader = FolderReader(folder)
    taken = reader.all()
    return FolderFacts(rows=rows_of(taken, reader.assumptions), digest=intake.digest, faults=intake.faults)


def unfinished(folder: Path) -> KeptTables | None:
    """The copy of an import that stopped halfway, or None."""
    return next((copy for copy in kept(folder) if copy.unfinished), None)


def look(folder: Path, file: Path, snapshot_of: Callable[[str], Election | None]) -> Import:
    """Compare the workbook `file` with the facts of `folder`; nothing is written.

    `snapshot_of` gives the snapshot of a digest where it is kept somewhere, else None.
    """
    held = folder_facts(folder)
    book = read_workbook(file)
    made_from = book.origin.facts
    older = bool(held.rows) and made_from != held.digest
    base: tuple[TabRows, ...] | None = None
    if older and made_from:
        election = snapshot_of(made_from)
        if election is not None:
            base = base_rows(election, (book.facts.rows, held.rows))
    faults = [*held.unread, *book.faults]
    if not faults:
        known = {notice.key for notice in held.faults}
        faults += [n for n in _contradictions(book, held) if n.key not in known]
    rows = book.facts.rows
    difference = compare(held.rows, rows, base, up_to_date=not older)
    return Import(
        folder=held,
        workbook=book,
        difference=difference,
        older=older,
        base_known=base is not None,
        faults=tuple(faults),
    )


def take(folder: Path, found: Import, numbers: Iterable[int], *, stamp: str, why: str) -> Taking:
    """Take the lines `numbers` into the folder; the tables before are kept under `stamp`.

    Raises NotTaken with the faults where the lines do not fit one another or the rest, ValueError
    for a number that is no line, OSError where a table cannot be written; then all is as before.
    """
    if found.faults:
        raise NotTaken(found.faults)
    after = taking(found.difference, numbers)
    read = read_tabs(as_grids(after))
    if read.faults:
        raise NotTaken(read.faults)
    before = {held.tab: held.rows for held in found.folder.rows}
    changed = {tab_named(held.tab).file for held in after if held.rows != before.get(held.tab, ())}
    if not changed:
        return Taking(files=(), digest=found.folder.digest, copy=None)
    files = {name: text for name, text in file_texts(read).items() if name in changed}
    intake = _read_files(found.folder, files, folder)
    known = {notice.key for notice in found.folder.faults}
    faults = tuple(notice for notice in intake.faults if notice.key not in known)
    if faults:
        raise NotTaken(faults)
    if not found.folder.rows:
        new_folder(folder, {name: data for name, data in files.items() if data is not None})
        return Taking(files=tuple(files), digest=intake.digest, copy=None)
    copy = replace_tables(
        folder, files, stamp=stamp, why=why, before=found.folder.digest, after=intake.digest
    )
    return Taking(files=tuple(files), digest=intake.digest, copy=copy)


def file_texts(read: ReadFacts) -> dict[str, bytes | None]:
    """Every file of a county folder with these facts; None where a table is empty and has no file."""
    texts: dict[str, str | None] = {}
    for table in TABLES:
        values = [r.value for r in read.taken.records if type(r.value) is table.row_type]
        texts[table.file] = table_text(table, values) if values or table.required else None
    if read.taken.county is not None:
        texts[COUNTY_FILE] = "\n".join([*toml_lines(read.taken.county, "[county]")][1:]) + "\n"
    groups: tuple[tuple[str, tuple[tuple[str, tuple[Value, ...]], ...]], ...] = (
        (
            STATION_TYPES_FILE,
            (("station_type", read.taken.station_types), ("site_kind", read.taken.site_kinds)),
        ),
        (RULES_FILE, (("setting", read.taken.settings),)),
        (ASSUMPTIONS_FILE, (("assumption", read.assumptions),)),
    )
    for file, arrays in groups:
        parts = [
            "\n".join((*toml_lines(value, f"[[{key}]]"), "")) for key, values in arrays for value in values
        ]
        texts[file] = "\n".join(parts) if parts else None
    if texts[RULES_FILE] is None:
        texts[RULES_FILE] = blank_rules()
    return {name: text.encode("utf-8") if text is not None else None for name, text in texts.items()}


def base_rows(election: Election, sides: tuple[tuple[TabRows, ...], ...]) -> tuple[TabRows, ...]:
    """The rows of a snapshot; hours as one of `sides` writes them, where they mean the same.

    A snapshot holds the hours of each site, a table may say them once for every site.
    """
    own = rows_of(taken_of(election), election.assumptions)
    for side in sides:
        hours = next((held for held in side if held.tab == "hours"), None)
        if hours is None:
            continue
        trial = tuple(
            msgspec.structs.replace(held, rows=hours.rows) if held.tab == "hours" else held for held in own
        )
        read = read_tabs(as_grids(trial))
        if read.faults or read.taken.county is None:
            continue
        again = snapshot(read.taken, read.taken.county, (), read.assumptions)
        if tuple(site.hours for site in again.sites) == tuple(site.hours for site in election.sites):
            return trial
    return own


def _whole(book: ReadWorkbook, held: FolderFacts) -> ReadFacts:
    """The workbook's facts, with the folder's where the workbook lacks a tab."""
    there = {rows.tab for rows in book.facts.rows}
    missing = [rows for rows in held.rows if rows.tab not in there]
    if not missing:
        return book.facts
    return read_tabs(as_grids((*book.facts.rows, *missing)))


def _contradictions(book: ReadWorkbook, held: FolderFacts) -> list[Notice]:
    """What a folder with the workbook's facts would find wrong, with the places of the workbook."""
    whole = _whole(book, held)
    if whole.faults:
        return list(whole.faults)
    intake = _read_files(held, file_texts(whole))
    sheet_rows = {
        tab.name: tuple(r.row for r in book.facts.taken.records if type(r.value) is tab.value_type)
        for tab in tabs()
        if not tab.flat
    }
    return [_in_tabs(notice, sheet_rows) for notice in intake.faults]


def _in_tabs(notice: Notice, sheet_rows: dict[str, tuple[int, ...]]) -> Notice:
    """A notice that names tabs and their rows where it named the tables of a folder; its key stays."""
    place = notice.place
    if place is not None and place.file.removesuffix(".csv") in sheet_rows:
        tab = place.file.removesuffix(".csv")
        row, rows = place.row, sheet_rows[tab]
        if row is not None and 2 <= row < len(rows) + 2:
            row = rows[row - 2]
        place = msgspec.structs.replace(place, file=place_of(tab), row=row)
    return msgspec.structs.replace(
        notice,
        place=place,
        text=_tab_words(notice.text),
        remedy=_tab_words(notice.remedy) if notice.remedy is not None else None,
    )


def _tab_words(words: Message) -> Message:
    def named(param: Param) -> Param:
        bare = str(param.value).removesuffix(".csv")
        known = isinstance(param.value, str) and param.value.endswith(".csv") and bare in BY_NAME
        return msgspec.structs.replace(param, value=place_of(bare)) if known else param

    return msgspec.structs.replace(words, params=tuple(map(named, words.params)))


def _read_files(held: FolderFacts, files: dict[str, bytes | None], others: Path | None = None) -> Intake:
    """What reading a folder with these files would give, and with those of `others` that are not named.

    Nothing outside a temporary folder is touched.
    """
    with tempfile.TemporaryDirectory(prefix="pollstead-") as top:
        trial = Path(top) / (others.name if others is not None and others.name else "county")
        trial.mkdir()
        for name in table_files(others) if others is not None and held.rows else ():
            if name not in files and others is not None:
                (trial / name).write_bytes((others / name).read_bytes())
        for name, data in files.items():
            if data is not None:
                (trial / name).write_bytes(data)
        return read_folder(trial)
