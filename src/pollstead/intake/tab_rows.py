"""Rows of tabs as text, the same text for the same value: from facts to rows, and back with every fault.

This is where a workbook and a county folder meet: both become rows, and rows are compared.
"""

from __future__ import annotations

import enum
import json
import re
import typing
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

import msgspec

from pollstead.election.county import Assumption, Election
from pollstead.election.instants import zone
from pollstead.election.notice import Notice, Place
from pollstead.election.rules import BY_ID, ParameterType, RuleSetting
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.cells import CellFault, CellKind, escape, read_cell, write_cell
from pollstead.intake.csv_text import Row, Rows
from pollstead.intake.export import hours_rows
from pollstead.intake.notices import cannot_read
from pollstead.intake.records import Record, nearest, read_records
from pollstead.intake.tables import EVERY_SITE, TABLES, CountyRow, HoursRow, type_hints, without_none
from pollstead.intake.tabs import SIGNED, Cell, Tab, children, place_of, tabs
from pollstead.intake.taken import Taken

BLANK = "(blank)"
"""Written for an empty text where a blank cell would mean something else."""

_NONE = ";"
_BLANKS = re.compile(r"\(+blank\)+")
_SIGNED = re.compile(r"-?[0-9]{1,9}")


class TabRows(Value, frozen=True, kw_only=True):
    """The rows of one tab, every cell as text; `absent` are the places of columns that were not there."""

    tab: str
    rows: tuple[tuple[str, ...], ...]
    absent: tuple[int, ...] = ()


class ReadFacts(Value, frozen=True, kw_only=True):
    """What was read from rows: the facts, their rows in one form, and every notice about them."""

    taken: Taken
    assumptions: tuple[Assumption, ...]
    rows: tuple[TabRows, ...]
    faults: tuple[Notice, ...]
    items: tuple[Notice, ...]


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
        return f"({text})" if flat and _BLANKS.fullmatch(text) else escape(text)
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
        for field in msgspec.structs.fields(kind):
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
    if cell.column.kind is CellKind.TEXT and _BLANKS.fullmatch(str(raw)):
        return "" if raw == BLANK else str(raw)[1:-1]
    return raw


def _choice(cell: Cell, text: str) -> Any:
    if text not in cell.choices:
        raise CellFault(N_("one of ") + ", ".join(cell.choices))
    return typing.cast("type[enum.Enum]", cell.hint)(text)
