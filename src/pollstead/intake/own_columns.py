"""Columns of a county's own in a table: not read by the program, kept when the table is written anew."""

from __future__ import annotations

import csv
import io
from collections import defaultdict

from pollstead.intake.csv_text import column_name, decode, parse
from pollstead.intake.tables import Table


def with_own_columns(table: Table, old: bytes, new: bytes) -> bytes:
    """`new` with the columns of `old` that the table does not know, each cell at the row it stood at.

    Rows are found again by their id, else by the first column and then by what they hold; a row that
    is new has blank cells. `old` that cannot be read has no such columns.
    """
    text, _ = decode(table.file, old)
    rows = parse(table.file, text)[0] if text is not None else None
    if rows is None:
        return new
    known = {heading.name for column in table.columns for heading in column.headings}
    own = [i for i, name in enumerate(rows.header) if name.strip() and column_name(name) not in known]
    if not own:
        return new
    written = list(csv.reader(io.StringIO(new.decode("utf-8"), newline="")))
    key = _key(table)
    place = next((i for i, name in enumerate(rows.header) if column_name(name) == key), None)
    if place is None:
        return new
    held: dict[str, list[tuple[str, ...]]] = defaultdict(list)
    for row in rows.rows:
        held[row.cells[place].strip()].append(tuple(row.cells[i] for i in own))
    index = [column_name(name) for name in written[0]].index(key)
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([*written[0], *(rows.header[i] for i in own)])
    for cells in written[1:]:
        waiting = held.get(cells[index].strip(), [])
        # Rows with one key keep their order, as long as none of them came or went.
        kept = waiting.pop(0) if waiting else ("",) * len(own)
        writer.writerow([*cells, *kept])
    return stream.getvalue().encode("utf-8")


def _key(table: Table) -> str:
    names = [column.name for column in table.columns]
    return "id" if "id" in names else names[0]
