"""Edits of facts as rows of text: a cell set, a row added or removed, rows put in another order.

An edit names its row as a difference does: by the row's id, or by as many of its first cells as tell
it apart. `edited` does edits to rows; `edits_between` (in its own module) finds those between two sides.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Mapping

import msgspec

from pollstead.election.notice import Notice, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.fact_difference import whole
from pollstead.intake.notices import cannot_read
from pollstead.intake.row_names import has_id, name_of, names_of, place_of_row, row_index
from pollstead.intake.tab_rows import TabRows
from pollstead.intake.tabs import Tab, place_of, tab_named, tabs


class EditKind(enum.StrEnum):
    """What an edit does."""

    VALUE = "value"
    ADDED = "added"
    REMOVED = "removed"
    ORDER = "order"


class RowCell(Value, frozen=True):
    """A cell of a whole row: the heading of its column and its text."""

    column: str
    text: str


class Edit(Value, frozen=True, kw_only=True):
    """One edit. `before` is what the cell must hold for the edit to fit; None where it is not asked.

    `cells` are those of a whole row, blank ones left out; `follows` is the row before it, "" where it
    is the first and None where it goes to the end. `order_before` and `order_after` are rows by name.
    """

    table: str
    row: str
    kind: EditKind = EditKind.VALUE
    column: str = ""
    before: str | None = None
    after: str = ""
    cells: tuple[RowCell, ...] = ()
    follows: str | None = None
    order_before: tuple[str, ...] = ()
    order_after: tuple[str, ...] = ()


def set_cell(table: str, row: str, column: str, text: str, *, before: str | None = None) -> Edit:
    """Set one cell; "" makes it blank."""
    return Edit(table=table, row=row, column=column, after=text, before=before)


def add_row(table: str, cells: Mapping[str, str], *, follows: str | None = None) -> Edit:
    """Add a row with these cells by heading; raises KeyError where the table has no such tab."""
    tab = tab_named(table)
    texts = tuple(cells.get(cell.name, "") for cell in tab.cells)
    given = tuple(RowCell(column, text) for column, text in cells.items() if text)
    return Edit(table=table, row=name_of(tab, texts), kind=EditKind.ADDED, cells=given, follows=follows)


def remove_row(table: str, row: str) -> Edit:
    """Remove one row."""
    return Edit(table=table, row=row, kind=EditKind.REMOVED)


def reverse(edit: Edit) -> Edit:
    """The edit that takes `edit` back; its `before` must be known."""
    kinds = {EditKind.ADDED: EditKind.REMOVED, EditKind.REMOVED: EditKind.ADDED}
    return Edit(
        table=edit.table,
        row=edit.row,
        kind=kinds.get(edit.kind, edit.kind),
        column=edit.column,
        before=edit.after,
        after=edit.before or "",
        cells=edit.cells,
        follows=edit.follows,
        order_before=edit.order_after,
        order_after=edit.order_before,
    )


def forced(edit: Edit) -> Edit:
    """The edit whatever stands there now."""
    cells = () if edit.kind is EditKind.REMOVED else edit.cells
    return msgspec.structs.replace(edit, before=None, cells=cells)


def edited(
    rows: tuple[TabRows, ...], edits: Iterable[Edit]
) -> tuple[tuple[TabRows, ...], tuple[Notice, ...]]:
    """The rows after these edits, and a fault for each edit that does not fit them."""
    by_tab: dict[str, list[Edit]] = {}
    faults: list[Notice] = []
    known = {tab.name for tab in tabs()}
    for edit in edits:
        if edit.table in known:
            by_tab.setdefault(edit.table, []).append(edit)
        else:
            faults.append(
                _fault(
                    edit,
                    None,
                    message(N_("There is no table {table}"), table=edit.table),
                    edit.table,
                    N_("the name of a tab"),
                )
            )
    held = {one.tab: one.rows for one in rows}
    result = []
    for tab in tabs():
        if tab.name in by_tab:
            editing = RowsEdited(tab, held.get(tab.name, ()))
            editing.do(by_tab[tab.name])
            faults += editing.faults
            result.append(TabRows(tab=tab.name, rows=editing.rows))
        else:
            result.append(TabRows(tab=tab.name, rows=held.get(tab.name, ())))
    return tuple(result), tuple(faults)


class RowsEdited:
    """The rows of one tab while edits are done to them; faults are collected."""

    def __init__(self, tab: Tab, rows: tuple[tuple[str, ...], ...]) -> None:
        self.tab = tab
        self.faults: list[Notice] = []
        self._rows: list[list[str] | None] = [list(row) for row in rows]
        self._index = row_index(tab, rows)

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        """The rows as they are now."""
        return tuple(tuple(row) for row in self._rows if row is not None)

    def do(self, edits: list[Edit]) -> None:
        """Values and rows removed by where rows stood; then orders; then rows added, each after another."""
        for edit in edits:
            if edit.kind is EditKind.VALUE:
                self._set(edit)
        for edit in edits:
            if edit.kind is EditKind.REMOVED:
                self._remove(edit)
        kept = [row for row in self._rows if row is not None]
        for edit in edits:
            if edit.kind is EditKind.ORDER:
                self._reorder(kept, edit)
        for edit in edits:
            if edit.kind is EditKind.ADDED:
                self._add(kept, edit)
        self._rows = list(kept)

    def _find(self, edit: Edit) -> int | None:
        found = place_of_row(self._index, edit.row)
        if len(found) == 1 or (found and len({tuple(self._rows[n] or ()) for n in found}) == 1):
            return found[0]
        words = (
            message(N_("{table} has no row {row}"), table=edit.table, row=edit.row)
            if not found
            else message(
                N_("{table} has {count} rows {row}"), table=edit.table, count=len(found), row=edit.row
            )
        )
        self.faults.append(_fault(edit, None, words, edit.row, N_("one row by its id")))
        return None

    def _remove(self, edit: Edit) -> None:
        number = self._find(edit)
        if number is None:
            return
        row = self._rows[number]
        if edit.cells and row is not None and row_cells(self.tab, tuple(row)) != edit.cells:
            words = message(N_("{table}, row {row} was changed since"), table=edit.table, row=edit.row)
            found, wanted = whole(tuple(row)), " | ".join(cell.text for cell in edit.cells)
            self.faults.append(_fault(edit, number + 2, words, found, wanted))
            return
        self._rows[number] = None

    def _set(self, edit: Edit) -> None:
        column = self._column(edit, edit.column)
        number = self._find(edit)
        row = None if number is None else self._rows[number]
        if number is None or row is None or column is None:
            return
        if edit.before is not None and row[column] not in (edit.before, edit.after):
            words = message(
                N_("{table}, row {row}: {column} was changed since"),
                table=edit.table,
                row=edit.row,
                column=edit.column,
            )
            self.faults.append(_fault(edit, number + 2, words, row[column], edit.before))
            return
        row[column] = edit.after

    def _column(self, edit: Edit, name: str) -> int | None:
        try:
            return self.tab.index(name)
        except KeyError:
            words = message(N_("{table} has no column {column}"), table=edit.table, column=name)
            headings = ", ".join(cell.name for cell in self.tab.cells)
            self.faults.append(_fault(edit, None, words, name, headings))
            return None

    def _add(self, kept: list[list[str]], edit: Edit) -> None:
        columns = [(self._column(edit, cell.column), cell.text) for cell in edit.cells]
        row = [""] * len(self.tab.cells)
        for column, text in columns:
            if column is None:
                return
            row[column] = text
        names = names_of(self.tab, tuple(row))
        if any(names[0] == name_of(self.tab, tuple(other)) for other in kept) and has_id(self.tab):
            words = message(N_("{table} has a row {row} already"), table=edit.table, row=edit.row)
            self.faults.append(_fault(edit, None, words, edit.row, N_("each id once")))
            return
        kept.insert(self._place(kept, edit, row[0]), row)

    def _place(self, kept: list[list[str]], edit: Edit, owner: str) -> int:
        if edit.follows == "":
            return 0
        if edit.follows is not None:
            for number, row in enumerate(kept):
                if edit.follows in names_of(self.tab, tuple(row)):
                    return number + 1
        if self.tab.ordered:
            own = [number for number, row in enumerate(kept) if row[0] == owner]
            return own[-1] + 1 if own else len(kept)
        return len(kept)

    def _reorder(self, kept: list[list[str]], edit: Edit) -> None:
        places = [
            (number, name)
            for number, row in enumerate(kept)
            if row[0] == edit.row
            for name in (set(names_of(self.tab, tuple(row))) & set(edit.order_after))
        ]
        by_name = {name: kept[number] for number, name in places}
        if set(by_name) != set(edit.order_after) or len(places) != len(edit.order_after):
            words = message(N_("{table}: the rows of {row} are others now"), table=edit.table, row=edit.row)
            found = "; ".join(name for _, name in places)
            self.faults.append(_fault(edit, None, words, found, "; ".join(edit.order_after)))
            return
        for (number, _), name in zip(places, edit.order_after, strict=True):
            kept[number] = by_name[name]


def row_cells(tab: Tab, row: tuple[str, ...]) -> tuple[RowCell, ...]:
    """The cells of a row by heading, blank ones left out."""
    return tuple(RowCell(cell.name, text) for cell, text in zip(tab.cells, row, strict=True) if text)


def _fault(edit: Edit, row: int | None, words: Message, found: str, wanted: str) -> Notice:
    return cannot_read(
        "fact-edit",
        Place(file=place_of(edit.table), row=row, column=edit.column or None),
        words,
        found=found,
        wanted=wanted,
        remedy=message(N_("Look at the table again, then make the change anew.")),
    )
