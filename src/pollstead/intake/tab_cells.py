"""The columns of a tab, made from the fields of a value type and of the values inside it."""

from __future__ import annotations

import enum
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import msgspec

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.intake.cells import CellKind
from pollstead.intake.column_words import words_of
from pollstead.intake.tables import (
    Column,
    Heading,
    cell_kind,
    headings_of,
    type_hints,
    without_none,
)

SIGNED = frozenset({"lead_min"})
"""Whole numbers that may be below zero: a clock may be set behind."""


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One column of a tab and how its text meets a value; no `Value`, because it names a type."""

    column: Column
    path: tuple[str, ...]
    hint: object
    optional: bool
    empty: Any = None
    choices: tuple[str, ...] = ()
    many: bool = False
    as_json: bool = False

    @property
    def name(self) -> str:
        """The heading."""
        return self.column.name


def cell_type(cell: Cell) -> Any:
    import datetime as dt

    return {
        CellKind.LIST: tuple[str, ...] | None,
        CellKind.DATE: dt.date | None,
        CellKind.YES_NO: bool | None,
        CellKind.TEXT: str | None,
        CellKind.ID: str | None,
    }.get(cell.column.kind, int | None)


def tuples_of(kind: type[Value]) -> Iterator[tuple[str, type[Value]]]:
    hints = type_hints(kind)
    for field in kind.__struct_fields__:
        item = _item_of(hints[field])
        if isinstance(item, type) and issubclass(item, Value):
            yield field, item


def _item_of(hint: object) -> object:
    inner = without_none(hint)
    return typing.get_args(inner)[0] if typing.get_origin(inner) is tuple else None


def cells_of(
    kind: type[Value], path: tuple[str, ...], owner: str, *, has_children: bool = False
) -> Iterator[Cell]:
    """The columns of a value type: its own fields, then those of the values inside it.

    `owner` is the name of the column for the parent: a field of that name is told apart from it.
    """
    hints = type_hints(kind)
    for field in msgspec.structs.fields(kind):
        hint = hints[field.name]
        inner = without_none(hint)
        item = _item_of(hint)
        here = (*path, field.name)
        if isinstance(item, type) and issubclass(item, Value):
            if not has_children:
                yield _json_cell(here, inner)
            continue
        if isinstance(inner, type) and issubclass(inner, Value):
            yield from cells_of(inner, here, owner)
            continue
        empty = None if field.required else field.default
        yield _scalar_cell(here, inner, item, inner is not hint, empty, owner)


def _json_cell(path: tuple[str, ...], hint: object) -> Cell:
    name = "_".join(path)
    column = Column(
        field="__".join(path),
        headings=(Heading(name=name),),
        kind=CellKind.TEXT,
        required=False,
        words=N_("Written by the program; leave it as it is"),
    )
    return Cell(column=column, path=path, hint=hint, optional=False, empty=(), as_json=True)


def _scalar_cell(
    path: tuple[str, ...], inner: object, item: object, optional: bool, empty: Any, owner: str
) -> Cell:
    last = path[-1]
    enumeration = inner if _is_enum(inner) else item if _is_enum(item) else None
    choices: tuple[str, ...] = ()
    if enumeration is not None:
        choices = tuple(str(member.value) for member in typing.cast("type[enum.Enum]", enumeration))
    if enumeration is not None or inner == int | str or last in SIGNED:
        kind = CellKind.TEXT
        headings: tuple[Heading, ...] = (Heading(name=last),)
    else:
        kind = cell_kind(last, inner, ids=("id",))
        headings = headings_of(last, kind)
        if kind is CellKind.YES_NO:
            choices = ("yes", "no")
    prefix = "".join(f"{part}_" for part in path[:-1])
    if owner and not prefix and last == owner:
        prefix = "uses_"
    headings = tuple(Heading(name=prefix + h.name, unit=h.unit) for h in headings)
    required = len(path) == 1 and empty is None and not optional and kind is not CellKind.TEXT
    column = Column(
        field="__".join(path),
        headings=headings,
        kind=kind,
        required=required or (enumeration is not None and len(path) == 1 and empty is None and not optional),
        words=words_of(path),
    )
    return Cell(
        column=column,
        path=path,
        hint=item if item is not None else inner,
        optional=optional,
        empty=empty,
        choices=choices,
        many=item is not None and enumeration is not None,
    )


def _is_enum(hint: object) -> bool:
    return isinstance(hint, type) and issubclass(hint, enum.Enum)
