"""The tables of a county folder as they were before an import, kept with their date, and brought back.

A copy is whole before the first table is replaced; while tables are being replaced a mark stands in
it, so that a stop halfway is seen and undone.
"""

from __future__ import annotations

import datetime as dt
import json
import re
import secrets
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import msgspec

from pollstead.election.values import Value
from pollstead.intake.tables import TABLES, TOML_FILES
from pollstead.intake.whole_files import sync_folder, write_synced

EARLIER = "earlier-tables"
"""The folder inside a county folder that holds the copies."""

KEEP_COPIES = 20
KEEP_DAYS = 30
"""Copies beyond the last `KEEP_COPIES` are deleted once they are older than so many days."""

_ABOUT = "about.json"
_UNFINISHED = "unfinished"
_NAME = re.compile(r"[0-9]{8}T[0-9]{6}Z(-[0-9]+)?")
FORMAT = "pollstead kept tables 1"


class KeptTables(Value, frozen=True, kw_only=True):
    """One copy: its name (when it was made), why, and the digests of the facts before and after.

    `event` is the id of the change of facts that the copy was made for, "" where there was none.
    """

    name: str
    why: str
    before: str
    after: str
    files: tuple[str, ...]
    event: str = ""
    unfinished: bool = False


def unfinished(folder: Path) -> KeptTables | None:
    """The copy of a change of the tables that stopped halfway, or None."""
    return next((copy for copy in kept(folder) if copy.unfinished), None)


def table_files(folder: Path) -> tuple[str, ...]:
    """The names of the table files that are there."""
    names = (*(table.file for table in TABLES), *TOML_FILES)
    return tuple(name for name in names if (folder / name).is_file())


def kept(folder: Path) -> tuple[KeptTables, ...]:
    """Every copy, the newest first; what is no copy of ours is passed over."""
    top = folder / EARLIER
    if not top.is_dir():
        return ()
    found = []
    for place in top.iterdir():
        if not _NAME.fullmatch(place.name) or not (place / _ABOUT).is_file():
            continue
        about = json.loads((place / _ABOUT).read_text(encoding="utf-8"))
        found.append(
            KeptTables(
                name=place.name,
                why=str(about["why"]),
                before=str(about["before"]),
                after=str(about["after"]),
                files=tuple(map(str, about["files"])),
                event=str(about.get("event", "")),
                unfinished=(place / _UNFINISHED).exists(),
            )
        )
    return tuple(sorted(found, key=lambda copy: _sort_key(copy.name), reverse=True))


def _sort_key(name: str) -> tuple[str, int]:
    stamp, _, number = name.partition("-")
    return stamp, int(number or 1)


def replace_tables(
    folder: Path,
    files: Mapping[str, bytes | None],
    *,
    stamp: str,
    why: str,
    before: str,
    after: str,
    event: str = "",
) -> KeptTables:
    """Replace these files (None removes one) after keeping all tables as they are, and name the copy.

    Everything is written beside its place and then renamed. Where a rename fails, what was replaced
    is put back and OSError is raised. `stamp` is the time as ``20261125T001700Z``.
    """
    copy = _keep(folder, KeptTables(name=stamp, why=why, before=before, after=after, files=(), event=event))
    place = folder / EARLIER / copy.name
    mark = secrets.token_hex(4)
    beside = {name: folder / f".{name}.{mark}.new" for name, data in files.items() if data is not None}
    done: list[str] = []
    (place / _UNFINISHED).touch()
    try:
        for name, path in beside.items():
            write_synced(path, files[name] or b"")
        for name in files:
            if name in beside:
                beside[name].replace(folder / name)
            else:
                (folder / name).unlink(missing_ok=True)
            done.append(name)
        sync_folder(folder)
    except OSError:
        for name in done:
            _put_back(folder, place, name)
        shutil.rmtree(place)
        raise
    finally:
        for path in beside.values():
            path.unlink(missing_ok=True)
    (place / _UNFINISHED).unlink()
    return copy


def bring_back(folder: Path, copy: KeptTables, *, stamp: str, current: str) -> KeptTables | None:
    """Make the tables those of `copy`; the present ones are kept in a new copy, which is given back.

    Where `copy` was left unfinished, the mixed tables are not kept, and None is given back.
    """
    place = folder / EARLIER / copy.name
    files: dict[str, bytes | None] = dict.fromkeys(table_files(folder))
    files |= {name: (place / name).read_bytes() for name in copy.files}
    if not copy.unfinished:
        return replace_tables(
            folder, files, stamp=stamp, why=f"undo of {copy.name}", before=current, after=copy.before
        )
    for name in files:
        _put_back(folder, place, name)
    sync_folder(folder)
    (place / _UNFINISHED).unlink()
    return None


def prune(
    folder: Path, now_utc_ms: int, *, keep: int = KEEP_COPIES, days: int = KEEP_DAYS
) -> tuple[str, ...]:
    """Delete copies beyond the last `keep` that are older than `days` days; their names.

    A copy holds every table, names and phones among them. The record keeps each change with its cells.
    """
    first = dt.datetime.fromtimestamp(now_utc_ms / 1000, dt.UTC) - dt.timedelta(days=days)
    oldest = first.strftime("%Y%m%dT%H%M%SZ")
    gone = [copy for copy in kept(folder)[keep:] if copy.name[:16] < oldest and not copy.unfinished]
    for copy in gone:
        shutil.rmtree(folder / EARLIER / copy.name)
    return tuple(copy.name for copy in gone)


def _keep(folder: Path, wanted: KeptTables) -> KeptTables:
    """Copy every table that is there; the name of the copy gets a number where it is taken."""
    top = folder / EARLIER
    top.mkdir(exist_ok=True)
    name, number = wanted.name, 1
    while (top / name).exists():
        number += 1
        name = f"{wanted.name}-{number}"
    names = table_files(folder)
    copy = msgspec.structs.replace(wanted, name=name, files=names)
    beside = top / f".{name}.new"
    shutil.rmtree(beside, ignore_errors=True)
    beside.mkdir()
    try:
        for own in names:
            write_synced(beside / own, (folder / own).read_bytes())
        about: dict[str, Any] = {
            "format": FORMAT,
            "why": copy.why,
            "before": copy.before,
            "after": copy.after,
        }
        about |= {"files": list(names), "event": copy.event}
        write_synced(beside / _ABOUT, json.dumps(about, ensure_ascii=False, indent=2).encode("utf-8"))
        beside.rename(top / name)
    finally:
        if beside.exists():
            shutil.rmtree(beside)
    return copy


def _put_back(folder: Path, place: Path, name: str) -> None:
    kept_file = place / name
    if kept_file.exists():
        beside = folder / f".{name}.back"
        write_synced(beside, kept_file.read_bytes())
        beside.replace(folder / name)
    else:
        (folder / name).unlink(missing_ok=True)
