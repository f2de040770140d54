"""From the bytes of a CSV file to a header and rows, with every fault named; nothing is guessed silently."""

from __future__ import annotations

import csv
import io
import re

from pollstead.election.notice import Notice, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.notices import cannot_read, open_item

MOST_BYTES = 64 * 1024 * 1024
MOST_ROWS = 1_000_000
MOST_COLUMNS = 500
LONGEST_CELL = 10_000

_BOMS = ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


class Row(Value, frozen=True, kw_only=True):
    """One row as people count it (the header is row 1); blank rows are not kept."""

    number: int
    cells: tuple[str, ...]


class Rows(Value, frozen=True, kw_only=True):
    """A header and the rows under it, all as text."""

    header: tuple[str, ...]
    rows: tuple[Row, ...]


def column_name(heading: str) -> str:
    """A heading as a column's name: lower case, words joined by an underscore."""
    return re.sub(r"[\s_]+", "_", heading.strip().lower())


def decode(file: str, data: bytes) -> tuple[str | None, list[Notice]]:
    """The text of `data` and what should be known about its encoding; None where it cannot be read.

    UTF-8 (with or without a mark at the start) is expected; UTF-16 with a mark and Windows-1252 are
    taken with a notice, because older spreadsheets write them.
    """
    place = Place(file=file)
    again = message(N_("Save the file again as CSV UTF-8."))
    if len(data) > MOST_BYTES:
        return None, [too_large(file, len(data))]
    encodings = ["utf-8-sig", "cp1252"]
    for mark, name in _BOMS:
        if data.startswith(mark):
            encodings = [name]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeError:
            continue
        if "\0" in text:
            row = text[: text.index("\0")].count("\n") + 1
            return None, [
                cannot_read(
                    "bytes",
                    Place(file=file, row=row),
                    message(N_("{file} holds bytes that no text has"), file=file),
                    found="NUL",
                    wanted="text",
                    remedy=again,
                )
            ]
        notices = []
        if encoding != "utf-8-sig":
            shown = {"cp1252": "Windows-1252", "utf-16": "UTF-16"}[encoding]
            notices.append(
                open_item(
                    "encoding",
                    file,
                    message(
                        N_("{file} was read as {encoding}; look at names with accents"),
                        file=file,
                        encoding=shown,
                    ),
                    place=place,
                    found=shown,
                    wanted="UTF-8",
                    remedy=again,
                )
            )
        return text, notices
    return None, [
        cannot_read(
            "bytes",
            place,
            message(N_("{file} is not text"), file=file),
            wanted="UTF-8",
            remedy=again,
        )
    ]


def too_large(file: str, size: int) -> Notice:
    """The fault of a file of `size` bytes that no list of this kind can have."""
    return cannot_read(
        "file-size",
        Place(file=file),
        message(N_("{file} is larger than a list of this kind can be"), file=file),
        found=f"{size} bytes",
        wanted=f"at most {MOST_BYTES} bytes",
        remedy=message(N_("Look whether this is the right file.")),
    )


