"""A list of serials from elsewhere (purchase, certification): a CSV with a column serial, or one a line."""

from __future__ import annotations

import csv
import io

from pollstead.election.words import N_, Message, message

HEADINGS = ("serial", "serial number", "serial no", "serial no.", "id", "tag")
MOST_SERIALS = 100_000
LONGEST = 80


class CannotReadList(ValueError):
    """The file is no list of serials; `said` says what was found and what to do."""

    def __init__(self, said: Message) -> None:
        super().__init__(said.english())
        self.said = said


def read_serials(data: bytes) -> tuple[str, ...]:
    """The serials of a CSV in the order of the file, blanks left out; text stays text, zeros too.

    The column is the one headed serial; a file of one column needs no heading. Raises CannotReadList.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise CannotReadList(
            message(
                N_("The file is no UTF-8 text, from byte {byte} on. Save it as CSV, UTF-8."), byte=error.start
            )
        ) from error
    rows = [
        [cell.strip() for cell in row] for row in csv.reader(io.StringIO(text)) if any(map(str.strip, row))
    ]
    if not rows:
        raise CannotReadList(message(N_("The file is empty. Choose a CSV with a column named serial.")))
    heads = [cell.casefold() for cell in rows[0]]
    column = next((heads.index(name) for name in HEADINGS if name in heads), None)
    if column is None and max(map(len, rows)) > 1:
        raise CannotReadList(
            message(
                N_("No column is headed serial; the headings are {headings}. Name the column serial."),
                headings=", ".join(rows[0])[:200],
            )
        )
    body = rows if column is None else rows[1:]
    found = tuple(row[column or 0] for row in body if len(row) > (column or 0) and row[column or 0])
    long = next((one for one in found if len(one) > LONGEST), None)
    if not found or len(found) > MOST_SERIALS or long is not None:
        raise CannotReadList(
            message(
                N_("A list has 1 to {most} serials of at most {longest} characters; found {count}."),
                most=MOST_SERIALS,
                longest=LONGEST,
                count=len(found),
            )
        )
    return found
