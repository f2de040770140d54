"""How a table of the county folder follows from a value type: columns, their names, kinds of cell.

A column is a field of the value type whose rows the table holds. The field's name says its unit,
and so the column's name and what a cell looks like: ``door_clear_um`` is the column ``door_clear``
(also ``door_clear_in``, ``door_clear_mm``), ``share_ppm`` is ``share_percent``, ``opens_min`` is
``opens``. A tab of a workbook is the same table.
"""

from __future__ import annotations

import datetime as dt
import functools
import types
import typing
from dataclasses import dataclass

import msgspec

from pollstead.election.values import Value
from pollstead.intake.cells import CellKind

CLOCK_FIELDS = frozenset(
    (
        "opens_min closes_min access_from_min evening_from_min busy_from_min busy_to_min from_min to_min "
        "arrives_min"
    ).split()
)
SIGNED_FIELDS = frozenset({"x_m", "y_m", "offset_days"})


class Heading(Value, frozen=True, kw_only=True):
    """A name that a column may have, and the unit that this name gives its bare numbers."""

    name: str
    unit: str = ""


class Column(Value, frozen=True, kw_only=True):
    """One column: the field it fills, its names (the first is the one written), what a cell holds."""

    field: str
    headings: tuple[Heading, ...]
    kind: CellKind
    required: bool
    words: str = ""

    @property
    def name(self) -> str:
        """The name that is written."""
        return self.headings[0].name


@dataclass(frozen=True, kw_only=True)
class Table:
    """One table of the county folder and what it is good for; no `Value`, because it names a type."""

    name: str
    row_type: type[Value]
    columns: tuple[Column, ...]
    holds: str
    adds: str = ""
    owner: str = ""
    due_days: int = 0
    required: bool = False

    @property
    def file(self) -> str:
        """The file's name."""
        return f"{self.name}.csv"


def cell_kind(field: str, hint: object, ids: tuple[str, ...] = ()) -> CellKind:
    """What a cell of this field holds, by the unit in its name, else by its type."""
    if field in ids:
        return CellKind.ID
    if field in CLOCK_FIELDS:
        return CellKind.CLOCK
    if field in SIGNED_FIELDS:
        return CellKind.SIGNED
    if field == "per_voter_ppm":
        return CellKind.PER_VOTER
    for ending, kind in (
        ("_um", CellKind.LENGTH),
        ("_ppm", CellKind.PERCENT),
        ("_ms", CellKind.SECONDS),
    ):
        if field.endswith(ending):
            return kind
    inner = without_none(hint)
    if typing.get_origin(inner) is tuple:
        return CellKind.LIST
    by_type: dict[object, CellKind] = {
        int: CellKind.WHOLE,
        bool: CellKind.YES_NO,
        dt.date: CellKind.DATE,
        str: CellKind.TEXT,
    }
    if inner not in by_type:
        raise TypeError(f"field {field!r} of type {inner!r} cannot stand in a cell")
    return by_type[inner]


def without_none(hint: object) -> object:
    """The type inside ``X | None``."""
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        inner = [part for part in typing.get_args(hint) if part is not type(None)]
        return inner[0] if len(inner) == 1 else hint
    return hint


def headings_of(field: str, kind: CellKind) -> tuple[Heading, ...]:
    """The names a column or key of this field may have; the first is the one written."""
    if kind is CellKind.LENGTH:
        base = field.removesuffix("_um")
        units = [Heading(name=f"{base}_{unit}", unit=unit) for unit in ("in", "ft", "mm")]
        return (Heading(name=base), *units)
    if kind is CellKind.PERCENT:
        return (Heading(name=field.removesuffix("_ppm") + "_percent"),)
    if kind is CellKind.PER_VOTER:
        return (Heading(name=field.removesuffix("_ppm")),)
    if kind is CellKind.SECONDS:
        return (Heading(name=field.removesuffix("_ms") + "_s"),)
    if kind is CellKind.CLOCK:
        return (Heading(name=field.removesuffix("_min")),)
    # A word of Python stands with a dash behind it; the unit of a cost stands in the words about it.
    return (Heading(name=field.removesuffix("_millinats").rstrip("_")),)


@functools.cache
def fields_of(value_type: type[Value]) -> tuple[msgspec.structs.FieldInfo, ...]:
    """The fields of a value type, found once: finding them evaluates every annotation anew."""
    return msgspec.structs.fields(value_type)


@functools.cache
def type_hints(row_type: type[Value]) -> dict[str, object]:
    """The types of the fields of `row_type`."""
    return dict(typing.get_type_hints(row_type))


def table_of(
    name: str,
    row_type: type[Value],
    holds: str,
    words: dict[str, str],
    *,
    ids: tuple[str, ...] = (),
    adds: str = "",
    owner: str = "",
    due_days: int = 0,
    required: bool = False,
    leave_out: tuple[str, ...] = (),
) -> Table:
    hints = type_hints(row_type)
    columns = []
    for field in msgspec.structs.fields(row_type):
        if field.name in leave_out:
            continue
        kind = cell_kind(field.name, hints[field.name], ids)
        columns.append(
            Column(
                field=field.name,
                headings=headings_of(field.name, kind),
                kind=kind,
                required=field.required,
                words=words[field.name],
            )
        )
    return Table(
        name=name,
        row_type=row_type,
        columns=tuple(columns),
        holds=holds,
        adds=adds,
        owner=owner,
        due_days=due_days,
        required=required,
    )
