"""Write all facts of a county as one XLSX workbook: a tab for each table, notes, drop-downs, a read-me tab.

Texts stay texts: nothing is computed by the spreadsheet, no macro, no link to another file.
"""

from __future__ import annotations

import datetime as dt
import io
import os
import re
import secrets
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pollstead.election.rules import REGISTRY, ParameterType
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.intake.cells import CellKind, looks_like_formula, write_cell
from pollstead.intake.column_notes import Say, note, reference
from pollstead.intake.tab_cells import Cell
from pollstead.intake.tab_rows import TabRows
from pollstead.intake.tabs import Tab, tab_named, tabs

if TYPE_CHECKING:
    from xlsxwriter.format import Format
    from xlsxwriter.workbook import Workbook
    from xlsxwriter.worksheet import Worksheet

README = "read me"
LISTS = "lists"
FACTS, MADE, PROGRAM, COUNTY, ELECTION, ELECTION_DAY, FORMAT = (
    "facts",
    "made",
    "program",
    "county",
    "election",
    "election day",
    "format",
)
"""What stands in the first column of the read-me tab; the program reads these back."""

WORKBOOK_FORMAT = "pollstead workbook 1"
INFO_COLUMNS = {"rules": ("meaning", "default", "who decides")}
"""Columns beside a tab's own that only tell something; they are not read."""

_SPARE_ROWS = 500
_MOST_DIGITS = 15
_PLAIN_NUMBER = re.compile(r"[0-9]{1,15}(\.[0-9]{1,9})?")
_NUMBERS = (CellKind.WHOLE, CellKind.SECONDS, CellKind.PER_VOTER)
_FIRST_SAFE_DATE = dt.date(1900, 3, 1)
"""Spreadsheets count a 29 February 1900 that never was; an earlier day is written as text."""
_MOST_LISTED = 255
_NO_CHARACTER = re.compile(r"_((?:x005F_)*xFFF[EF]_)")


class Origin(Value, frozen=True, kw_only=True):
    """What the read-me tab says: the digest of the facts, when the workbook was made, by which version."""

    facts: str
    made: str
    program: str


def write_workbook(
    rows: Iterable[TabRows],
    path: str | os.PathLike[str],
    origin: Origin,
    say: Say = str,
    overwrite: bool = False,
    without: frozenset[tuple[str, str]] = frozenset(),
) -> None:
    """Write the workbook beside its place, then rename it: it is there whole or not at all.

    `say` turns the English of notes into the reader's language; names of tabs and columns stay.
    `without` names columns as (tab, column), and whole tabs as (tab, ""), that are left out; reading
    the file back changes nothing in them.
    Raises FileExistsError where `path` is there and `overwrite` is not given, OSError where it
    cannot be written.
    """
    place = Path(path)
    if place.exists() and not overwrite:
        raise FileExistsError(f"{place} is there already; name a new file, or overwrite=True")
    beside = place.with_name(f".{place.name}.{secrets.token_hex(4)}.new")
    try:
        with beside.open("wb") as stream:
            stream.write(workbook_bytes(rows, origin, say, without))
            stream.flush()
            os.fsync(stream.fileno())
        beside.replace(place)
    finally:
        beside.unlink(missing_ok=True)


def workbook_bytes(
    rows: Iterable[TabRows], origin: Origin, say: Say = str, without: frozenset[tuple[str, str]] = frozenset()
) -> bytes:
    """The workbook as bytes, made in memory: its names and phones lie in no file; else as written."""
    import xlsxwriter

    made = io.BytesIO()
    book = xlsxwriter.Workbook(
        made,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        },
    )
    try:
        _Writing(book, {one.tab: one.rows for one in rows}, say, without).all(origin)
    finally:
        book.close()
    return made.getvalue()


