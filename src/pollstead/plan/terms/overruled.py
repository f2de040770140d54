"""What a person's decision did to one number of the plan: computed and fixed value, and what it costs."""

from __future__ import annotations

from pollstead.election.county import FixedValue
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message


class Overruled(Value, frozen=True, kw_only=True):
    """A cell of a plan table that a person fixed: what it would have been, why, what changes by it.

    `site` is "" where the cell belongs to no one site. `computed` is text, as `value` is.
    """

    table: str
    row: str
    field: str
    site: str
    value: str
    computed: str
    reason: str
    cost: tuple[Message, ...] = ()


def overruled(
    cell: FixedValue, computed: object, cost: tuple[Message, ...] = (), *, site: str = ""
) -> Overruled:
    """The decision `cell` beside what was computed."""
    return Overruled(
        table=cell.table,
        row=cell.row,
        field=cell.field,
        site=site or cell.row.partition("/")[0],
        value=cell.value,
        computed=str(computed),
        reason=cell.reason,
        cost=cost,
    )


def fits_no_row(cell: FixedValue, wanted: str) -> Notice:
    """The open item for a fixed value that no row of the plan takes; `wanted` says what would fit."""
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="fixed-value",
        subject=f"{cell.table}/{cell.row}",
        day=cell.field,
        text=message(
            N_("The fixed value {value} for {table} {row} {field} fits no row of the plan."),
            value=cell.value,
            table=cell.table,
            row=cell.row,
            field=cell.field,
        ),
        wanted=wanted,
        remedy=message(N_("Correct the row or take the fixed value away.")),
        depends=(cell.value,),
    )
