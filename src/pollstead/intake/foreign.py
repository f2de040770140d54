"""Read a table as people have it: titles above the header, merged cells, notes in number cells, totals.

Nothing is thrown away silently: what is skipped is kept with its row and the reason.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
import zlib
from pathlib import Path
from typing import Any, Final, NamedTuple

import msgspec

from pollstead.election.notice import Notice, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.csv_text import LONGEST_CELL, MOST_BYTES, MOST_COLUMNS, MOST_ROWS, Row, decode
from pollstead.intake.held_file import HeldFile, held, size_of
from pollstead.intake.notices import cannot_read
from pollstead.intake.synonyms import is_known_heading

DEEPEST_HEADER = 25
"""The header is looked for in so many rows from the top."""

_TOTALS = re.compile(r"\s*(?:grand|sub|county|overall)?[\s-]*totals?\b.*", re.IGNORECASE)
_NUMBER = re.compile(r"\s*([0-9]{1,3}(?:,[0-9]{3})+|[0-9]{1,15})(?:\.0+)?(\s*)(.*)", re.DOTALL)
_NOTE_START = re.compile(r"\s*[(\[*†‡#]|\s+[a-zA-Z]")
_UNKNOWN = frozenset(
    {"", "-", "--", "–", "—", "n/a", "na", "none", "unknown", "tbd", "?", ".", "not reported"}
)
_WORKBOOKS = (".xlsx", ".xlsm", ".xls")
_OTHER_WORKBOOKS = (".xlsb", ".ods", ".numbers")
_MOST_UNPACKED = 512 * 1024 * 1024
_MOST_CELLS = 20_000_000
_CELL_REFERENCE = re.compile(rb'<(?:\w+:)?c\b[^>]*?\br="([A-Z]{1,3})([0-9]{1,7})"')


class Skipped(Value, frozen=True, kw_only=True):
    """A row that is not data, and why."""

    row: int
    why: str
    text: str


class ForeignTable(Value, frozen=True, kw_only=True):
    """A table of somebody else's: header and rows as text, rows numbered as people count them.

    `hidden` says that it is a sheet which the workbook does not show.
    """

    name: str
    header_row: int
    header: tuple[str, ...]
    rows: tuple[Row, ...]
    skipped: tuple[Skipped, ...] = ()
    hidden: bool = False

    def column(self, heading: str) -> int:
        """The place of a column; raises KeyError naming it where there is none."""
        wanted = _plain(heading)
        for index, own in enumerate(self.header):
            if own == heading or _plain(own) == wanted:
                return index
        raise KeyError(heading)

    def cells(self, index: int) -> tuple[str, ...]:
        """The texts of one column."""
        return tuple(row.cells[index] for row in self.rows)


class Number(Value, frozen=True, kw_only=True):
    """A count as somebody typed it: the number (None where it is not known) and the note beside it."""

    count: int | None
    note: str = ""


def read_number(text: str) -> Number:
    """Read ``1,234 (est.)`` as 1234 with the note ``(est.)``; blank or ``n/a`` as not known.

    Raises ValueError where it is not clear which number is meant, such as ``12-15`` or ``3.5``.
    """
    if text.strip().casefold() in _UNKNOWN:
        return Number(count=None, note="" if not text.strip().strip("-–—.") else text.strip())
    found = _NUMBER.fullmatch(text)
    if not found or (found[3] and not _NOTE_START.match(found[2] + found[3])):
        raise ValueError(f"expected a count such as 1,234, got {text!r}")
    return Number(count=int(found[1].replace(",", "")), note=found[3].strip())


_QUOTED_CELL: Final = re.compile(r'(^|[,;\t])"[^"]*"(?=[,;\t\r\n]|\Z)', re.MULTILINE)


def read_foreign(path: Path) -> tuple[tuple[ForeignTable, ...], list[Notice]]:
    """The tables of a CSV file or workbook: one a sheet; what cannot be read becomes a notice."""
    grids, notices = read_grids(path)
    if grids is None:
        return (), notices
    try:
        tables = [
            msgspec.structs.replace(table, hidden=grid.hidden)
            for grid in grids
            if (table := _table(grid.name, grid.cells)) is not None
        ]
    except ValueError as error:
        return (), [refused_table(path.name, str(error))]
    if not tables:
        return (), [refused_table(path.name, "no header and rows", "a header and rows under it")]
    return tuple(tables), []


class Grid(NamedTuple):
    """A sheet, or a CSV file, as it stands: every cell as text; whether the workbook hides it."""

    name: str
    cells: list[list[str]]
    hidden: bool


def read_grids(file: Path | HeldFile) -> tuple[list[Grid] | None, list[Notice]]:
    """The cells of a CSV file or workbook, None where it cannot be read; and what to know about the file."""
    try:
        size = size_of(file)
        if size > MOST_BYTES:
            return None, [refused_table(file.name, f"{size} bytes", f"at most {MOST_BYTES} bytes")]
        suffix = file.suffix.lower()
        if suffix in _OTHER_WORKBOOKS:
            return None, [refused_table(file.name, f"a workbook of kind {suffix}", "CSV or XLSX")]
        data = held(file).data
        if suffix in _WORKBOOKS:
            return _workbook(file.name, data), []
        text, notices = decode(file.name, data)
        return (None if text is None else [Grid(file.name, _csv(text), False)]), notices
    except OSError as error:
        found = error.strerror or "not opened"
        return None, [refused_table(file.name, found, "a table that can be opened")]
    except (ValueError, csv.Error) as error:
        return None, [refused_table(file.name, str(error))]


def refused_table(file: str, found: str, wanted: str = "a CSV file or a workbook") -> Notice:
    """The fault of a file that is no table."""
    place = Place(file=file)
    return cannot_read(
        "foreign-table",
        place,
        message(N_("{file} cannot be read as a table"), file=place.file),
        found=found,
        wanted=wanted,
        remedy=message(N_("Save it again as CSV UTF-8 or as an XLSX workbook.")),
    )


def _csv(text: str) -> list[list[str]]:
    # What stands in a quoted cell says nothing about what parts the cells: "1,000,000" between tabs.
    first = _QUOTED_CELL.sub(r"\1", text[:4000])
    delimiter = max((",", ";", "\t"), key=first.count)
    return [
        [cell.strip() for cell in row]
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    ]


def _workbook(file: str, data: bytes) -> list[Grid]:
    """Every sheet with its merged cells filled, and whether it is hidden.

    Raises ValueError where the file is no workbook.
    """
    from python_calamine import CalamineError, CalamineWorkbook, SheetVisibleEnum

    if zipfile.is_zipfile(io.BytesIO(data)):
        look_at_size(io.BytesIO(data))
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        sheets = book.sheets_metadata
        grids = []
        for name, hidden in ((s.name, s.visible != SheetVisibleEnum.Visible) for s in sheets):
            sheet = book.get_sheet_by_name(name)
            grid = [[_text(cell) for cell in row] for row in sheet.to_python(skip_empty_area=False)]
            for (top, left), (bottom, right) in sheet.merged_cell_ranges or ():
                _fill(grid, top, left, bottom, right)
            grids.append(Grid(file if len(sheets) == 1 else f"{file}#{name}", grid, hidden))
    except CalamineError as error:
        raise ValueError(str(error)) from error
    return grids


def look_at_size(packed_bytes: io.BytesIO) -> None:
    """Raise ValueError where unpacking would fill the memory: the reader lays out every sheet whole.

    One stray cell in the last row and column makes a sheet of 17,000 million cells. What is packed in
    another way than XLSX, under whatever name, cannot be looked at so and is refused.
    """
    try:
        with zipfile.ZipFile(packed_bytes) as packed:
            entries = packed.infolist()
            if sum(entry.file_size for entry in entries) > _MOST_UNPACKED:
                raise ValueError("a workbook that unpacks to more than 512 MB")
            for entry in entries:
                if "worksheets/" in entry.filename and _extent(packed.read(entry)) > _MOST_CELLS:
                    raise ValueError("cells far beyond the table: delete those rows and columns")
            names = {entry.filename for entry in entries}
            if "xl/workbook.xml" not in names or "content.xml" in names:
                raise ValueError("no XLSX workbook")
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, zlib.error) as error:
        raise ValueError(f"a workbook that cannot be unpacked: {error}") from error


def _extent(sheet: bytes) -> int:
    """Rows times columns up to the farthest cell of a sheet's XML."""
    columns = rows = 0
    for letters, digits in _CELL_REFERENCE.findall(sheet):
        number = 0
        for letter in letters:
            number = number * 26 + letter - 64
        columns, rows = max(columns, number), max(rows, int(digits))
    return columns * rows


