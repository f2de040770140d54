"""What a person's decision did to one number of the plan: computed and fixed value, and what it costs."""

from __future__ import annotations

from pollstead.election.county import FixedValue
from pollstead.election.values import Value
from pollstead.election.words import Message


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
