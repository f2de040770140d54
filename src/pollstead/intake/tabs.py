"""The tabs of a workbook: every table of a county, the TOML files among them, as flat columns.

A tab for each table of `tables`; county, rules, station types, kinds of site and assumptions are made
flat from their value types: a value inside a value becomes columns (``service_mean_s``), a tuple of
values becomes a tab of its own whose first column names the row it belongs to.
"""

from __future__ import annotations

import enum
import functools
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import msgspec

from pollstead.election.county import Assumption
from pollstead.election.rules import RuleSetting
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.intake.cells import CellKind
from pollstead.intake.column_words import words_of
from pollstead.intake.tables import (
    ASSUMPTIONS_FILE,
    COUNTY_FILE,
    RULES_FILE,
    STATION_TYPES_FILE,
    TABLES,
    Column,
    CountyRow,
    Heading,
    Table,
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


@dataclass(frozen=True, kw_only=True)
class Tab:
    """One tab: the table it is read as, the value type of its rows, the tab that its rows belong to.

    `field` is the field of the parent's value that the rows fill. `file` is the file of the county
    folder that holds the rows. `ordered` says that the order of rows has a meaning.
    """

    name: str
    table: Table
    cells: tuple[Cell, ...]
    value_type: type[Value]
    file: str
    holds: str
    parent: str = ""
    field: str = ""
    flat: bool = True
    ordered: bool = False

    def index(self, name: str) -> int:
        """The place of a column; raises KeyError naming it."""
        for index, cell in enumerate(self.cells):
            if cell.name == name:
                return index
        raise KeyError(name)


class TabTable(Table):
    """A table that is called a tab where a fault names its place."""

    @property
    def file(self) -> str:
        """What a place calls it."""
        return place_of(self.name)


def place_of(tab: str) -> str:
    """How a notice names a tab."""
    return f"tab {tab}"


_ROOTS: tuple[tuple[str, type[Value], str, str], ...] = (
    ("county", CountyRow, COUNTY_FILE, N_("One row about the county and the election.")),
    (
        "rules",
        RuleSetting,
        RULES_FILE,
        N_("One row for each county rule; where value is blank, the default is used and marked as assumed."),
    ),
    (
        "station_types",
        StationType,
        STATION_TYPES_FILE,
        N_("One row for each kind of station; its parts, closures and lines are in the tabs that follow."),
    ),
    ("site_kinds", SiteKind, STATION_TYPES_FILE, N_("One row for each kind of site.")),
    (
        "assumptions",
        Assumption,
        ASSUMPTIONS_FILE,
        N_("What was assumed when the county was made; remove a row when the list it names is there."),
    ),
)
ROOTS = tuple(name for name, *_ in _ROOTS)
_BELONGS = N_("What the rows belong to; their order here is their order on the sheet.")
_OWNER_WORDS = N_("Id of the row in the tab {tab} that this row belongs to")


def singular(tab: str) -> str:
    """The heading of the column that names a row of `tab`."""
    return tab.removesuffix("s")


@functools.cache
def tabs() -> tuple[Tab, ...]:
    """Every tab in the order in which a workbook has them."""
    roots = [tab for name, kind, file, holds in _ROOTS for tab in _flat(name, kind, file, holds)]
    tables = [
        Tab(
            name=table.name,
            table=_as_tab_table(table),
            cells=tuple(_plain_cells(table)),
            value_type=table.row_type,
            file=table.file,
            holds=table.holds,
            flat=False,
        )
        for table in TABLES
    ]
    county, rest = roots[:1], roots[1:]
    found = (*county, *tables, *rest)
    names = [tab.name for tab in found]
    twice = {name for name in names if names.count(name) > 1}
    if twice:
        raise TypeError(f"tabs must have different names, got {sorted(twice)} twice")
    return found


@functools.cache
def tab_named(name: str) -> Tab:
    """The tab of this name; raises KeyError naming it."""
    for tab in tabs():
        if tab.name == name:
            return tab
    raise KeyError(name)


def children(name: str) -> tuple[Tab, ...]:
    """The tabs whose rows belong to rows of the tab `name`."""
    return tuple(tab for tab in tabs() if tab.parent == name)


def _as_tab_table(table: Table) -> Table:
    fields = {name: getattr(table, name) for name in Table.__dataclass_fields__}
    return TabTable(**fields)


def _plain_cells(table: Table) -> Iterator[Cell]:
    hints = type_hints(table.row_type)
    for column in table.columns:
        hint = hints[column.field]
        inner = without_none(hint)
        default = _default(table.row_type, column.field)
        yield Cell(
            column=column,
            path=(column.field,),
            hint=inner,
            optional=inner is not hint,
            empty=default,
            choices=("yes", "no") if column.kind is CellKind.YES_NO else (),
        )


def _default(value_type: type[Value], field: str) -> Any:
    for own in msgspec.structs.fields(value_type):
        if own.name == field:
            return None if own.required else own.default
    raise KeyError(field)


def _flat(name: str, kind: type[Value], file: str, holds: str) -> list[Tab]:
    """The tab of a value type and the tabs of the tuples of values inside it."""
    cells = list(_cells_of(kind, (), "", has_children="id" in kind.__struct_fields__))
    found = [_tab(name, kind, cells, file, holds)]
    if "id" not in kind.__struct_fields__:
        return found
    for field, item in _tuples_of(kind):
        if next(iter(_tuples_of(item)), None):
            raise TypeError(f"{kind.__name__}.{field}: values inside rows of rows have no tab yet")
        words = _OWNER_WORDS.replace("{tab}", name)
        owner = Cell(
            column=Column(
                field="owner",
                headings=(Heading(name=singular(name)),),
                kind=CellKind.ID,
                required=True,
                words=words,
            ),
            path=(),
            hint=str,
            optional=False,
        )
        inner = [owner, *_cells_of(item, (), singular(name))]
        found.append(_tab(field, item, inner, file, _BELONGS, parent=name, field=field))
    return found


def _tab(
    name: str,
    kind: type[Value],
    cells: list[Cell],
    file: str,
    holds: str,
    parent: str = "",
    field: str = "",
) -> Tab:
    made = msgspec.defstruct(
        f"{kind.__name__}Cells",
        [(cell.column.field, _cell_type(cell), None) for cell in cells],
        bases=(Value,),
        module=__name__,
        frozen=True,
        kw_only=True,
    )
    row_type = typing.cast("type[Value]", made)
    table = TabTable(name=name, row_type=row_type, columns=tuple(c.column for c in cells), holds=holds)
    return Tab(
        name=name,
        table=table,
        cells=tuple(cells),
        value_type=kind,
        file=file,
        holds=holds,
        parent=parent,
        field=field,
        ordered=bool(parent),
    )


def _cell_type(cell: Cell) -> Any:
    import datetime as dt

    return {
        CellKind.LIST: tuple[str, ...] | None,
        CellKind.DATE: dt.date | None,
        CellKind.YES_NO: bool | None,
        CellKind.TEXT: str | None,
        CellKind.ID: str | None,
    }.get(cell.column.kind, int | None)


def _tuples_of(kind: type[Value]) -> Iterator[tuple[str, type[Value]]]:
    hints = type_hints(kind)
    for field in kind.__struct_fields__:
        item = _item_of(hints[field])
        if isinstance(item, type) and issubclass(item, Value):
            yield field, item


def _item_of(hint: object) -> object:
    inner = without_none(hint)
    return typing.get_args(inner)[0] if typing.get_origin(inner) is tuple else None


def _cells_of(
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
            yield from _cells_of(inner, here, owner)
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
