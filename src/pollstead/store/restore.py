"""Make a county folder from a copy, on any computer, under a new device of its own.

The restored folder never writes as the device that made the copy: that one may still be writing
somewhere, and two holders of one key would give one counter twice. `pollstead.store.certifying`
gives it a key, an id and a certificate of its own; both records can be merged later without a fork.
"""

from __future__ import annotations

import os
import secrets
import shutil
import sqlite3
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.record.problem import Trouble
from pollstead.store.copy_database import database_troubles
from pollstead.store.copy_list import (
    COUNTY,
    FACTS_NAME,
    LIST_NAME,
    Copy,
    CopyFacts,
    ListedFile,
    check_copy,
    copies_in,
    file_troubles,
    read_copy,
)
from pollstead.store.copy_lock import held_or_left
from pollstead.store.copy_state import RestoredFrom, note_restored
from pollstead.store.database import DATABASE_NAME
from pollstead.store.desk import DEVICE_KEY, OFFICE_KEY
from pollstead.store.exchange import check_store
from pollstead.store.folders import Computer, refuse_shared
from pollstead.store.jobs import ENDED, JobState
from pollstead.store.keyring import Keyring
from pollstead.store.opening import open_store
from pollstead.store.refusal import Refusal, refusal
from pollstead.store.schema import events, jobs, settings

_MAKING: Final = ".restoring-"
_LOCK: Final = ".lock"
_STOPPED: Final = N_("It had not ended when the folder was copied.")


class Restored(Value, frozen=True, kw_only=True):
    """A folder made from a copy.

    `devices` are the devices of the record with the last counter of each in the copy: what they
    entered afterwards is not here. `troubles` are what the record check names, in the copy as in
    the store that was copied. `office_key`: whether the private key of the office came along.
    `signs`: why the folder seems to be shared or synchronized, where it was made anyway.
    """

    copy_path: str
    facts: CopyFacts
    files: int
    devices: tuple[tuple[str, int], ...]
    troubles: tuple[Trouble, ...]
    office_key: bool
    signs: tuple[Message, ...]


def choose_copy(source: Path) -> Path:
    """The copy that `source` is, or the newest one in it.

    Raises `Refusal` where there is none, or copies of several folders to choose from.
    """
    if (source / LIST_NAME).exists() or (source / FACTS_NAME).exists():
        return source
    if not source.is_dir():
        raise refusal(N_("{source} is not there. Put the stick in, or look at the path."), source=str(source))
    found = copies_in(source)
    if not found:
        raise refusal(
            N_("{source} holds no copy of a county folder. Look for folders that begin with copy-."),
            source=str(source),
        )
    if len({copy.facts.source for copy in found}) > 1:
        raise Refusal(
            message(N_("{source} holds copies of several folders. Name one of them:"), source=str(source)),
            tuple(_line(source, copy) for copy in found),
        )
    return source / found[0].name


