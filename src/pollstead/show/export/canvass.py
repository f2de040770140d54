"""The canvass as CSV and XLSX, each marked unofficial on its first line; numbers stay numbers."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence

from pollstead.election.words import N_
from pollstead.intake.cells import escape
from pollstead.reconcile.counts.canvass_version import CanvassVersion
from pollstead.show.canvass_words import (
    HEADS,
    MACHINE_HEADS,
    UNOFFICIAL,
    Cell,
    Say,
    machine_cells,
    row_cells,
)

NameOf = Callable[[str], str]


def canvass_csv(version: CanvassVersion, say: Say, name_of: NameOf) -> bytes:
    """The county table as CSV in UTF-8 with a mark, so that spreadsheets read its accents.

    The first line says what it is and the version's digest; then the header; a number that nobody has is
    blank. Text that begins like a formula is kept as text.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([_title(version, say)])
    writer.writerow([say(head) for head in HEADS])
    for row in (*version.rows, *version.totals):
        cells = row_cells(version, row, say, name_of)
        writer.writerow([escape(cell) if isinstance(cell, str) else cell for cell in cells])
    return out.getvalue().encode("utf-8-sig")


def canvass_xlsx(version: CanvassVersion, say: Say, name_of: NameOf, serials: dict[str, str]) -> bytes:
    """The county table and the machines as a workbook of two sheets."""
    import xlsxwriter

    out = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with xlsxwriter.Workbook(out, options) as book:
        bold, wrap = book.add_format({"bold": True}), book.add_format({"italic": True})
        rows = [row_cells(version, row, say, name_of) for row in (*version.rows, *version.totals)]
        machines = [machine_cells(one, say, serials) for one in version.machines]
        for name, heads, cells in (
            (say(N_("County table")), HEADS, rows),
            (say(N_("Memory devices")), MACHINE_HEADS, machines),
        ):
            sheet = book.add_worksheet(name[:31])
            sheet.write_string(0, 0, _title(version, say), wrap)
            for column, head in enumerate(heads):
                sheet.write_string(1, column, say(head), bold)
            _write(sheet, cells)
            sheet.freeze_panes(2, 0)
            sheet.autofilter(1, 0, 1 + max(1, len(cells)), len(heads) - 1)
            sheet.set_column(0, len(heads) - 1, 16)
            sheet.set_landscape()
            sheet.repeat_rows(0, 1)
            sheet.fit_to_pages(1, 0)
            sheet.set_footer(f"&L{say(N_('Unofficial, staff use'))}&R&P / &N")
    return out.getvalue()


def _write(sheet: object, rows: Sequence[tuple[Cell, ...]]) -> None:
    for number, cells in enumerate(rows, 2):
        for column, cell in enumerate(cells):
            if isinstance(cell, int):
                sheet.write_number(number, column, cell)  # type: ignore[attr-defined]
            elif cell:
                sheet.write_string(number, column, cell)  # type: ignore[attr-defined]


def _title(version: CanvassVersion, say: Say) -> str:
    return f"{say(UNOFFICIAL)} {version.county}, {version.election}, {version.digest[:16]}"