class _Writing:
    """One workbook while it is written."""

    def __init__(
        self,
        book: Workbook,
        held: dict[str, tuple[tuple[str, ...], ...]],
        say: Say,
        without: frozenset[tuple[str, str]],
    ) -> None:
        self.book = book
        self.held = held
        self.without = without
        self.say = say
        self.heading = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.needed = book.add_format(
            {"bold": True, "bottom": 1, "text_wrap": True, "valign": "top", "underline": 1}
        )
        self.text = book.add_format({"num_format": "@", "valign": "top"})
        self.quoted = book.add_format({"num_format": "@", "valign": "top", "quote_prefix": True})
        self.date = book.add_format({"num_format": "yyyy-mm-dd", "align": "left"})
        self.plain = book.add_format({"num_format": "General", "align": "left"})
        self.wrapped = book.add_format({"text_wrap": True, "valign": "top"})
        self.info = book.add_format({"italic": True, "text_wrap": True, "valign": "top"})
        self.lists: list[tuple[str, ...]] = []

    def all(self, origin: Origin) -> None:
        """Every sheet: read me first, the tabs, and the lists of drop-downs that are too long for a cell."""
        readme = self.book.add_worksheet(README)
        sheets = [(tab, self.book.add_worksheet(tab.name)) for tab in self._tabs()]
        for tab, sheet in sheets:
            self._tab(tab, sheet)
        if self.lists:
            lists = self.book.add_worksheet(LISTS)
            for column, choices in enumerate(self.lists):
                for row, choice in enumerate(choices):
                    lists.write_string(row, column, choice, self.text)
            lists.hide()
        self._readme(readme, origin)
        readme.activate()

    def _tabs(self) -> list[Tab]:
        return [tab for tab in tabs() if (tab.name, "") not in self.without]

    def _tab(self, tab: Tab, sheet: Worksheet) -> None:
        rows = self.held.get(tab.name, ())
        info = INFO_COLUMNS.get(tab.name, ())
        if info:
            rows = (*rows, *_rules_not_set(tab, rows))
        shown = [i for i, cell in enumerate(tab.cells) if (tab.name, cell.name) not in self.without]
        for column, index in enumerate(shown):
            cell = tab.cells[index]
            widest = max((len(row[index]) for row in rows), default=0)
            width = min(max(10, len(cell.name) + 2, widest + 2), 48)
            sheet.set_column(column, column, width, self._format(cell))
            sheet.write_string(0, column, cell.name, self.needed if cell.column.required else self.heading)
            comment = note(tab, cell, self.say)
            sheet.write_comment(0, column, comment, {"x_scale": 2, "y_scale": 1 + comment.count("\n") / 3})
            self._drop_down(tab, cell, sheet, column, len(rows))
        for column, heading in enumerate(info, len(shown)):
            sheet.set_column(column, column, 40, self.info)
            sheet.write_string(0, column, heading, self.heading)
        for number, row in enumerate(rows, 1):
            for column, index in enumerate(shown):
                if row[index]:
                    self._cell(sheet, number, column, tab.cells[index], row[index])
            for column, words in enumerate(self._info(tab, row), len(shown)):
                sheet.write_string(number, column, words, self.info)
        sheet.freeze_panes(1, 1)
        sheet.autofilter(0, 0, max(len(rows), 1), len(shown) + len(info) - 1)

    def _format(self, cell: Cell) -> Format:
        if cell.column.kind in _NUMBERS:
            return self.plain
        return self.date if cell.column.kind is CellKind.DATE else self.text

    def _cell(self, sheet: Worksheet, row: int, column: int, cell: Cell, text: str) -> None:
        kind = cell.column.kind
        if kind in _NUMBERS and _is_safe_number(text):
            sheet.write_number(row, column, float(text) if "." in text else int(text), self.plain)
            return
        if kind is CellKind.DATE:
            day = dt.date.fromisoformat(text)
            if day >= _FIRST_SAFE_DATE:
                sheet.write_datetime(row, column, dt.datetime(day.year, day.month, day.day), self.date)  # noqa: DTZ001 - a spreadsheet's date has no zone
                return
        shown = _without_needless_mark(text)
        risky = shown[:1] in ("=", "+", "-", "@")
        sheet.write_string(row, column, for_xml(shown), self.quoted if risky else self.text)

    def _drop_down(self, tab: Tab, cell: Cell, sheet: Worksheet, column: int, rows: int) -> None:
        last = rows + _SPARE_ROWS
        if cell.choices and not cell.many:
            source: Any = list(cell.choices)
            if len(",".join(cell.choices)) > _MOST_LISTED or any("," in c for c in cell.choices):
                source = self._listed(cell.choices)
            rule = {"validate": "list", "source": source, "error_type": "stop"}
            rule["error_message"] = self.say(N_("Choose one of the list."))
            sheet.data_validation(1, column, last, column, rule)
            return
        taken_from = reference(tab, cell)
        if taken_from is not None and (taken_from.tab, "") not in self.without:
            other = tab_named(taken_from.tab)
            letter = column_letter(other.index(taken_from.column))
            until = len(self.held.get(other.name, ())) + _SPARE_ROWS
            rule = {
                "validate": "list",
                "source": f"='{other.name}'!${letter}$2:${letter}${until}",
                "error_type": "warning",
                "error_message": self.say(N_("No row of the other tab has this id yet.")),
            }
            sheet.data_validation(1, column, last, column, rule)

    def _listed(self, choices: tuple[str, ...]) -> str:
        if choices not in self.lists:
            self.lists.append(choices)
        letter = column_letter(self.lists.index(choices))
        return f"='{LISTS}'!${letter}$1:${letter}${len(choices)}"

    def _info(self, tab: Tab, row: tuple[str, ...]) -> tuple[str, ...]:
        if tab.name not in INFO_COLUMNS:
            return ()
        for rule in REGISTRY:
            if rule.id == row[tab.index("rule")]:
                default, unit = str(rule.default), rule.unit
                if rule.type is ParameterType.SHARE and isinstance(rule.default, int):
                    default, unit = write_cell(CellKind.PERCENT, rule.default), "percent"
                words = self.say(rule.words) + (f" ({', '.join(rule.choices)})" if rule.choices else "")
                return words, " ".join(filter(None, (default, unit))), self.say(rule.who_decides)
        return ()

    def _readme(self, sheet: Worksheet, origin: Origin) -> None:
        say = self.say
        county = tab_named("county")
        cells = dict(zip((c.name for c in county.cells), (self.held.get("county") or ((),))[0], strict=False))
        sheet.set_column(0, 0, 22, self.text)
        sheet.set_column(1, 2, 70, self.wrapped)
        facts = (
            (COUNTY, cells.get("county", "")),
            (ELECTION, cells.get("name", "")),
            (ELECTION_DAY, cells.get("election_day", "")),
            (FACTS, origin.facts),
            (MADE, origin.made),
            (PROGRAM, origin.program),
            (FORMAT, WORKBOOK_FORMAT),
        )
        for row, (label, words) in enumerate(facts):
            sheet.write_string(row, 0, label, self.heading)
            sheet.write_string(row, 1, for_xml(_without_needless_mark(words)), self.text)
        row = len(facts) + 1
        for words in _HOW:
            sheet.write_string(row, 1, say(words), self.wrapped)
            row += 1
        row += 1
        for column, words in enumerate((N_("Tab"), N_("What it holds"), N_("Belongs to the tab"))):
            sheet.write_string(row, column, say(words), self.heading)
        for tab in self._tabs():
            row += 1
            sheet.write_string(row, 0, tab.name, self.text)
            sheet.write_string(row, 1, say(tab.holds), self.wrapped)
            sheet.write_string(row, 2, tab.parent, self.wrapped)


