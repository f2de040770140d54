"""Rows of tabs as text, the same text for the same value; `tab_reading` gives the facts back.

This is where a workbook and a county folder meet: both become rows, and rows are compared.
"""

from __future__ import annotations

import enum
import json
import re
from collections.abc import Iterable
from typing import Any

import msgspec

from pollstead.election.county import Assumption, Election
from pollstead.election.rules import BY_ID, ParameterType, RuleSetting
from pollstead.election.values import Value
from pollstead.intake.cells import CellKind, escape, write_cell
from pollstead.intake.csv_text import Row, Rows
from pollstead.intake.export import hours_rows
from pollstead.intake.records import Record
from pollstead.intake.tab_cells import Cell
from pollstead.intake.tables import EVERY_SITE, TABLES, CountyRow, HoursRow
from pollstead.intake.tabs import Tab, tabs
from pollstead.intake.taken import Taken

BLANK = "(blank)"
"""Written for an empty text where a blank cell would mean something else."""

_NONE = ";"
BLANKS = re.compile(r"\(+blank\)+")


class TabRows(Value, frozen=True, kw_only=True):
    """The rows of one tab, every cell as text; `absent` are the places of columns that were not there."""

    tab: str
    rows: tuple[tuple[str, ...], ...]
    absent: tuple[int, ...] = ()


def cell_text(cell: Cell, value: Any, flat: bool, rule: str = "") -> str:
    """The text of one value in its column; `read_tabs` gives the value back."""
    if value is None:
        return ""
    if cell.as_json:
        return json.dumps(msgspec.to_builtins(value), ensure_ascii=False) if value else ""
    if flat and value in ("", ()) and cell.empty not in (None, "", ()):
        return BLANK if value == "" else _NONE
    if cell.many:
        return "; ".join(str(item.value) for item in value)
    if isinstance(value, enum.Enum):
        return str(value.value)
    if rule:
        known = BY_ID.get(rule)
        if known is not None and known.type is ParameterType.SHARE and isinstance(value, int):
            return write_cell(CellKind.PERCENT, value)
        return escape(str(value))
    if value == EVERY_SITE:
        return EVERY_SITE
    if cell.column.kind is CellKind.TEXT:
        text = str(value)
        return f"({text})" if flat and BLANKS.fullmatch(text) else escape(text)
    return write_cell(cell.column.kind, value, cell.column.headings[0].unit)


def row_of(tab: Tab, value: Value, owner: str = "") -> tuple[str, ...]:
    """The cells of one row."""
    texts = []
    for cell in tab.cells:
        if not cell.path:
            texts.append(owner)
            continue
        held: Any = value
        for part in cell.path:
            held = getattr(held, part) if held is not None else None
        rule = value.rule if isinstance(value, RuleSetting) and cell.path == ("value",) else ""
        texts.append(cell_text(cell, held, tab.flat, rule))
    return tuple(texts)


def rows_of(taken: Taken, assumptions: tuple[Assumption, ...]) -> tuple[TabRows, ...]:
    """The rows of every tab, in the order of the files."""
    roots: dict[str, tuple[Value, ...]] = {
        "county": (taken.county,) if taken.county is not None else (),
        "rules": taken.settings,
        "station_types": taken.station_types,
        "site_kinds": taken.site_kinds,
        "assumptions": assumptions,
    }
    by_type: dict[type[Value], list[Value]] = {}
    for record in taken.records:
        by_type.setdefault(type(record.value), []).append(record.value)
    found = []
    for tab in tabs():
        if tab.parent:
            rows = tuple(
                row_of(tab, item, owner.id)  # type: ignore[attr-defined]
                for owner in roots[tab.parent]
                for item in getattr(owner, tab.field)
            )
        else:
            values = roots[tab.name] if tab.flat else tuple(by_type.get(tab.value_type, ()))
            rows = tuple(row_of(tab, value) for value in values)
        found.append(TabRows(tab=tab.name, rows=rows))
    return tuple(found)


def taken_of(election: Election) -> Taken:
    """A snapshot's facts as if they had been read from a folder."""
    records: list[Record] = []
    for table in TABLES:
        values: Iterable[Value] = (
            hours_rows(election.sites) if table.row_type is HoursRow else getattr(election, table.name)
        )
        records += [Record(row=number, value=value) for number, value in enumerate(values, 2)]
    return Taken(
        county=CountyRow(
            county=election.county,
            name=election.name,
            election_day=election.election_day,
            zone=election.zone_name,
            practice=election.practice,
            invented=election.invented,
        ),
        records=tuple(records),
        station_types=election.station_types,
        site_kinds=election.site_kinds,
        settings=election.rules.settings,
    )


def as_grids(rows: Iterable[TabRows]) -> dict[str, Rows]:
    """Rows as a reader takes them: a header and numbered rows."""
    grids = {}
    by_name = {tab.name: tab for tab in tabs()}
    for held in rows:
        header = tuple(cell.name for cell in by_name[held.tab].cells)
        numbered = tuple(Row(number=n, cells=cells) for n, cells in enumerate(held.rows, 2))
        grids[held.tab] = Rows(header=header, rows=numbered)
    return grids