def _fill(grid: list[list[str]], top: int, left: int, bottom: int, right: int) -> None:
    """Repeat a merged cell's text down its rows, not across: a title over many columns is no value."""
    if top >= len(grid) or left >= len(grid[top]):
        return
    for row in range(top, min(bottom, len(grid) - 1) + 1):
        for column in range(left, min(right if bottom > top else left, len(grid[row]) - 1) + 1):
            if not grid[row][column]:
                grid[row][column] = grid[top][left]


def _text(cell: Any) -> str:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 2**53:
        return str(int(cell))
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat() if cell.time() == dt.time(0) else cell.isoformat()
    if isinstance(cell, dt.date):
        return cell.isoformat()
    return str(cell).strip()


def _plain(heading: str) -> str:
    return re.sub(r"[\W_]+", " ", heading).strip().casefold()


def _table(name: str, grid: list[list[str]]) -> ForeignTable | None:
    if len(grid) > MOST_ROWS or any(len(cell) > LONGEST_CELL for row in grid for cell in row):
        raise ValueError("too many rows, or a cell that is too long")
    at = _header_row(grid)
    if at is None or len(grid[at]) > MOST_COLUMNS:
        return None
    header = [cell.replace("\n", " ") for cell in grid[at]]
    while header and not header[-1]:
        header.pop()
    width = len(header)
    skipped = [
        Skipped(row=i + 1, why=N_("above the header"), text=" ".join(filter(None, grid[i])))
        for i in range(at)
        if any(grid[i])
    ]
    rows = []
    for i, cells in enumerate(grid[at + 1 :], at + 2):
        padded = (cells + [""] * width)[:width]
        filled = [cell for cell in padded if cell]
        if not any(cells):
            continue
        why = _no_data(padded, filled, header)
        if why:
            skipped.append(Skipped(row=i, why=why, text=" ".join(filter(None, cells))[:200]))
        else:
            rows.append(Row(number=i, cells=tuple(padded)))
    if not rows:
        return None
    return ForeignTable(
        name=name,
        header_row=at + 1,
        header=tuple(h or f"column {i}" for i, h in enumerate(header, 1)),
        rows=tuple(rows),
        skipped=tuple(skipped),
    )


def _no_data(padded: list[str], filled: list[str], header: list[str]) -> str:
    """Why a row under the header is not data, or ""."""
    if filled and _TOTALS.fullmatch(filled[0]):
        return N_("a row of totals")
    if padded == header:
        return N_("the header again")
    if len(filled) == 1 and len(header) > 2:
        return N_("a remark, not a row")
    return ""


def _header_row(grid: list[list[str]]) -> int | None:
    """The row most like a header: several different texts, no numbers, names that are known."""
    best: tuple[float, int] | None = None
    for i, row in enumerate(grid[:DEEPEST_HEADER]):
        filled = [cell for cell in row if cell]
        if len(filled) < 2 or len(set(filled)) < len(filled):
            continue
        numbers = sum(1 for cell in filled if re.fullmatch(r"[\d,.%$ /-]+", cell))
        known = sum(1 for cell in filled if is_known_heading(cell))
        under = sum(1 for cell in (grid[i + 1] if i + 1 < len(grid) else []) if cell)
        score = 3 * known + min(len(filled), 12) - 4 * numbers - i * 0.01 - (5 if not under else 0)
        if best is None or score > best[0]:
            best = (score, i)
    return best[1] if best and best[0] > 0 else None