_HOW = (
    N_("Change, add and remove rows in the tabs; save as XLSX; then read the file back by:"),
    "pollstead facts import FOLDER FILE.xlsx",
    N_("Nothing is taken before you have seen every difference and accepted it."),
    N_("The line 'facts' above names the facts this file was made from. Leave it as it is."),
    N_("Point at a heading to read what its column means. Underlined headings are needed in every row."),
    N_("Ids stay text: a zero in front is kept. A blank cell means: not known."),
    N_("Names and phones stand in this file. Keep it where only the people who need them can open it."),
)


def column_letter(index: int) -> str:
    """The letters of a column: 0 is A, 26 is AA."""
    letters = ""
    number = index + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def for_xml(text: str) -> str:
    """`text` such that the two code points that XML cannot carry come back, and their look-alikes too."""
    return _NO_CHARACTER.sub(r"_x005F_\1", text)


def _is_safe_number(text: str) -> bool:
    return bool(_PLAIN_NUMBER.fullmatch(text)) and len(text.replace(".", "")) <= _MOST_DIGITS


def _without_needless_mark(text: str) -> str:
    """A phone number without the apostrophe that a CSV table needs; what looks like a formula keeps it."""
    bare = text[1:]
    if text[:1] == "'" and bare[:1] in ("=", "+", "-", "@") and not bare[-1:].isspace():
        return text if looks_like_formula(bare) else bare
    return text


def _rules_not_set(tab: Tab, rows: tuple[tuple[str, ...], ...]) -> list[tuple[str, ...]]:
    at = tab.index("rule")
    known = {row[at] for row in rows}
    return [
        tuple(rule.id if index == at else "" for index in range(len(tab.cells)))
        for rule in REGISTRY
        if rule.id not in known
    ]
