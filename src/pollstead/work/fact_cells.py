"""Edits of rows as the cells of an event, and back."""

from __future__ import annotations

from pollstead.intake.fact_edits import (
    Edit,
    EditKind,
    RowCell,
)
from pollstead.record.kinds.changes import ChangedCell, NamedCell


def as_edit(cell: ChangedCell) -> Edit:
    """A cell of an event as an edit of rows."""
    return Edit(
        table=cell.table,
        row=cell.row,
        kind=EditKind(cell.what),
        column=cell.column,
        before=cell.before,
        after=cell.after,
        cells=tuple(RowCell(one.column, one.text) for one in cell.cells),
        follows=cell.follows,
        order_before=cell.order_before,
        order_after=cell.order_after,
    )


def as_cell(edit: Edit) -> ChangedCell:
    """An edit of rows as a cell of an event."""
    return ChangedCell(
        table=edit.table,
        row=edit.row,
        what=edit.kind.value,
        column=edit.column,
        before=edit.before or "",
        after=edit.after,
        cells=tuple(NamedCell(one.column, one.text) for one in edit.cells),
        follows=edit.follows or "",
        order_before=edit.order_before,
        order_after=edit.order_after,
    )
