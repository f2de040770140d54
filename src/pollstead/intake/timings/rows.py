"""The rows of a CSV file or workbook one after another, as text; none is kept."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from collections.abc import Iterator
from typing import Any

from pollstead.election.notice import Notice
from pollstead.intake.csv_text import LONGEST_CELL, MOST_COLUMNS, decode
from pollstead.intake.foreign import look_at_size

WORKBOOKS = (".xlsx", ".xlsm")
TEXTS = (".csv", ".tsv", ".txt")
MOST_ROWS = 5_000_000


def rows_of(name: str, data: bytes) -> tuple[Iterator[list[str]] | None, list[Notice]]:
    """The rows of the first sheet, or of the CSV; None and why where it is not text.

    Raises ValueError, also while rows are taken, where the file is no table or too large for one.
    """
    if name.lower().endswith(WORKBOOKS):
        return _checked(_workbook(data)), []
    text, notices = decode(name, data)
    if text is None:
        return None, notices
    head = text[:4000]
    delimiter = max((",", ";", "\t"), key=head.count)
    return _checked(_texts(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))), notices


def _texts(reader: Iterator[list[str]]) -> Iterator[list[str]]:
    try:
        for row in reader:
            yield [cell.strip() for cell in row]
    except csv.Error as error:
        raise ValueError(str(error)) from error


def _workbook(data: bytes) -> Iterator[list[str]]:
    from python_calamine import CalamineError, CalamineWorkbook, SheetVisibleEnum

    if zipfile.is_zipfile(io.BytesIO(data)):
        look_at_size(io.BytesIO(data))
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        shown = [one.name for one in book.sheets_metadata if one.visible == SheetVisibleEnum.Visible]
        if len(shown) != 1:
            raise ValueError(f"{len(shown)} sheets; timings stand on one sheet alone")
        if len(book.sheets_metadata) != 1:
            raise ValueError("a sheet that is hidden; delete it or show it in a file of its own")
        for row in book.get_sheet_by_name(shown[0]).to_python(skip_empty_area=False):
            yield [_text(cell) for cell in row]
    except CalamineError as error:
        raise ValueError(str(error)) from error


def _text(cell: Any) -> str:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 2**53:
        return str(int(cell))
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat() if cell.time() == dt.time(0) else cell.isoformat()
    if isinstance(cell, (dt.date, dt.time)):
        return cell.isoformat()
    if isinstance(cell, dt.timedelta):
        seconds = round(cell.total_seconds())
        return f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"
    return str(cell).strip()


def _checked(rows: Iterator[list[str]]) -> Iterator[list[str]]:
    for number, row in enumerate(rows, 1):
        if number > MOST_ROWS:
            raise ValueError(f"more than {MOST_ROWS:,} rows")
        if len(row) > MOST_COLUMNS or any(len(cell) > LONGEST_CELL for cell in row):
            raise ValueError(f"row {number} has too many cells, or one that is too long")
        yield row
