"""From rows to the files of a county folder: read by the rules of the tables, tried out, not yet written."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from pollstead.election.county import Election
from pollstead.election.notice import Grade, Notice
from pollstead.election.values import Value
from pollstead.intake.edits_between import edits_between
from pollstead.intake.export import blank_rules, table_text
from pollstead.intake.fact_edits import Edit
from pollstead.intake.files import FolderReader
from pollstead.intake.folder import Intake, read_folder
from pollstead.intake.kept_tables import table_files
from pollstead.intake.own_columns import with_own_columns
from pollstead.intake.shipped import shipped_types
from pollstead.intake.tab_reading import ReadFacts, read_tabs
from pollstead.intake.tab_rows import TabRows, as_grids, rows_of
from pollstead.intake.tables import (
    ASSUMPTIONS_FILE,
    COUNTY_FILE,
    RULES_FILE,
    STATION_TYPES_FILE,
    TABLES,
)
from pollstead.intake.tabs import tab_named
from pollstead.intake.taken import Taken
from pollstead.intake.toml_values import toml_lines

DATABASE = "pollstead.db"
"""The file of a county folder's store, whose making belongs to others."""


class FolderFacts(Value, frozen=True, kw_only=True):
    """The facts of a folder as rows, with what reading it gave; no rows where there is no folder yet."""

    rows: tuple[TabRows, ...] = ()
    digest: str = ""
    faults: tuple[Notice, ...] = ()
    intake: Intake | None = None

    @property
    def unread(self) -> tuple[Notice, ...]:
        """The faults of tables that could not be read: their rows are not in `rows`."""
        return tuple(n for n in self.faults if n.grade is Grade.CANNOT_READ)


class NotTaken(ValueError):
    """The lines cannot be taken together; `faults` say why. Nothing was written."""

    def __init__(self, faults: tuple[Notice, ...]) -> None:
        super().__init__("; ".join(notice.text.english() for notice in faults[:5]))
        self.faults = faults


@dataclass(frozen=True, kw_only=True)
class Prepared:
    """Tables ready to be written: their bytes by name (None removes one), and what that changes.

    `edits` are in the form in which they are read back; none where nothing changes. `intake` is what reading
    the folder with these tables gives, where something changes.
    """

    files: dict[str, bytes | None]
    digest: str
    edits: tuple[Edit, ...]
    election: Election | None
    intake: Intake | None = None


def folder_facts(folder: Path) -> FolderFacts:
    """The facts of a county folder; without rows where it is not there, empty, or holds a record alone."""
    if not folder.exists() or (folder.is_dir() and not table_files(folder) and _may_begin(folder)):
        return FolderFacts()
    intake = read_folder(folder)
    if not folder.is_dir():
        return FolderFacts(faults=intake.faults)
    reader = FolderReader(folder)
    taken = reader.all()
    rows = rows_of(taken, reader.assumptions)
    return FolderFacts(rows=rows, digest=intake.digest, faults=intake.faults, intake=intake)


def first_facts(kind: str) -> FolderFacts:
    """What a workbook to begin with holds: the station types that ship for a kind of site, nothing else.

    Raises ValueError for a letter that is no kind of site.
    """
    types, kinds = shipped_types(kind)
    return FolderFacts(rows=rows_of(Taken(station_types=types, site_kinds=kinds), ()))


def _may_begin(folder: Path) -> bool:
    """Whether a folder without tables may become a county: it is empty, or its record has begun."""
    return not any(folder.iterdir()) or (folder / DATABASE).exists()


def prepare(folder: Path, held: FolderFacts, rows: tuple[TabRows, ...]) -> Prepared:
    """What must be written so that `folder`, which holds `held`, has the facts in `rows`; nothing is.

    Raises NotTaken with every fault where a cell cannot be read, or the facts would contradict one
    another where they do not now.
    """
    read = read_tabs(as_grids(rows))
    if read.faults:
        raise NotTaken(read.faults)
    before = {one.tab: one.rows for one in held.rows}
    changed = {tab_named(one.tab).file for one in read.rows if one.rows != before.get(one.tab, ())}
    if not changed:
        return Prepared(files={}, digest=held.digest, edits=(), election=None)
    files = {
        name: _kept_columns(folder, name, text) for name, text in file_texts(read).items() if name in changed
    }
    intake = read_with(held, files, folder)
    known = {notice.key for notice in held.faults}
    faults = tuple(notice for notice in intake.faults if notice.key not in known)
    if faults:
        raise NotTaken(faults)
    edits = edits_between(held.rows, read.rows)
    return Prepared(files=files, digest=intake.digest, edits=edits, election=intake.election, intake=intake)


def _kept_columns(folder: Path, name: str, text: bytes | None) -> bytes | None:
    """The text of a table with the columns of the county's own that stand in the file it replaces."""
    table = next((one for one in TABLES if one.file == name), None)
    if table is None or text is None or not (folder / name).is_file():
        return text
    return with_own_columns(table, (folder / name).read_bytes(), text)


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


def read_with(held: FolderFacts, files: dict[str, bytes | None], others: Path | None = None) -> Intake:
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
