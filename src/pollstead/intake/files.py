"""Read the files of a county folder one by one; what cannot be read becomes a notice of that file."""

from __future__ import annotations

import errno
import functools
import os
import stat
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TypeVar

from pollstead.election.county import Assumption
from pollstead.election.instants import zone
from pollstead.election.notice import Notice, NoticeKind, Place
from pollstead.election.rules import BY_ID, ParameterType, RuleSetting
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.cells import CellFault, CellKind, read_cell
from pollstead.intake.csv_text import MOST_BYTES, decode, parse, too_large
from pollstead.intake.notices import cannot_read, open_item
from pollstead.intake.records import Record, nearest, read_records
from pollstead.intake.tables import (
    ASSUMPTIONS_FILE,
    COUNTY_FILE,
    MAPPING_FILE,
    NOT_FACTS,
    RULES_FILE,
    STATION_TYPES_FILE,
    TABLES,
    TOML_FILES,
    CountyRow,
    Table,
)
from pollstead.intake.taken import Taken
from pollstead.intake.toml_values import Reader, parse_toml

MOST_FAULTS_OF_A_FILE = 100
_SUFFIXES = (".csv", ".toml", ".xlsx", ".xls", ".ods", ".txt")

T = TypeVar("T", bound=Value)


class FolderReader:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.notices: list[Notice] = []
        self.taken_files: list[str] = []
        self.present: list[str] = []
        self._empty: set[str] = set()
        self.assumptions: tuple[Assumption, ...] = ()

    def all(self) -> Taken:
        """Every table that can be read."""
        names = self._names()
        records: list[Record] = []
        for table in TABLES:
            records += self._table(table, names)
        county = self._county(names)
        station_types, site_kinds = self._station_types(names)
        settings = self._array(names, RULES_FILE, "setting", RuleSetting, _shares_in_percent)
        self.assumptions = self._array(names, ASSUMPTIONS_FILE, "assumption", Assumption)
        return Taken(
            county=county,
            records=tuple(records),
            station_types=station_types,
            site_kinds=site_kinds,
            settings=settings,
            different=self._different(names),
            files=tuple(name for name in self.present if name not in self._empty),
            unread=tuple(name for name in self.present if name not in self.taken_files),
        )

    def _names(self) -> set[str]:
        try:
            names = {entry.name for entry in os.scandir(self.folder)}
        except OSError as error:
            self.notices.append(self._not_opened(self.folder.name, error))
            return set()
        known = (*(table.file for table in TABLES), *TOML_FILES, *NOT_FACTS)
        for name in sorted(names - set(known)):
            if name.startswith((".", "~")) or not name.lower().endswith(_SUFFIXES):
                continue
            likely = nearest(name.lower(), known)
            remedy = (
                message(N_("Rename it to {file} if that is meant."), file=likely)
                if likely and likely not in names
                else message(N_("Leave it, or move it out of the folder; it is not read."))
            )
            self.notices.append(
                open_item(
                    "unknown-file",
                    f"file/{name}",
                    message(N_("{file} is no table of a county folder and was not read"), file=name),
                    place=Place(file=name),
                    found=name,
                    wanted=likely,
                    remedy=remedy,
                )
            )
        return names

    def _bytes(self, names: set[str], file: str, required: bool) -> bytes | None:
        if file not in names:
            if required:
                self.notices.append(
                    cannot_read(
                        "file-missing",
                        Place(file=file),
                        message(N_("{file} is not there"), file=file),
                        found="not there",
                        wanted=file,
                        remedy=message(N_("Add the file; every county folder needs it.")),
                    )
                )
            return None
        self.present.append(file)
        path = self.folder / file
        try:
            held = path.stat()
            if not stat.S_ISREG(held.st_mode):
                raise IsADirectoryError(errno.EISDIR, "not a file")
            if held.st_size > MOST_BYTES:
                self.notices.append(too_large(file, held.st_size))
                return None
            return path.read_bytes()
        except OSError as error:
            self.notices.append(self._not_opened(file, error))
            return None

    def _not_opened(self, file: str, error: OSError) -> Notice:
        return cannot_read(
            "file-not-opened",
            Place(file=file),
            message(N_("{file} cannot be opened"), file=file),
            found=error.strerror or "not opened",
            wanted="a file that can be read",
            remedy=message(N_("Close the program that holds the file, or look at its permissions.")),
        )

    def _table(self, table: Table, names: set[str]) -> tuple[Record, ...]:
        data = self._bytes(names, table.file, table.required)
        if data is None:
            return ()
        text, notices = decode(table.file, data)
        records = None
        if text is not None:
            rows, more = parse(table.file, text)
            notices += more
            if rows is not None:
                records, more = read_records(table, rows)
                notices += more
                if table.required and records == ():
                    records = None
                    notices.append(_no_rows(table))
        self.notices += _first_of(table.file, notices)
        if records is None:
            return ()
        self.taken_files.append(table.file)
        if not records:
            self._empty.add(table.file)
        return records

    def _tables_of(
        self, names: set[str], file: str, keys: tuple[str, ...], required: bool = False
    ) -> dict[str, Any] | None:
        """The top of a TOML file, after naming every key that does not belong there."""
        data = self._bytes(names, file, required)
        if data is None:
            return None
        top, faults = _toml_tables(file, data, keys)
        self.notices += faults
        return top

    def _county(self, names: set[str]) -> CountyRow | None:
        keys = CountyRow.__struct_fields__
        top = self._tables_of(names, COUNTY_FILE, keys, required=True)
        if top is None:
            return None
        reader = Reader(COUNTY_FILE)
        row = reader.value(CountyRow, top, "county")
        if isinstance(row, CountyRow):
            try:
                zone(row.zone)
            except (ValueError, OSError):
                reader.faults.append(
                    cannot_read(
                        "zone",
                        Place(file=COUNTY_FILE, column="zone"),
                        message(N_("{zone} is not the name of a time zone"), zone=row.zone),
                        found=row.zone,
                        wanted="a name such as America/New_York",
                        remedy=message(N_("Use the name in the IANA time zone database.")),
                    )
                )
        self.notices += reader.faults
        if reader.faults or not isinstance(row, CountyRow):
            return None
        self.taken_files.append(COUNTY_FILE)
        return row

    def _station_types(self, names: set[str]) -> tuple[tuple[StationType, ...], tuple[SiteKind, ...]]:
        data = self._bytes(names, STATION_TYPES_FILE, False)
        if data is None:
            return (), ()
        types, kinds, faults = read_station_types(data)
        self.notices += faults
        if faults:
            return (), ()
        self.taken_files.append(STATION_TYPES_FILE)
        return types, kinds

    def _array(
        self,
        names: set[str],
        file: str,
        key: str,
        row_type: type[T],
        change: Callable[[Any], Any] = lambda tables: tables,
    ) -> tuple[T, ...]:
        top = self._tables_of(names, file, (key,))
        if top is None:
            return ()
        reader = Reader(file)
        rows = only(row_type, reader.values(row_type, change(top.get(key, [])), key))
        self.notices += _first_of(file, reader.faults)
        if reader.faults:
            return ()
        self.taken_files.append(file)
        if not rows:
            self._empty.add(file)
        return rows

    def _different(self, names: set[str]) -> tuple[tuple[str, str], ...]:
        """Pairs of sites that a person has called different buildings; the rest of the file is a record."""
        if MAPPING_FILE not in names:
            return ()
        data = self._bytes(names, MAPPING_FILE, False)
        top, faults = parse_toml(MAPPING_FILE, data) if data is not None else (None, [])
        self.notices += faults
        pairs = (top or {}).get("different", [])
        if not isinstance(pairs, list):
            return ()
        return tuple(
            (pair["a"], pair["b"])
            for pair in pairs
            if isinstance(pair, dict) and isinstance(pair.get("a"), str) and isinstance(pair.get("b"), str)
        )


