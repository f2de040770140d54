"""A table of counts as people have it: header anywhere at the top, groups over it, totals under it.

Nothing is thrown away silently. The row of totals is kept, so that it can be compared with the rows.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Callable

from pollstead.election.notice import Notice, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.csv_text import LONGEST_CELL, MOST_COLUMNS, MOST_ROWS, Row
from pollstead.intake.foreign import DEEPEST_HEADER, Grid, Skipped, read_grids, refused_table
from pollstead.intake.held_file import HeldFile
from pollstead.intake.notices import cannot_read
from pollstead.intake.synonyms import plain
from pollstead.intake.workbook_errors import error_cells

_TOTAL = re.compile(
    r"(?:(?:grand|county|overall)[\s-]*)?totals?(?:\s+(?:all|of|for)\s+(?:all\s+)?\w+)?\s*:?", re.IGNORECASE
)
_SUBTOTAL = re.compile(r"sub[\s-]*totals?\b.*", re.IGNORECASE)
_NUMBER = re.compile(r"[\d,.%$ /-]+")
_TEXT_FORMULA = re.compile(r'="(.*)"')


class CountTable(Value, frozen=True, kw_only=True):
    """A table of counts: its header, rows as text numbered as people count them, its rows of totals.

    `hidden` says that it is a sheet which the workbook does not show. `standard` names the open format that
    it comes from, "" for a table of somebody's own.
    """

    name: str
    header_row: int
    header: tuple[str, ...]
    rows: tuple[Row, ...]
    totals: tuple[Row, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    hidden: bool = False
    standard: str = ""


def read_tables(
    file: HeldFile, is_known: Callable[[str], bool]
) -> tuple[tuple[CountTable, ...], tuple[Notice, ...]]:
    """The tables of counts of a CSV file or workbook; `is_known` says whether a heading is like one of ours.

    Without a table the notices are its faults; beside tables they are remarks, such as an old encoding. A
    formula that no program has computed is a fault: it would read as blank.
    """
    grids, notices = read_grids(file)
    if grids is None:
        return (), tuple(notices)
    try:
        tables = tuple(table for grid in grids if (table := _table(grid, is_known)) is not None)
        faults = tuple(_formulas(file)) if file.suffix in (".xlsx", ".xlsm") else ()
    except ValueError as error:
        return (), (refused_table(file.name, str(error)),)
    if faults:
        return (), faults
    if not tables:
        return (), (refused_table(file.name, "no header and rows", "a header and rows under it"),)
    return tables, tuple(notices)


def clean(cell: str) -> str:
    """A cell without what a spreadsheet needs to keep it text: ``="007"`` and ``'007`` are 007."""
    found = _TEXT_FORMULA.fullmatch(cell)
    text = found[1] if found else cell
    return text[1:] if len(text) > 1 and text[0] == "'" and text[1].isalnum() else text


def _formulas(file: HeldFile) -> list[Notice]:
    return [
        cannot_read(
            "formula-without-value",
            Place(file=file.name),
            message(
                N_("{file}: the formula in cell {cell} of {sheet} gives no value"),
                file=file.name,
                cell=cell,
                sheet=sheet,
            ),
            found=cell,
            wanted=N_("a number"),
            remedy=message(N_("Open the file in a spreadsheet program, save it, and send it again.")),
        )
        for sheet, cells in error_cells(io.BytesIO(file.data)).items()
        for cell in cells
    ]


def _table(grid: Grid, is_known: Callable[[str], bool]) -> CountTable | None:
    cells = [[clean(cell) for cell in row] for row in grid.cells]
    if len(cells) > MOST_ROWS or any(len(cell) > LONGEST_CELL for row in cells for cell in row):
        raise ValueError("too many rows, or a cell that is too long")
    at = _header_row(cells, is_known)
    if at is None or len(cells[at]) > MOST_COLUMNS:
        return None
    header = _header(cells, at)
    width = len(header)
    skipped = [
        Skipped(row=i + 1, why=N_("above the header"), text=_text(cells[i]))
        for i in range(at)
        if any(cells[i])
    ]
    rows, totals = [], []
    bare = tuple((cells[at] + [""] * width)[:width])
    for number, row in enumerate(cells[at + 1 :], at + 2):
        padded = tuple((row + [""] * width)[:width])
        filled = [cell for cell in padded if cell]
        if not any(row):
            continue
        if not filled or padded == bare or (len(filled) == 1 and width > 2):
            why = N_("the header again") if padded == bare else N_("a remark, not a row")
            skipped.append(Skipped(row=number, why=why, text=_text(row)))
        elif _SUBTOTAL.fullmatch(filled[0]):
            skipped.append(Skipped(row=number, why=N_("a subtotal"), text=_text(row)))
        elif _TOTAL.fullmatch(filled[0]):
            totals.append(Row(number=number, cells=padded))
        else:
            rows.append(Row(number=number, cells=padded))
    if not rows:
        return None
    return CountTable(
        name=grid.name,
        header_row=at + 1,
        header=header,
        rows=tuple(rows),
        totals=tuple(totals),
        skipped=tuple(skipped),
        hidden=grid.hidden,
    )


def _text(row: list[str]) -> str:
    return " ".join(filter(None, row))[:200]


def _header_row(cells: list[list[str]], is_known: Callable[[str], bool]) -> int | None:
    """The row most like a header: several texts, few numbers, headings that are known, rows under it."""
    best: tuple[float, int] | None = None
    for i, row in enumerate(cells[:DEEPEST_HEADER]):
        filled = [cell for cell in row if cell]
        if len(filled) < 2:
            continue
        numbers = sum(1 for cell in filled if _NUMBER.fullmatch(cell))
        known = len({plain(cell) for cell in filled if is_known(cell)})
        under = any(cells[i + 1]) if i + 1 < len(cells) else False
        score = 3 * known + min(len(set(filled)), 12) - 4 * numbers - i * 0.01 - (0 if under else 5)
        if best is None or score > best[0]:
            best = (score, i)
    return best[1] if best and best[0] > 0 else None


def _header(cells: list[list[str]], at: int) -> tuple[str, ...]:
    """The headings, each once: where some repeat, the group above a heading goes before it."""
    header = [cell.replace("\n", " ").strip() for cell in cells[at]]
    while header and not header[-1]:
        header.pop()
    again = {heading for heading, times in Counter(filter(None, header)).items() if times > 1}
    if again and at:
        group = ""
        for place, above in enumerate((cells[at - 1] + [""] * len(header))[: len(header)]):
            group = above.replace("\n", " ").strip() or group
            if group and header[place] in again:
                header[place] = f"{group} {header[place]}"
    found: list[str] = []
    for place, heading in enumerate(header, 1):
        name = once = heading or f"column {place}"
        times = 1
        while once in found:
            times += 1
            once = f"{name} ({times})"
        found.append(once)
    return tuple(found)
