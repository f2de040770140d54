"""Write an election's facts as a county folder, so that reading it gives the same facts back."""

from __future__ import annotations

import csv
import datetime as dt
import io
import os
import secrets
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pollstead.election.county import Election, Site
from pollstead.election.rules import REGISTRY, ParameterType
from pollstead.election.values import Value
from pollstead.intake.cells import CellKind, write_cell
from pollstead.intake.tables import (
    ASSUMPTIONS_FILE,
    BY_NAME,
    COUNTY_FILE,
    EVERY_SITE,
    RULES_FILE,
    STATION_TYPES_FILE,
    TABLES,
    HoursRow,
    Table,
)
from pollstead.intake.toml_values import toml_lines, toml_text
from pollstead.intake.whole_files import new_folder, write_synced

_ALWAYS = ("sites",)


def write_folder(
    election: Election,
    path: str | os.PathLike[str],
    overwrite: bool = False,
    *,
    more_files: tuple[tuple[str, str], ...] = (),
) -> tuple[str, ...]:
    """Write the tables of `election` into the county folder `path` and return the names of the files.

    A new folder appears whole or not at all: it is written beside its place and renamed. With
    `overwrite` each table of an existing folder is replaced by a rename, tables that are now empty
    are removed, and what is no table stays. Raises FileExistsError where the folder holds something
    and `overwrite` is not given, and OSError where it cannot be written. `more_files` are names and
    texts to write beside the tables.
    """
    folder = Path(path)
    texts = dict(folder_texts(election)) | dict(more_files)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        if not overwrite or not folder.is_dir():
            raise FileExistsError(f"{folder} already holds something; give a new folder, or overwrite=True")
        _replace_tables(folder, texts)
    else:
        new_folder(folder, {name: text.encode("utf-8") for name, text in texts.items()})
    return tuple(texts)


def folder_texts(election: Election) -> tuple[tuple[str, str], ...]:
    """Names and texts of the files of a county folder; an empty table has no file."""
    rows: dict[str, Iterable[Value]] = {
        table.name: getattr(election, table.name) for table in TABLES if table.row_type is not HoursRow
    }
    rows["hours"] = hours_rows(election.sites)
    texts = [(COUNTY_FILE, _county(election))]
    texts += [
        (table.file, table_text(table, rows[table.name]))
        for table in TABLES
        if table.name in _ALWAYS or tuple(rows[table.name])
    ]
    arrays: tuple[tuple[str, tuple[tuple[str, tuple[Value, ...]], ...]], ...] = (
        (
            STATION_TYPES_FILE,
            (("station_type", election.station_types), ("site_kind", election.site_kinds)),
        ),
        (RULES_FILE, (("setting", election.rules.settings),)),
        (ASSUMPTIONS_FILE, (("assumption", election.assumptions),)),
    )
    for file, groups in arrays:
        lines = [
            "\n".join((*toml_lines(value, f"[[{key}]]"), "")) for key, values in groups for value in values
        ]
        if lines:
            texts.append((file, "\n".join(lines)))
        elif file == RULES_FILE:
            texts.append((file, blank_rules()))
    return tuple(texts)


def table_text(table: Table, rows: Iterable[Value]) -> str:
    """One table as CSV text: every column, rows in the order given."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([column.name for column in table.columns])
    for row in rows:
        writer.writerow([_cell(column.kind, getattr(row, column.field)) for column in table.columns])
    return stream.getvalue()


def _cell(kind: Any, value: Any) -> str:
    return EVERY_SITE if value == EVERY_SITE else write_cell(kind, value)


def hours_rows(sites: tuple[Site, ...]) -> tuple[HoursRow, ...]:
    """The hours as rows; what every site shares stands once, for ``*``."""
    shared = set(sites[0].hours) if len(sites) > 1 else set()
    for site in sites:
        shared &= set(site.hours)
    once: dict[dt.date, list[Any]] = {}
    for hours in shared:
        once.setdefault(hours.date, []).append(hours)
    common = {spans[0] for spans in once.values() if len(spans) == 1}
    rows = [(EVERY_SITE, hours) for hours in sorted(common, key=lambda h: h.date)]
    rows += [(site.id, hours) for site in sites for hours in site.hours if hours not in common]
    return tuple(
        HoursRow(site=site, date=h.date, opens_min=h.opens_min, closes_min=h.closes_min) for site, h in rows
    )


def _county(election: Election) -> str:
    lines = [
        f"county = {toml_text(election.county)}",
        f"name = {toml_text(election.name)}",
        f"election_day = {election.election_day.isoformat()}",
        f"zone = {toml_text(election.zone_name)}",
        f"practice = {str(election.practice).lower()}",
        f"invented = {str(election.invented).lower()}",
    ]
    return "\n".join((*lines, ""))


def blank_rules() -> str:
    """``rules.toml`` as it ships: every rule with its default and source, none of them set."""
    lines = [
        "# County rules. None is set: until your county sets and confirms one, the default is used and",
        "# marked as assumed. To set one, remove the # before its lines and fill in who confirmed it.",
    ]
    for rule in REGISTRY:
        shown = f"value = {toml_text(rule.default) if isinstance(rule.default, str) else rule.default}"
        kind, unit = rule.type.value, rule.unit
        if rule.type is ParameterType.SHARE and isinstance(rule.default, int):
            shown, kind, unit = f"percent = {write_cell(CellKind.PERCENT, rule.default)}", "percent", ""
        lines += [
            "",
            f"# {rule.words} ({kind}{', ' + unit if unit else ''}).",
            f"# Default from: {rule.citation}. Who decides: {rule.who_decides}.",
            "# [[setting]]",
            f'# rule = "{rule.id}"',
            f"# {shown}",
            '# level = "policy"',
            '# source = ""',
            '# confirmed_by = ""',
        ]
    return "\n".join((*lines, ""))


def _replace_tables(folder: Path, texts: dict[str, str]) -> None:
    """Write every new text beside its file first, then rename all of them."""
    mark = secrets.token_hex(4)
    written: list[tuple[Path, Path]] = []
    try:
        for name, text in texts.items():
            beside = folder / f".{name}.{mark}.new"
            written.append((beside, folder / name))
            write_synced(beside, text.encode("utf-8"))
        for beside, place in written:
            beside.replace(place)
        tables = [
            *(table.file for table in BY_NAME.values()),
            STATION_TYPES_FILE,
            RULES_FILE,
            ASSUMPTIONS_FILE,
        ]
        for name in tables:
            if name not in texts:
                (folder / name).unlink(missing_ok=True)
    finally:
        for beside, _ in written:
            beside.unlink(missing_ok=True)