def _toml_tables(file: str, data: bytes, keys: tuple[str, ...]) -> tuple[dict[str, Any] | None, list[Notice]]:
    """The top of a TOML file, or None and the faults, a key that does not belong there among them."""
    top, faults = parse_toml(file, data)
    for key in top or {}:
        if key not in keys:
            faults.append(
                cannot_read(
                    "toml-key",
                    Place(file=file, column=key),
                    message(N_("{file} has no table or field {key}"), file=file, key=key),
                    found=key,
                    wanted=nearest(key, keys) or ", ".join(keys),
                    remedy=message(N_("Correct the name or remove it.")),
                )
            )
    return (None if faults else top), faults


@functools.lru_cache(maxsize=16)
def read_station_types(
    data: bytes,
) -> tuple[tuple[StationType, ...], tuple[SiteKind, ...], tuple[Notice, ...]]:
    """Station types, kinds of site and faults of the bytes of ``station_types.toml``.

    Kept for bytes that were read before: the file is long, seldom changes, and the values are frozen.
    """
    top, faults = _toml_tables(STATION_TYPES_FILE, data, ("station_type", "site_kind"))
    if top is None:
        return (), (), tuple(faults)
    reader = Reader(STATION_TYPES_FILE)
    types = only(StationType, reader.values(StationType, top.get("station_type", []), "station_type"))
    kinds = only(SiteKind, reader.values(SiteKind, top.get("site_kind", []), "site_kind"))
    if reader.faults:
        return (), (), tuple(_first_of(STATION_TYPES_FILE, reader.faults))
    return types, kinds, ()


def _shares_in_percent(tables: Any) -> Any:
    """Settings with ``percent = 5`` as ``value = 50000``, for rules whose value is a share.

    What does not fit stays as it is, so that the reader names it.
    """
    if not isinstance(tables, list):
        return tables
    changed = []
    for table in tables:
        if isinstance(table, dict) and "percent" in table and "value" not in table:
            rule = BY_ID.get(table["rule"]) if isinstance(table.get("rule"), str) else None
            if rule is not None and rule.type is ParameterType.SHARE:
                try:
                    value = read_cell(CellKind.PERCENT, str(table["percent"]))
                except CellFault:
                    value = None
                if value is not None:
                    table = {k: v for k, v in table.items() if k != "percent"} | {"value": value}
        changed.append(table)
    return changed


def only(row_type: type[T], values: Iterable[Value]) -> tuple[T, ...]:
    return tuple(value for value in values if isinstance(value, row_type))


def _no_rows(table: Table) -> Notice:
    return cannot_read(
        "no-rows",
        Place(file=table.file, row=2),
        message(N_("{file} has no rows"), file=table.file),
        found="no rows",
        wanted="at least one row",
        remedy=message(N_("Add a row for each site.")),
    )


def _first_of(file: str, notices: list[Notice]) -> list[Notice]:
    """At most `MOST_FAULTS_OF_A_FILE` notices of one file, and how many more there are."""
    if len(notices) <= MOST_FAULTS_OF_A_FILE:
        return notices
    faults_first = sorted(notices, key=lambda n: n.kind is not NoticeKind.FAULT)
    left = len(notices) - MOST_FAULTS_OF_A_FILE
    kept = faults_first[:MOST_FAULTS_OF_A_FILE]
    kept.append(
        open_item(
            "and-more",
            f"file/{file}",
            message(N_("{file} has {count} more notices like these"), file=file, count=left),
            place=Place(file=file),
            found=left,
            remedy=message(N_("Correct those shown and check again.")),
        )
    )
    return kept
