"""Read a device's report over test decks from a CSV that a person filled in: a row for each number."""

from __future__ import annotations

from pollstead.election.notice import Notice, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.csv_text import decode, parse
from pollstead.intake.notices import cannot_read

COLUMNS = ("contest", "line", "choice", "count")
LONGEST_COUNT = 12


class ReportRow(Value, frozen=True, kw_only=True):
    """One number as typed: contest and choice by id, the line by its word."""

    row: int
    contest: str
    line: str
    choice: str
    count: int


def read_deck_report(data: bytes, file: str) -> tuple[tuple[ReportRow, ...], tuple[Notice, ...]]:
    """The rows with a count, and every fault of the file; rows left blank are numbers nobody read."""
    text, faults = decode(file, data)
    if text is None:
        return (), tuple(faults)
    rows, more = parse(file, text)
    faults += more
    if rows is None:
        return (), tuple(faults)
    lacking = [name for name in COLUMNS if name not in rows.header]
    if lacking:
        faults.append(
            cannot_read(
                "deck-report-columns",
                Place(file=file, row=1),
                message(N_("The file has no column {names}"), names=", ".join(lacking)),
                found=", ".join(rows.header),
                wanted=", ".join(COLUMNS),
                remedy=message(N_("Take the form that pollstead decks --form writes, and fill in count.")),
            )
        )
        return (), tuple(faults)
    at = {name: rows.header.index(name) for name in COLUMNS}
    found = []
    for row in rows.rows:
        cells = {name: row.cells[place].strip() for name, place in at.items()}
        typed = cells["count"]
        if not typed:
            continue
        if not (typed.isascii() and typed.isdecimal() and len(typed) <= LONGEST_COUNT):
            faults.append(
                cannot_read(
                    "deck-report-count",
                    Place(file=file, row=row.number, column="count"),
                    message(N_("This is no count")),
                    found=typed,
                    wanted="digits",
                    remedy=message(N_("Type the number as the report shows it, 0 too.")),
                )
            )
            continue
        found.append(
            ReportRow(
                row=row.number,
                contest=cells["contest"],
                line=cells["line"],
                choice=cells["choice"],
                count=int(typed),
            )
        )
    return (() if faults else tuple(found)), tuple(faults)
