"""Compare a workbook with a county folder, and say what taking some of the lines would make of the facts."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import msgspec

from pollstead.election.county import Election
from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import Message, Param
from pollstead.intake.fact_difference import Difference, compare, taking
from pollstead.intake.fact_writing import (
    FolderFacts,
    NotTaken,
    Prepared,
    file_texts,
    folder_facts,
    prepare,
    read_with,
)
from pollstead.intake.held_file import HeldFile
from pollstead.intake.snapshot import snapshot
from pollstead.intake.tab_reading import ReadFacts, read_tabs
from pollstead.intake.tab_rows import TabRows, as_grids, rows_of, taken_of
from pollstead.intake.tables import BY_NAME
from pollstead.intake.tabs import place_of, tabs
from pollstead.intake.workbook_in import ReadWorkbook, read_workbook


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


def look(folder: Path, file: Path | HeldFile, snapshot_of: Callable[[str], Election | None]) -> Import:
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


def prepare_lines(folder: Path, found: Import, numbers: Iterable[int]) -> Prepared:
    """What must be written so that the lines `numbers` are taken into the folder; nothing is.

    Raises NotTaken with the faults where the lines do not fit one another or the rest, ValueError
    for a number that is no line.
    """
    if found.faults:
        raise NotTaken(found.faults)
    return prepare(folder, found.folder, taking(found.difference, numbers))


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
    intake = read_with(held, file_texts(whole))
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
