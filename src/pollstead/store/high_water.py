"""Notice that an older store was put back: how far this computer's key has counted stands beside the key.

A store that is older than the key's last entry would give a number twice, and the record would fork.
The mark is a file of its own in the key folder. A newer copy of the same folder, at the place where
copies go, is asked too: it also tells where the whole folder, keys and all, was put back.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Final

import msgspec
import sqlalchemy as sa

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.record.event import Signed
from pollstead.record.write import Made
from pollstead.store.copy_list import COPY_PREFIX, FACTS_NAME, CopyFacts
from pollstead.store.copy_state import SOURCE, copy_target
from pollstead.store.keyring import Keyring
from pollstead.store.opening import Store
from pollstead.store.refusal import Refusal
from pollstead.store.schema import events

MARK_NAME: Final = "desk.mark"


class Mark(Value, frozen=True, kw_only=True):
    """The last entry that this computer's key signed: the device, its counter, the event's id."""

    device: str
    n: int
    event: str


def mark_path(keyring: Keyring) -> Path:
    """Where the mark stands."""
    return keyring.folder / MARK_NAME


def read_mark(path: Path) -> Mark | None:
    """The mark; None where there is none, or where a power cut left half of one."""
    try:
        return msgspec.json.decode(path.read_bytes(), type=Mark)
    except (OSError, msgspec.DecodeError):
        return None


def write_mark(path: Path, mark: Mark) -> None:
    """Keep the mark. It is written after the event's own commit, and not synced: a lost one is only weaker.

    Where it cannot be written (the disk is full), the event that was committed stays recorded.
    """
    with contextlib.suppress(OSError):
        handle = os.open(path, os.O_WRONLY | os.O_CREAT, 0o600)
        try:
            data = msgspec.json.encode(mark) + b"\n"
            os.write(handle, data)
            os.ftruncate(handle, len(data))
        finally:
            os.close(handle)


class MarkedJournal:
    """The store's events as the journal of this computer, with the mark beside its key."""

    def __init__(self, store: Store, path: Path) -> None:
        self._events = store.events
        self._path = path

    def append_run(self, device: str, make: Callable[[int, str], Made]) -> tuple[Signed, ...]:
        """See `pollstead.record.write.Journal`; raises `Refusal` where the counter was given before."""
        mark = read_mark(self._path)

        def make_new(n: int, prev: str) -> Made:
            if mark is not None and mark.device == device:
                again = n <= mark.n or (n == mark.n + 1 and prev != mark.event)
                if again:
                    raise Refusal(_older(n - 1, mark.n))
            return make(n, prev)

        signed = self._events.append_run(device, make_new)
        if signed:
            write_mark(self._path, Mark(device=device, n=signed[-1].event.n, event=signed[-1].id))
        return signed


def older_store(store: Store, keyring: Keyring, device: str) -> Message | None:
    """Why this computer must not write with its key here; None where nothing speaks against it.

    Brings the mark up to the store where it is behind, as after a crash between the two.
    """
    mark = read_mark(mark_path(keyring))
    here = _last(store, device)
    if mark is not None and mark.device == device:
        if here.n < mark.n or (here.n == mark.n and here.event != mark.event):
            return _older(here.n, mark.n)
        if here.n > mark.n and mark.event not in _ids(store, device, mark.n):
            return _older(mark.n - 1, mark.n)
    newer = newest_copy(store)
    if newer is not None and newer.head.size > store.events.count():
        return message(
            N_(
                "This store has {found} entries; a copy of this same folder has {size}. An older "
                "pollstead.db was put back, or the folder was doubled; writing on would give numbers twice."
            ),
            found=store.events.count(),
            size=newer.head.size,
        )
    if here.n and (mark is None or mark.device != device or mark.n < here.n):
        write_mark(mark_path(keyring), here)
    return None


def what_to_do(folder: Path) -> tuple[Message, ...]:
    """The two ways on from an older store: the newer one back, or a new key for this computer."""
    return (
        message(
            N_(
                "Best: find the newer pollstead.db, or restore the newest copy into a new folder, and "
                "work there."
            )
        ),
        message(
            N_(
                "If it is gone: admit this computer anew, with a new key, by: "
                "pollstead restore admit {folder} --by PERSON"
            ),
            folder=str(folder),
        ),
        message(
            N_(
                "Then bring what is lacking by: pollstead record import {folder} EXPORT, or type it from "
                "paper."
            ),
            folder=str(folder),
        ),
    )


def newest_copy(store: Store) -> CopyFacts | None:
    """The newest copy of this same folder at the place where copies go, as far as it can be read now."""
    target, source = copy_target(store), store.settings.get(SOURCE)
    if target is None or source is None:
        return None
    try:
        names = sorted((path for path in Path(target.path).glob(f"{COPY_PREFIX}*")), reverse=True)
        for path in names:
            facts = msgspec.json.decode((path / FACTS_NAME).read_bytes(), type=CopyFacts)
            if facts.source == source.decode():
                return facts
    except (OSError, ValueError):
        # The stick is out, or a copy cannot be read: the mark beside the key was asked already.
        return None
    return None


def _older(found: int, last: int) -> Message:
    return message(
        N_(
            "The store is older than this computer's key: it has this computer's entries up to number "
            "{found}, and number {last} was made with the key already. Nothing is written with it here: "
            "one number would stand for two entries."
        ),
        found=found,
        last=last,
    )


def _last(store: Store, device: str) -> Mark:
    query = (
        sa.select(events.c.n, events.c.id)
        .where(events.c.device == device)
        .order_by(events.c.n.desc(), events.c.id)
        .limit(1)
    )
    with store.database.reading() as connection:
        row = connection.execute(query).first()
    return Mark(device=device, n=0 if row is None else int(row.n), event="" if row is None else str(row.id))


def _ids(store: Store, device: str, n: int) -> set[str]:
    query = sa.select(events.c.id).where(events.c.device == device, events.c.n == n)
    with store.database.reading() as connection:
        return set(connection.execute(query).scalars())
