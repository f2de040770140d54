"""From the rows of tabs back to facts, with every fault: tab, row, column, found, wanted."""

from __future__ import annotations

import enum
import json
import re
import typing
from collections import Counter
from collections.abc import Mapping
from typing import Any

import msgspec

from pollstead.election.county import Assumption
from pollstead.election.instants import zone
from pollstead.election.notice import Notice, Place
from pollstead.election.rules import BY_ID, ParameterType, RuleSetting
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.cells import CellFault, CellKind, read_cell
from pollstead.intake.columns import fields_of
from pollstead.intake.csv_text import Rows
from pollstead.intake.notices import cannot_read
from pollstead.intake.records import Record, nearest, read_records
from pollstead.intake.tab_cells import SIGNED, Cell
from pollstead.intake.tab_rows import BLANK, BLANKS, TabRows, rows_of
from pollstead.intake.tables import CountyRow, type_hints, without_none
from pollstead.intake.tabs import Tab, children, place_of, tabs
from pollstead.intake.taken import Taken

_SIGNED = re.compile(r"-?[0-9]{1,9}")


class ReadFacts(Value, frozen=True, kw_only=True):
    """What was read from rows: the facts, their rows in one form, and every notice about them."""

    taken: Taken
    assumptions: tuple[Assumption, ...]
    rows: tuple[TabRows, ...]
    faults: tuple[Notice, ...]
    items: tuple[Notice, ...]


def read_tabs(grids: Mapping[str, Rows]) -> ReadFacts:
    """The facts in these tabs; a tab that is not there gives no rows. Every fault names tab, row, column."""
    reading = _Reading(grids)
    for tab in tabs():
        if tab.parent or tab.name not in grids:
            continue
        if tab.flat:
            reading.root(tab)
        else:
            reading.plain(tab)
    reading.orphans()
    values = reading.values
    county = next((v for _, v in values.get("county", []) if isinstance(v, CountyRow)), None)
    assumptions = tuple(v for _, v in values.get("assumptions", []) if isinstance(v, Assumption))
    taken = Taken(
        county=county,
        records=tuple(
            Record(row=row, value=value)
            for tab in tabs()
            if not tab.flat
            for row, value in values.get(tab.name, [])
        ),
        station_types=tuple(v for _, v in values.get("station_types", []) if isinstance(v, StationType)),
        site_kinds=tuple(v for _, v in values.get("site_kinds", []) if isinstance(v, SiteKind)),
        settings=tuple(v for _, v in values.get("rules", []) if isinstance(v, RuleSetting)),
    )
    rows = []
    for held in rows_of(taken, assumptions):
        if held.tab in reading.absent:
            rows.append(msgspec.structs.replace(held, absent=reading.absent.get(held.tab, ())))
    return ReadFacts(
        taken=taken,
        assumptions=assumptions,
        rows=tuple(rows),
        faults=tuple(reading.faults),
        items=tuple(reading.items),
    )


