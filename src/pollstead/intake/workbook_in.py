"""Read a county's workbook: its tabs as rows of text, what its read-me tab says, and every fault at once."""

from __future__ import annotations

import datetime as dt
import io
import math
import re
import zipfile
from decimal import Decimal
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

from pollstead.election.notice import Notice, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.cells import CellKind
from pollstead.intake.csv_text import LONGEST_CELL, MOST_BYTES, MOST_COLUMNS, Row, Rows, column_name
from pollstead.intake.foreign import look_at_size
from pollstead.intake.held_file import HeldFile, held, size_of
from pollstead.intake.notices import cannot_read, open_item
from pollstead.intake.records import nearest
from pollstead.intake.tab_reading import ReadFacts, read_tabs
from pollstead.intake.tabs import Tab, place_of, tabs
from pollstead.intake.workbook_errors import error_cells
from pollstead.intake.workbook_out import FACTS, INFO_COLUMNS, LISTS, MADE, PROGRAM, README, Origin

_NO_CHARACTER = re.compile(r"_(x005F_)?((?:x005F_)*xFFF([EF])_)")
_DAY_ZERO = dt.datetime(1899, 12, 31)  # noqa: DTZ001 - a spreadsheet's clock times have no zone


class ReadWorkbook(Value, frozen=True, kw_only=True):
    """A workbook as read: its facts and notices, the tabs it has, what it was made from ("" if unknown)."""

    facts: ReadFacts
    tabs: tuple[str, ...]
    origin: Origin
    open_elsewhere: str = ""

    @property
    def faults(self) -> tuple[Notice, ...]:
        """What keeps the workbook out."""
        return self.facts.faults


def lock_beside(path: Path) -> str:
    """The name of a lock file that a spreadsheet program keeps beside an open file, or ""."""
    for name in (f"~${path.name}", f".~lock.{path.name}#"):
        if (path.parent / name).exists():
            return name
    return ""


def is_county_workbook(path: Path) -> bool:
    """Whether the file is a workbook that this program wrote, whatever was done to it since."""
    if path.suffix.lower() != ".xlsx":
        return False
    try:
        sheets, _ = _sheets(path)
    except (OSError, ValueError):
        return False
    return any(name == README and bool(_origin(grid).program) for name, grid in sheets)


def read_workbook(file: Path | HeldFile) -> ReadWorkbook:
    """The facts of a workbook; whatever is wrong becomes a notice, never an error."""
    lock = lock_beside(file) if isinstance(file, Path) else ""
    grids: dict[str, Rows] = {}
    faults: list[Notice] = []
    items: list[Notice] = []
    origin = Origin(facts="", made="", program="")
    try:
        sheets, broken = _sheets(file)
    except OSError as error:
        faults.append(_refused(file.name, error.strerror or "not opened"))
        sheets, broken = [], {}
    except ValueError as error:
        faults.append(_refused(file.name, str(error)))
        sheets, broken = [], {}
    known = {tab.name: tab for tab in tabs()}
    seen: dict[str, str] = {}
    for name, grid in sheets:
        plain = column_name(name) if name not in (README, LISTS) else name
        if plain == README:
            origin = _origin(grid)
        elif plain in known and plain not in seen:
            seen[plain] = name
            rows, found, more = _rows(known[plain], grid)
            faults += [*_error_cells(plain, broken.get(name, ())), *found]
            items += more
            if rows is not None:
                grids[plain] = rows
        elif plain != LISTS:
            items.append(_unknown_tab(name, nearest(plain, tuple(known))))
    if sheets and not seen:
        faults.append(_refused(file.name, N_("no tab of a county's workbook")))
    facts = read_tabs(grids)
    joined = ReadFacts(
        taken=facts.taken,
        assumptions=facts.assumptions,
        rows=facts.rows,
        faults=(*faults, *facts.faults),
        items=(*items, *facts.items),
    )
    return ReadWorkbook(facts=joined, tabs=tuple(grids), origin=origin, open_elsewhere=lock)