def restore_copy(source: Path, folder: Path, *, utc_ms: int, around: Computer | None = None) -> Restored:
    """Make `folder`, which must be new or empty, from a copy or from the newest copy in `source`.

    Every file is compared with its SHA-256 after it was written here, and the head with the events.
    Raises `Refusal` naming what does not match; then nothing was made. Certificates are made by
    `pollstead.store.certifying.certify_restored`.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise refusal(
            N_("{folder} is there already and nothing in it is replaced. Give a new folder."),
            folder=str(folder),
        )
    parent = folder.resolve().parent
    if not parent.is_dir():
        raise refusal(
            N_("{parent} is not there, so {folder} cannot be made in it."),
            parent=str(parent),
            folder=str(folder),
        )
    signs = refuse_shared(folder, around)
    chosen = choose_copy(source)
    try:
        copy = read_copy(chosen)
    except Refusal as error:
        raise _with_others(error, source, chosen) from error
    making = parent / f"{_MAKING}{secrets.token_hex(4)}"
    try:
        _sweep(parent)
        making.mkdir(mode=0o700)
        with held_or_left(making / _LOCK):
            _bring(chosen, copy, making)
            restored = _settle(making / COUNTY, copy, utc_ms, chosen, signs)
            if folder.exists():
                folder.rmdir()
            (making / COUNTY).rename(folder)
    except Refusal as error:
        raise _with_others(error, source, chosen) from error
    except (OSError, sqlite3.Error, sa.exc.DBAPIError) as error:
        raise refusal(
            N_("{folder} was not made: {why}."),
            folder=str(folder),
            why=(error.strerror if isinstance(error, OSError) else None) or str(error),
        ) from error
    finally:
        shutil.rmtree(making, ignore_errors=True)
    return restored


def _sweep(parent: Path) -> None:
    """Remove what a restore left that was ended half way; it may hold names. One at work is left alone."""
    for left in parent.glob(f"{_MAKING}*"):
        with held_or_left(left / _LOCK) as nobody:
            if nobody:
                shutil.rmtree(left, ignore_errors=True)


def _bring(chosen: Path, copy: Copy, making: Path) -> None:
    """Copy the listed files under a hidden name, then compare what arrived with the list."""
    wanted = tuple(file for file in copy.files if file.path.startswith(f"{COUNTY}/"))
    troubles = list(file_troubles(chosen, tuple(file for file in copy.files if file not in wanted)))
    if not any(file.path == f"{COUNTY}/{DATABASE_NAME}" for file in wanted):
        troubles.append(message(N_("{file} is not in {list}"), file=DATABASE_NAME, list=LIST_NAME))
    if FACTS_NAME not in {file.path for file in copy.files}:
        troubles.append(message(N_("{file} is not in {list}"), file=FACTS_NAME, list=LIST_NAME))
    (making / COUNTY).mkdir(mode=0o700)
    arrived: list[ListedFile] = []
    for file in wanted:
        target = making / file.path
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        try:
            source = (chosen / file.path).open("rb")
        except OSError as error:
            troubles.append(
                message(
                    N_("{file} is in {list} and cannot be read: {why}"),
                    file=file.path,
                    list=LIST_NAME,
                    why=error.strerror or str(error),
                )
            )
            continue
        with source, open(target, "wb", opener=_for_owner) as out:
            shutil.copyfileobj(source, out)
            out.flush()
            os.fsync(out.fileno())
        arrived.append(file)
    troubles.extend(file_troubles(making, tuple(arrived)))
    if not troubles:
        troubles.extend(database_troubles(making / COUNTY / DATABASE_NAME, copy.facts.head))
    if troubles:
        raise Refusal(
            message(N_("{copy} does not check, and nothing was made:"), copy=str(chosen)), tuple(troubles)
        )


def _for_owner(path: str, flags: int) -> int:
    # Names and seal numbers, and perhaps the office's key: for the owner alone, as beside the store.
    return os.open(path, flags, 0o600)


def _settle(county: Path, copy: Copy, utc_ms: int, chosen: Path, signs: tuple[Message, ...]) -> Restored:
    """Make the copied store this computer's own: no device, no copies of its own, no job in line."""
    try:
        store = open_store(county, create=False)
    except ValueError as error:
        raise refusal(N_("{copy} cannot be used: {why}."), copy=str(chosen), why=str(error)) from error
    with store:
        with store.database.writing() as connection:
            connection.execute(sa.delete(settings).where(settings.c.key == DEVICE_KEY))
            connection.execute(
                sa.update(jobs)
                .where(jobs.c.state.not_in([state.value for state in ENDED]))
                .values(state=JobState.CANCELLED.value, ended_utc_ms=utc_ms, message=_STOPPED)
            )
            counters = sa.select(events.c.device, sa.func.max(events.c.n)).group_by(events.c.device)
            devices = tuple(
                (str(device), int(n)) for device, n in connection.execute(counters.order_by(events.c.device))
            )
        note_restored(
            store,
            RestoredFrom(
                utc_ms=utc_ms, copy_utc_ms=copy.facts.made_utc_ms, head=copy.facts.head, devices=devices
            ),
        )
        troubles = check_store(store).troubles if store.header() is not None else ()
        store.database.empty_write_ahead_log()
    return Restored(
        copy_path=str(chosen),
        facts=copy.facts,
        files=len(copy.files),
        devices=devices,
        troubles=troubles,
        office_key=Keyring(county).path(OFFICE_KEY).exists(),
        signs=signs,
    )


def _with_others(error: Refusal, source: Path, chosen: Path) -> Refusal:
    """The refusal, and which other copies in the same place do check."""
    where = chosen.parent if chosen == source else source
    good = []
    try:
        others = copies_in(where)
    except OSError:  # the stick is gone by now: what was found before it went is what can be said
        others = ()
    for copy in others:
        if (where / copy.name).resolve() != chosen.resolve():
            try:
                good.append(_line(where, check_copy(where / copy.name)))
            except Refusal:
                continue
    if good:
        good.insert(0, message(N_("Other copies there that do check, the newest first:")))
    return Refusal(error.said, (*error.more, *good))


def _line(where: Path, copy: Copy) -> Message:
    return message(
        N_("{copy}: {county}, {election}, {size} events"),
        copy=str(where / copy.name),
        county=copy.facts.county or "-",
        election=copy.facts.election or "-",
        size=copy.facts.head.size,
    )