class _Reading:
    """Reads tabs one by one and collects faults."""

    def __init__(self, grids: Mapping[str, Rows]) -> None:
        self.grids = grids
        self.values: dict[str, list[tuple[int, Value]]] = {}
        self.faults: list[Notice] = []
        self.items: list[Notice] = []
        self.absent: dict[str, tuple[int, ...]] = {}
        self._owned: dict[str, list[tuple[int, str, Value]]] = {}

    def _records(self, tab: Tab) -> tuple[Record, ...]:
        rows = self.grids[tab.name]
        records, notices = read_records(tab.table, rows)
        present = set(rows.header)
        self.absent[tab.name] = tuple(
            i for i, cell in enumerate(tab.cells) if not present & {h.name for h in cell.column.headings}
        )
        if records is None:
            self.faults += notices
            return ()
        self.items += notices
        return records

    def plain(self, tab: Tab) -> None:
        """A tab that is a table of the county folder."""
        self.values[tab.name] = [(record.row, record.value) for record in self._records(tab)]

    def root(self, tab: Tab) -> None:
        """A tab made flat from values, with the tabs that belong to it."""
        inside: dict[tuple[str, str], list[Value]] = {}
        before = len(self.faults)
        for child in children(tab.name):
            owned = self._rows_of(child) if child.name in self.grids else []
            self._owned[child.name] = owned
            for _, owner, item in owned:
                inside.setdefault((child.field, owner), []).append(item)
        found: list[tuple[int, Value]] = []
        seen: Counter[str] = Counter()
        whole = len(self.faults) == before
        for row, given in self._cells(tab):
            name = str(given.get(("id",), given.get(("rule",), "")))
            seen[name] += 1
            if seen[name] > 1 and name:
                self._fault(tab, row, "id" if ("id",) in given else "rule", name, N_("each id once"))
                continue
            if not whole:
                continue  # A row that belongs here could not be read: whatever else is said would mislead.
            more = {child.field: tuple(inside.get((child.field, name), ())) for child in children(tab.name)}
            value: Value | None = self._build(tab, row, tab.value_type, (), given, more)
            if value is None or (isinstance(value, CountyRow) and not self._has_zone(tab, row, value)):
                continue
            found.append((row, value))
        if tab.name == "county" and len(found) != 1 and not self.faults:
            self._fault(tab, 2, "county", f"{len(found)} rows", N_("one row"))
        self.values[tab.name] = found

    def orphans(self) -> None:
        """Name every row that belongs to a row which is not there."""
        for tab in tabs():
            if not tab.parent or tab.name not in self._owned or tab.parent not in self.grids:
                continue
            ids = tuple(str(getattr(value, "id", "")) for _, value in self.values.get(tab.parent, ()))
            if any(fault.place and fault.place.file == place_of(tab.parent) for fault in self.faults):
                continue
            for row, owner, _ in self._owned[tab.name]:
                if owner not in ids:
                    wanted = nearest(owner, ids) or ", ".join(ids[:20])
                    self._fault(tab, row, tab.cells[0].name, owner, wanted)

    def _rows_of(self, tab: Tab) -> list[tuple[int, str, Value]]:
        owned = []
        for row, given in self._cells(tab):
            value = self._build(tab, row, tab.value_type, (), given, {})
            if value is not None:
                owned.append((row, str(given[()]), value))
        return owned

    def _cells(self, tab: Tab) -> list[tuple[int, dict[tuple[str, ...], Any]]]:
        """The cells that are filled, by path, for each row; a row with a fault is left out."""
        found = []
        for record in self._records(tab):
            given: dict[tuple[str, ...], Any] = {}
            before = len(self.faults)
            rule = str(getattr(record.value, "rule", "") or "") if tab.value_type is RuleSetting else ""
            if tab.value_type is RuleSetting and getattr(record.value, "value", None) is None:
                continue
            for cell in tab.cells:
                raw = getattr(record.value, cell.column.field)
                if raw is None:
                    continue
                try:
                    given[cell.path] = _value(cell, raw, rule if cell.path == ("value",) else "")
                except CellFault as fault:
                    self._fault(tab, record.row, cell.name, raw, fault.wanted)
            if len(self.faults) == before:
                found.append((record.row, given))
        return found

    def _build(
        self,
        tab: Tab,
        row: int,
        kind: type[Value],
        path: tuple[str, ...],
        given: Mapping[tuple[str, ...], Any],
        more: Mapping[str, tuple[Value, ...]],
    ) -> Value | None:
        hints = type_hints(kind)
        fields: dict[str, Any] = {}
        for field in fields_of(kind):
            here = (*path, field.name)
            inner = without_none(hints[field.name])
            if not path and field.name in more:
                fields[field.name] = more[field.name]
            elif isinstance(inner, type) and issubclass(inner, Value):
                if any(key[: len(here)] == here for key in given) or field.required:
                    value = self._build(tab, row, inner, here, given, {})
                    if value is None:
                        return None
                    fields[field.name] = value
            elif here in given:
                fields[field.name] = given[here]
            elif field.required and inner in (str, int | str):
                fields[field.name] = ""
            elif field.required:
                name = next(cell.name for cell in tab.cells if cell.path == here)
                self._fault(tab, row, name, N_("blank"), name)
                return None
        try:
            return kind(**fields)
        except ValueError as error:
            column = next((c.name for c in tab.cells if c.path == path), None)
            self._fault(tab, row, column, str(error), N_("values that fit one another"))
            return None

    def _has_zone(self, tab: Tab, row: int, value: CountyRow) -> bool:
        try:
            zone(value.zone)
        except (ValueError, OSError):
            self._fault(tab, row, "zone", value.zone, N_("a name such as America/New_York"))
            return False
        return True

    def _fault(self, tab: Tab, row: int, column: str | None, found: object, wanted: str) -> None:
        self.faults.append(
            cannot_read(
                "tab-cell",
                Place(file=place_of(tab.name), row=row, column=column),
                message(
                    N_("Tab {tab}, row {row}: {column} cannot be taken"),
                    tab=tab.name,
                    row=row,
                    column=column or tab.name,
                ),
                found=found,
                wanted=wanted,
                remedy=message(N_("Correct the cell.")),
            )
        )


def _value(cell: Cell, raw: Any, rule: str) -> Any:
    """The value of a cell that is not blank; raises `CellFault`."""
    if cell.as_json:
        try:
            return msgspec.convert(json.loads(raw), type=typing.cast(Any, cell.hint))
        except (ValueError, RecursionError, msgspec.ValidationError):
            raise CellFault(N_("the text that the program wrote")) from None
    if cell.many:
        parts = tuple(part.strip() for part in str(raw).split(";"))
        return tuple(_choice(cell, part) for part in parts if part)
    if cell.choices and cell.column.kind is CellKind.TEXT:
        return _choice(cell, str(raw))
    if cell.column.kind is CellKind.TEXT and cell.path[-1:] and cell.path[-1] in SIGNED:
        if not _SIGNED.fullmatch(str(raw)):
            raise CellFault(N_("a whole number"))
        return int(raw)
    if rule:
        known = BY_ID.get(rule)
        if known is None:
            raise CellFault(N_("the id of a rule in the column rule"))
        kind = {ParameterType.SHARE: CellKind.PERCENT, ParameterType.WHOLE: CellKind.WHOLE}.get(known.type)
        value = read_cell(kind, str(raw)) if kind is not None else str(raw)
        if known.choices and value not in known.choices:
            raise CellFault("one of " + ", ".join(known.choices))
        return value
    if cell.column.kind is CellKind.TEXT and BLANKS.fullmatch(str(raw)):
        return "" if raw == BLANK else str(raw)[1:-1]
    return raw


def _choice(cell: Cell, text: str) -> Any:
    if text not in cell.choices:
        raise CellFault(N_("one of ") + ", ".join(cell.choices))
    return typing.cast("type[enum.Enum]", cell.hint)(text)