def _refused(file: str, found: str) -> Notice:
    return cannot_read(
        "workbook",
        Place(file=file),
        message(N_("{file} cannot be read as a workbook of a county"), file=file),
        found=found,
        wanted=N_("an XLSX workbook that pollstead facts workbook made"),
        remedy=message(N_("Look whether this is the right file, and save it again as XLSX.")),
    )


Grid = list[list[Any]]


def _sheets(file: Path | HeldFile) -> tuple[list[tuple[str, Grid]], dict[str, tuple[str, ...]]]:
    """Name and cells of every sheet, and the cells that hold an error; raises ValueError, OSError."""
    from python_calamine import CalamineError, CalamineWorkbook

    if size_of(file) > MOST_BYTES:
        raise ValueError(f"more than {MOST_BYTES} bytes")
    data = held(file).data
    if not zipfile.is_zipfile(io.BytesIO(data)):
        raise ValueError("no XLSX workbook")
    look_at_size(io.BytesIO(data))
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        sheets = [
            (name, book.get_sheet_by_name(name).to_python(skip_empty_area=False)) for name in book.sheet_names
        ]
    except (CalamineError, ParseError, zipfile.BadZipFile) as error:
        raise ValueError(str(error)) from error
    return sheets, error_cells(io.BytesIO(data))


def _error_cells(tab: str, cells: tuple[str, ...]) -> list[Notice]:
    return [
        cannot_read(
            "error-cell",
            Place(file=place_of(tab), row=int(re.sub(r"[A-Z]", "", cell)), column=re.sub(r"[0-9]", "", cell)),
            message(N_("Tab {tab}: the formula in cell {cell} gives no value"), tab=tab, cell=cell),
            found=cell,
            wanted=N_("a value, or blank"),
            remedy=message(N_("Correct the formula, or type the value.")),
        )
        for cell in cells
    ]


def _unknown_tab(name: str, likely: str) -> Notice:
    remedy = (
        message(N_("Rename it to {tab} if that is meant."), tab=likely)
        if likely
        else message(N_("Leave it, or remove it; it is not read."))
    )
    return open_item(
        "unknown-tab",
        f"tab/{name}",
        message(N_("Tab {tab} is not known and was not read"), tab=name),
        place=Place(file=place_of(name)),
        found=name,
        wanted=likely,
        remedy=remedy,
    )


def _origin(grid: Grid) -> Origin:
    """What the read-me tab says, found by the words in its first column."""
    said = {str(row[0]).strip(): str(row[1]).strip() for row in grid if len(row) > 1 and row[0]}
    facts = said.get(FACTS, "")
    return Origin(
        facts=facts if re.fullmatch(r"[0-9a-f]{64}", facts) else "",
        made=said.get(MADE, ""),
        program=said.get(PROGRAM, ""),
    )


def _rows(tab: Tab, grid: Grid) -> tuple[Rows | None, list[Notice], list[Notice]]:
    """The rows of one tab as text, as people count them; None with the fault where it has no header."""
    file = place_of(tab.name)
    header = [text_of(cell) for cell in grid[0]] if grid else []
    while header and not header[-1].strip():
        header.pop()
    if not header or len(header) > MOST_COLUMNS:
        fault = cannot_read(
            "header",
            Place(file=file, row=1),
            message(N_("Tab {tab} has no row of headings"), tab=tab.name),
            found=f"{len(header)} headings",
            wanted=N_("column names in row 1"),
            remedy=message(N_("Write the names of the columns into row 1, or delete the tab.")),
        )
        return None, [fault], []
    told = {column_name(name) for name in INFO_COLUMNS.get(tab.name, ())}
    kept = [i for i, name in enumerate(header) if column_name(name) not in told]
    ids = {h.name for c in tab.cells if c.column.kind is CellKind.ID for h in c.column.headings}
    faults: list[Notice] = []
    items: list[Notice] = []
    numbers: set[str] = set()
    rows = []
    for number, cells in enumerate(grid[1:], 2):
        texts = [text_of(cell) for cell in cells]
        if not any(texts[i].strip() for i in kept if i < len(texts)) and not any(
            text.strip() for text in texts[len(header) :]
        ):
            continue
        if any(text.strip() for text in texts[len(header) :]):
            faults.append(_beyond(tab, number))
        long = next((i for i in kept if i < len(texts) and len(texts[i]) > LONGEST_CELL), None)
        if long is not None:
            faults.append(_too_long(tab, number, header[long], len(texts[long])))
        for i in kept:
            if i < len(cells) and isinstance(cells[i], float) and column_name(header[i]) in ids:
                numbers.add(column_name(header[i]))
        rows.append(Row(number=number, cells=tuple(texts[i] if i < len(texts) else "" for i in kept)))
    items += [_number_in_ids(tab, name) for name in sorted(numbers)]
    return (
        Rows(header=tuple(column_name(header[i]) for i in kept), rows=tuple(rows)),
        faults,
        items,
    )


