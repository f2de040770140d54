"""From the rows of one table to values, each with its row number; every fault names its cell."""

from __future__ import annotations

from typing import Any

from rapidfuzz import fuzz, process

from pollstead.election.notice import Notice, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.cells import CellFault, CellKind, is_us_date, looks_like_formula, read_cell
from pollstead.intake.csv_text import Row, Rows, column_name
from pollstead.intake.notices import cannot_read, open_item
from pollstead.intake.tables import EVERY_SITE, Column, Heading, HoursRow, Table

NEAR_ENOUGH = 75
"""How alike (0 to 100) an unknown name must be to a known one to be offered as what was meant."""


class Record(Value, frozen=True, kw_only=True):
    """One value and the row that it came from."""

    row: int
    value: Value


Filled = tuple[int, Column, Heading]


def read_records(table: Table, rows: Rows) -> tuple[tuple[Record, ...] | None, list[Notice]]:
    """The values of the rows; None with the faults where one cell or more cannot be read."""
    filled, faults, items = _columns(table, rows.header)
    records: list[Record] = []
    for row in rows.rows:
        value, row_faults, row_items = _record(table, filled, row)
        faults += row_faults
        items += row_items
        if value is not None:
            records.append(Record(row=row.number, value=value))
    if faults:
        return None, faults + items
    return tuple(records), items


def nearest(name: str, known: tuple[str, ...]) -> str:
    """The known name most like `name`, or "" where none is like it."""
    found = process.extractOne(name, known, scorer=fuzz.ratio, score_cutoff=NEAR_ENOUGH)
    return str(found[0]) if found else ""


def _columns(table: Table, header: tuple[str, ...]) -> tuple[list[Filled], list[Notice], list[Notice]]:
    by_heading = {h.name: (column, h) for column in table.columns for h in column.headings}
    filled: list[Filled] = []
    faults: list[Notice] = []
    unknown: list[tuple[int, str]] = []
    for index, heading in enumerate(header):
        name = column_name(heading)
        if name in by_heading:
            column, variant = by_heading[name]
            if any(column is other for _, other, _ in filled):
                faults.append(
                    cannot_read(
                        "column-twice",
                        Place(file=table.file, row=1, column=name),
                        message(
                            N_("Column {column} of {file} is given in two units"),
                            column=column.name,
                            file=table.file,
                        ),
                        found=heading,
                        wanted="each column once",
                        remedy=message(N_("Keep one of the two columns.")),
                    )
                )
            filled.append((index, column, variant))
        else:
            unknown.append((index, name))
    present = {column.name for _, column, _ in filled}
    free = tuple(column.name for column in table.columns if column.name not in present)
    for column in table.columns:
        if column.required and column.name not in present:
            likely = nearest(column.name, tuple(name for _, name in unknown))
            remedy = (
                message(N_("Rename the column {found} if it is meant, or add the column."), found=likely)
                if likely
                else message(N_("Add the column."))
            )
            faults.append(
                cannot_read(
                    "column-missing",
                    Place(file=table.file, row=1, column=column.name),
                    message(N_("{file} has no column {column}"), file=table.file, column=column.name),
                    found=", ".join(header),
                    wanted=column.name,
                    remedy=remedy,
                )
            )
    items = [_unknown_column(table, index, name, nearest(name, free)) for index, name in unknown]
    return filled, faults, items


def _unknown_column(table: Table, index: int, name: str, likely: str) -> Notice:
    shown_name = name or f"number {index + 1}"
    remedy = (
        message(N_("Rename it to {column} if that is meant."), column=likely)
        if likely
        else message(N_("Leave it, or remove it; it is not read."))
    )
    return open_item(
        "unknown-column",
        f"{table.file}, column {shown_name}",
        message(
            N_("Column {column} of {file} is not known and was not read"),
            column=shown_name,
            file=table.file,
        ),
        place=Place(file=table.file, row=1, column=shown_name),
        found=name,
        wanted=likely,
        remedy=remedy,
    )


def _record(table: Table, filled: list[Filled], row: Row) -> tuple[Value | None, list[Notice], list[Notice]]:
    fields: dict[str, Any] = {}
    faults: list[Notice] = []
    items: list[Notice] = []
    for index, column, heading in filled:
        cell = row.cells[index]
        place = Place(file=table.file, row=row.number, column=heading.name)
        if not cell.strip():
            if column.required:
                faults.append(_blank(place, column))
            continue
        if table.row_type is HoursRow and column.field == "site" and cell.strip() == EVERY_SITE:
            fields["site"] = EVERY_SITE
            continue
        try:
            fields[column.field] = read_cell(column.kind, cell, heading.unit)
        except CellFault as fault:
            faults.append(
                cannot_read(
                    "cell",
                    place,
                    message(
                        N_("Row {row} of {file}: {column} cannot be read"),
                        row=row.number,
                        file=table.file,
                        column=heading.name,
                    ),
                    found=cell,
                    wanted=fault.wanted,
                    remedy=fault.remedy,
                )
            )
            continue
        items += _worth_a_look(place, column, cell)
    if faults or any(column.required and column.field not in fields for column in table.columns):
        return None, faults, items
    try:
        return table.row_type(**fields), [], items
    except ValueError as error:
        place = Place(file=table.file, row=row.number)
        return None, [_refused(place, str(error))], items


def _blank(place: Place, column: Column) -> Notice:
    return cannot_read(
        "blank",
        place,
        message(
            N_("Row {row} of {file} has no {column}"),
            row=place.row or 0,
            file=place.file,
            column=column.name,
        ),
        found="blank",
        wanted=column.kind.value,
        remedy=message(N_("Fill in the cell, or remove the row.")),
    )


def _refused(place: Place, why: str) -> Notice:
    return cannot_read(
        "row-refused",
        place,
        message(
            N_("Row {row} of {file} cannot be taken: {why}"), row=place.row or 0, file=place.file, why=why
        ),
        found=why,
        remedy=message(N_("Correct the row.")),
    )


def _worth_a_look(place: Place, column: Column, cell: str) -> list[Notice]:
    if column.kind in (CellKind.TEXT, CellKind.LIST) and looks_like_formula(cell):
        return [
            open_item(
                "formula",
                place.english(),
                message(
                    N_("Row {row} of {file}: {column} begins like a formula; it is kept as plain text"),
                    row=place.row or 0,
                    file=place.file,
                    column=place.column or "",
                ),
                place=place,
                found=cell,
                wanted="text",
                remedy=message(
                    N_("Look where this cell came from before opening the file in a spreadsheet.")
                ),
            )
        ]
    if "\N{REPLACEMENT CHARACTER}" in cell:
        return [
            open_item(
                "letter-lost",
                place.english(),
                message(
                    N_("Row {row} of {file}: {column} has a letter that was lost on the way"),
                    row=place.row or 0,
                    file=place.file,
                    column=place.column or "",
                ),
                place=place,
                found=cell,
                remedy=message(N_("Type the letter again.")),
            )
        ]
    if column.kind is CellKind.DATE and is_us_date(cell):
        return [
            open_item(
                "date-order",
                place.english(),
                message(
                    N_("Row {row} of {file}: {found} was read as month/day/year"),
                    row=place.row or 0,
                    file=place.file,
                    found=cell.strip(),
                ),
                place=place,
                found=cell,
                wanted="2026-11-03",
                remedy=message(N_("Write year-month-day, so that nobody reads it the other way round.")),
            )
        ]
    return []
