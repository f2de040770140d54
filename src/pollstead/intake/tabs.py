"""The tabs of a workbook: every table of a county, the TOML files among them, as flat columns.

A tab for each table of `tables`; county, rules, station types, kinds of site and assumptions are made
flat from their value types: a value inside a value becomes columns (``service_mean_s``), a tuple of
values becomes a tab of its own whose first column names the row it belongs to.
"""

from __future__ import annotations

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
from pollstead.intake.tab_cells import Cell, cell_type, cells_of, tuples_of
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
    type_hints,
    without_none,
)


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
    cells = list(cells_of(kind, (), "", has_children="id" in kind.__struct_fields__))
    found = [_tab(name, kind, cells, file, holds)]
    if "id" not in kind.__struct_fields__:
        return found
    for field, item in tuples_of(kind):
        if next(iter(tuples_of(item)), None):
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
        inner = [owner, *cells_of(item, (), singular(name))]
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
        [(cell.column.field, cell_type(cell), None) for cell in cells],
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
