"""Write the files of a copy: the store in one state, the tables, the page of facts, the list of files."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from pollstead.election.words import N_, Message, message
from pollstead.record.tree import Head, head_of
from pollstead.store.copy_list import (
    COUNTY,
    FACTS_NAME,
    LIST_NAME,
    README_NAME,
    CopyFacts,
    ListedFile,
    Occasion,
    digest_of_file,
    inside,
    list_bytes,
)
from pollstead.store.copy_state import state_digest
from pollstead.store.database import DATABASE_NAME
from pollstead.store.desk import OFFICE_KEY
from pollstead.store.keyring import KEYS_FOLDER, Keyring
from pollstead.store.opening import Store
from pollstead.store.refusal import refusal

PACKETS: Final = "packets"
_README: Final = """\
A copy of the county folder "{folder}", made {made} UTC by Pollstead. Unofficial, staff use.

Do not work in here: a copy that was changed is refused when it is needed. To work from it on any
computer with the program:

    pollstead restore THIS_FOLDER NEW_FOLDER

It holds names, telephone numbers and seal numbers: keep it where you keep the seals. Tables as they
were before late changes (earlier-tables) are among them.
{key}
files.sha256 lists every file; "sha256sum --check files.sha256" compares them without the program.
"""
_WITH_KEY: Final = """\
It holds the PRIVATE KEY OF THE OFFICE: whoever has it can admit a computer in the office's name.
"""


def county_files(folder: Path, *, packets: bool) -> tuple[tuple[Path, ...], tuple[Message, ...]]:
    """The files of a county folder that a copy takes, and a remark for each that it leaves out.

    Not the store (copied apart), the keys, hidden files, a spreadsheet's own lock files, or what
    was printed unless `packets`. A link is left out with a remark: it may lead anywhere.
    """
    taken: list[Path] = []
    remarks: list[Message] = []
    for path in sorted(folder.rglob("*")):
        parts = path.relative_to(folder).parts
        skipped = parts[0] == KEYS_FOLDER or (parts[0] == PACKETS and not packets)
        own = len(parts) == 1 and parts[0].startswith(DATABASE_NAME)
        if skipped or own or any(part.startswith((".", "~$")) for part in parts):
            continue
        if path.is_symlink():
            remarks.append(message(N_("{file} is a link and was left out."), file=str(path)))
        elif path.is_file():
            try:
                inside("/".join(parts))
            except ValueError:
                remarks.append(message(N_("{file} has a name that cannot be copied."), file=str(path)))
            else:
                taken.append(path)
    return tuple(taken), tuple(remarks)


def write_copy(
    store: Store,
    folder: Path,
    making: Path,
    source: str,
    utc_ms: int,
    *,
    packets: bool,
    with_keys: bool,
    occasion: Occasion,
) -> tuple[CopyFacts, tuple[ListedFile, ...], tuple[Message, ...]]:
    """Write the whole copy under its hidden name; its facts, its files, and what to know about it."""
    tables, remarks = county_files(folder, packets=packets)
    _check_space(making.parent, folder, tables)
    county = making / COUNTY
    making.mkdir(mode=0o700)
    county.mkdir(mode=0o700)
    # Asked before anything is copied: a change from here on makes the next copy necessary.
    state = state_digest(store, county_files(folder, packets=False)[0])
    head = _copy_database(store, county / DATABASE_NAME)
    unsteady = []
    for path in tables:
        name = path.relative_to(folder).as_posix()
        target = county / name
        target.parent.mkdir(parents=True, exist_ok=True)
        if not _copy_steady(path, target):
            unsteady.append(name)
    if with_keys:
        _copy_office_key(folder, county)
    header = store.header()
    facts = CopyFacts(
        source=source,
        occasion=occasion,
        made_utc_ms=utc_ms,
        record="" if header is None else header.record_id,
        county="" if header is None else header.county,
        election="" if header is None else header.election,
        practice=header is not None and header.practice,
        head=head,
        packets=packets,
        office_key=with_keys,
        state=state,
        unsteady=tuple(unsteady),
    )
    _put(making / FACTS_NAME, facts.to_bytes())
    said = _README.format(
        folder=folder.resolve().name, made=at(utc_ms, "%Y-%m-%d %H:%M"), key=_WITH_KEY if with_keys else ""
    )
    _put(making / README_NAME, said.encode("utf-8"))
    written = sorted(path for path in making.rglob("*") if path.is_file())
    files = tuple(
        ListedFile(path=path.relative_to(making).as_posix(), sha256=digest_of_file(path)) for path in written
    )
    _put(making / LIST_NAME, list_bytes(files))
    for where in sorted({path.parent for path in written}):
        sync_folder(where)
    remarks += tuple(
        message(N_("{file} was being changed while it was copied; copy again when it is saved."), file=name)
        for name in unsteady
    )
    return facts, files, remarks


def _copy_database(store: Store, target: Path) -> Head:
    """One state of the store in one file that needs nothing beside it; the head of the events in it."""
    store.database.copy_to(target)
    connection = sqlite3.connect(target)
    try:
        connection.execute("PRAGMA journal_mode=DELETE")
        ids = [str(row[0]) for row in connection.execute("SELECT id FROM events ORDER BY seq")]
    finally:
        connection.close()
    sync_file(target)
    return head_of(ids)


def _copy_steady(path: Path, target: Path) -> bool:
    """Copy a file; False when it was being changed each of three times."""
    for _ in range(3):
        before = path.stat()
        with path.open("rb") as source, target.open("wb") as out:
            shutil.copyfileobj(source, out)
            out.flush()
            os.fsync(out.fileno())
        after = path.stat()
        if (before.st_size, before.st_mtime_ns) == (after.st_size, after.st_mtime_ns):
            return True
    return False


def _copy_office_key(folder: Path, county: Path) -> None:
    """The office's key alone. A computer's own key never travels: two holders would fork its counter."""
    if not Keyring(folder).copy_to(Keyring(county), OFFICE_KEY):
        raise refusal(
            N_("The key of the office is not in {folder}, so it cannot go along. Leave out --with-keys."),
            folder=str(Keyring(folder).folder),
        )


def _check_space(to: Path, folder: Path, tables: tuple[Path, ...]) -> None:
    size = sum(path.stat().st_size for path in (*tables, *folder.glob(f"{DATABASE_NAME}*")))
    # A tenth and a megabyte more: folders, lists and the journal of the copied database.
    needed, free = size + size // 10 + 1_000_000, shutil.disk_usage(to).free
    if free < needed:
        raise refusal(
            N_(
                "{to} is full: a copy needs {needed} kB, {free} kB are free. The earlier copies are as they "
                "were. Use a larger stick, or move old copies away."
            ),
            to=str(to),
            needed=needed // 1000,
            free=free // 1000,
        )


def _put(path: Path, data: bytes) -> None:
    path.write_bytes(data)
    sync_file(path)


def sync_file(path: Path) -> None:
    with path.open("rb+") as stream:
        os.fsync(stream.fileno())


def sync_folder(path: Path) -> None:
    if os.name == "posix":
        handle = os.open(path, os.O_RDONLY)
        try:
            with contextlib.suppress(OSError):  # some sticks' file systems cannot
                os.fsync(handle)
        finally:
            os.close(handle)


def at(utc_ms: int, form: str) -> str:
    return datetime.fromtimestamp(utc_ms // 1000, tz=UTC).strftime(form)