def _beyond(tab: Tab, row: int) -> Notice:
    return cannot_read(
        "beyond-columns",
        Place(file=place_of(tab.name), row=row),
        message(N_("Tab {tab}, row {row} has a cell beyond the last heading"), tab=tab.name, row=row),
        found=N_("a cell without a heading"),
        wanted=N_("a heading above every cell"),
        remedy=message(N_("Move the cell, or delete it.")),
    )


def _too_long(tab: Tab, row: int, column: str, length: int) -> Notice:
    return cannot_read(
        "cell-size",
        Place(file=place_of(tab.name), row=row, column=column),
        message(N_("A cell in row {row} of {file} is too long"), row=row, file=place_of(tab.name)),
        found=f"{length} characters",
        wanted=f"at most {LONGEST_CELL} characters",
        remedy=message(N_("Shorten the cell.")),
    )


def _number_in_ids(tab: Tab, column: str) -> Notice:
    return open_item(
        "number-for-id",
        f"{place_of(tab.name)}, column {column}",
        message(
            N_("Tab {tab}: {column} holds numbers; a zero in front may have been lost"),
            tab=tab.name,
            column=column,
        ),
        place=Place(file=place_of(tab.name), column=column),
        wanted=N_("text"),
        remedy=message(N_("Look at the ids in the list of differences; format the column as text.")),
    )


def text_of(cell: Any) -> str:
    """A cell as the text a person would have typed: true dates as 2026-11-03, true times as 07:00."""
    if isinstance(cell, str):
        return _NO_CHARACTER.sub(_character, cell)
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        if math.isfinite(cell) and cell.is_integer() and abs(cell) < 2**53:
            return str(int(cell))
        return f"{Decimal(repr(cell)):f}"
    if isinstance(cell, dt.datetime):
        if cell.time() == dt.time(0):
            return cell.date().isoformat()
        if cell.year < 1901:
            return _clock(cell - _DAY_ZERO)
        return cell.isoformat(sep=" ")
    if isinstance(cell, dt.date):
        return cell.isoformat()
    if isinstance(cell, dt.time):
        return _clock(dt.timedelta(hours=cell.hour, minutes=cell.minute, seconds=cell.second))
    if isinstance(cell, dt.timedelta):
        return _clock(cell)
    return "" if cell is None else str(cell)


def _clock(length: dt.timedelta) -> str:
    """Hours and minutes; with seconds that are not 0 the text is no clock time, and is told as it is."""
    seconds = round(length.total_seconds())
    minutes, rest = divmod(seconds, 60)
    shown = f"{minutes // 60:02d}:{minutes % 60:02d}"
    return f"{shown}:{rest:02d}" if rest else shown


def _character(found: re.Match[str]) -> str:
    if found[1]:
        return f"_{found[2]}"
    return chr(0xFFF0 + int(found[3], 16)) if found[2].startswith("xFFF") else found[0]