def parse(file: str, text: str) -> tuple[Rows | None, list[Notice]]:
    """Header and rows of CSV `text`; None with the faults where the rows cannot be told apart."""
    delimiter = _delimiter(text)
    faults: list[Notice] = []
    kept: list[Row] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    header: tuple[str, ...] | None = None
    number = 0
    while True:
        number += 1
        try:
            cells = next(reader)
        except StopIteration:
            break
        except csv.Error as error:
            faults.append(_broken(file, number, str(error)))
            return None, faults
        long = [i for i, cell in enumerate(cells) if len(cell) > LONGEST_CELL]
        if long:
            name = header[long[0]] if header and long[0] < len(header) else str(long[0] + 1)
            faults.append(_too_long(file, number, name, len(cells[long[0]])))
            continue
        if header is None:
            header = tuple(cells)
            faults += _header_faults(file, header)
            continue
        if not any(cell.strip() for cell in cells):
            continue
        while len(cells) > len(header) and not cells[-1].strip():
            cells.pop()
        if len(cells) != len(header):
            faults.append(_ragged(file, number, len(cells), len(header)))
        elif len(kept) >= MOST_ROWS:
            faults.append(_too_many(file, number))
            break
        else:
            kept.append(Row(number=number, cells=tuple(cells)))
    if header is None or not any(cell.strip() for cell in header):
        faults.append(
            cannot_read(
                "header",
                Place(file=file, row=1),
                message(N_("{file} has no header"), file=file),
                wanted="column names in row 1",
                remedy=message(N_("Write the names of the columns into row 1.")),
            )
        )
    if header is None or faults:
        return None, faults
    notices = []
    if delimiter != ",":
        shown = {";": "semicolon", "\t": "tab"}[delimiter]
        notices.append(
            open_item(
                "separator",
                file,
                message(N_("{file} has a {found} between its cells"), file=file, found=shown),
                place=Place(file=file),
                found=shown,
                wanted="comma",
                remedy=message(N_("Save the file again as CSV UTF-8.")),
            )
        )
    return Rows(header=header, rows=tuple(kept)), notices


def _delimiter(text: str) -> str:
    first = text.split("\n", 1)[0]
    if "," in first:
        return ","
    return next((mark for mark in (";", "\t") if mark in first), ",")


def _header_faults(file: str, header: tuple[str, ...]) -> list[Notice]:
    if len(header) > MOST_COLUMNS:
        return [
            cannot_read(
                "columns",
                Place(file=file, row=1),
                message(N_("{file} has too many columns"), file=file),
                found=len(header),
                wanted=f"at most {MOST_COLUMNS}",
                remedy=message(N_("Look whether this is the right file.")),
            )
        ]
    seen: set[str] = set()
    faults = []
    for heading in header:
        name = column_name(heading)
        if name and name in seen:
            faults.append(
                cannot_read(
                    "column-twice",
                    Place(file=file, row=1, column=name),
                    message(N_("Column {column} stands twice in {file}"), column=name, file=file),
                    found=heading,
                    wanted="each column once",
                    remedy=message(N_("Remove or rename one of the two columns.")),
                )
            )
        seen.add(name)
    return faults


def _broken(file: str, number: int, error: str) -> Notice:
    return cannot_read(
        "row",
        Place(file=file, row=number),
        message(N_("Row {row} of {file} cannot be split into cells"), row=number, file=file),
        found=error,
        wanted="cells between commas, quotes in pairs",
        remedy=message(N_("Look for a single quotation mark or a very long cell in this row.")),
    )


def _ragged(file: str, number: int, found: int, wanted: int) -> Notice:
    return cannot_read(
        "ragged-row",
        Place(file=file, row=number),
        message(
            N_("Row {row} of {file} has {found} cells, the header has {wanted}"),
            row=number,
            file=file,
            found=found,
            wanted=wanted,
        ),
        found=f"{found} cells",
        wanted=f"{wanted} cells",
        remedy=message(N_("Look for a comma inside a cell without quotation marks, or a missing comma.")),
    )


def _too_long(file: str, number: int, column: str, length: int) -> Notice:
    return cannot_read(
        "cell-size",
        Place(file=file, row=number, column=column),
        message(N_("A cell in row {row} of {file} is too long"), row=number, file=file),
        found=f"{length} characters",
        wanted=f"at most {LONGEST_CELL} characters",
        remedy=message(N_("Shorten the cell; look for a quotation mark that is not closed.")),
    )


def _too_many(file: str, number: int) -> Notice:
    return cannot_read(
        "file-size",
        Place(file=file, row=number),
        message(N_("{file} has too many rows"), file=file),
        wanted=f"at most {MOST_ROWS} rows",
        remedy=message(N_("Look whether this is the right file.")),
    )
