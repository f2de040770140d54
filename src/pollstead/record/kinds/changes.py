"""Events about facts that people change: what was done to the county's tables, cell by cell.

Which tables and how many cells stand in the signed body; every value stands in the private part,
since a table may hold a name, a phone or a seal number.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.election.values import Value, require
from pollstead.record.kinds.body import Body, DigestOrNone, Nature, Private, Sentence, Word

TableName = Annotated[str, Meta(pattern=r"^[a-z][a-z0-9_]{0,63}\Z")]
Heading = Annotated[str, Meta(min_length=1, max_length=128)]
RowKey = Annotated[str, Meta(min_length=1, max_length=2000)]


class NamedCell(Value, frozen=True, omit_defaults=True):
    """One cell of a whole row: the heading of its column and its text; never blank."""

    column: Heading
    text: Annotated[str, Meta(min_length=1)]


class ChangedCell(Value, frozen=True, omit_defaults=True):
    """One change in a table, as text in the form that tables and workbooks hold.

    `what` is ``value`` (one cell: column, before, after), ``added`` or ``removed`` (a whole row:
    `cells`, and in `follows` the row before it, empty where it is the first), or ``order`` (the rows
    of `row` in another order: `order_before`, `order_after`). `row` is the row's id, or as many of
    its first cells, joined by `` | ``, as tell it apart.
    """

    table: TableName
    row: RowKey
    what: Literal["value", "added", "removed", "order"] = "value"
    column: Heading | Literal[""] = ""
    before: str = ""
    after: str = ""
    cells: tuple[NamedCell, ...] = ()
    follows: str = ""
    order_before: tuple[str, ...] = ()
    order_after: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        require(
            bool(self.column) == (self.what == "value"),
            f"column must be given for a value and for nothing else, got {self.column!r} for {self.what}",
        )


class FactsChangedPrivate(Private, frozen=True, omit_defaults=True):
    """Why the facts were changed, and every cell before and after."""

    said: ClassVar[tuple[str, ...]] = ("cells",)

    reason: Sentence
    cells: tuple[ChangedCell, ...]


class FactsChanged(Body, frozen=True, omit_defaults=True):
    """``facts.changed``: a person changed the county's tables by one act, whole or not at all.

    Subject: ``facts``, or the thing that the act is about. `act` is a coded word (import, amend,
    bulk_edit, swap_device, reseal, move_site, replace_person, add_stock, undo, accept, set_aside …).
    `tables` are those that change, `cells` counts the changes in the private part. `before` and
    `after` are the digests of the facts; `before` is empty for a new county. `undoes` names the
    change that is taken back (act undo, or set_aside where it never reached these tables);
    `accepts` names the change of another desk that is taken into these tables.
    """

    kind: ClassVar[str] = "facts.changed"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = FactsChangedPrivate
    private_required: ClassVar[bool] = True

    act: Word
    tables: tuple[TableName, ...]
    cells: Annotated[int, Meta(ge=0)]
    before: DigestOrNone
    after: DigestOrNone
    undoes: DigestOrNone = ""
    accepts: DigestOrNone = ""
