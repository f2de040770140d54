"""What the store remembers of its copies: where they go, when the last good one was made, what went wrong."""

from __future__ import annotations

import hashlib
import os
import secrets
from pathlib import Path
from typing import Final, TypeVar

import msgspec
import sqlalchemy as sa

from pollstead.election.values import Value, require
from pollstead.election.words import Message
from pollstead.record.tree import Head
from pollstead.store.copy_list import Occasion
from pollstead.store.opening import Store
from pollstead.store.schema import events, plan_versions, settings, sheets, side_objects, snapshots

KEPT_COPIES: Final = 7
COPY_SETTINGS: Final = "copy."
SOURCE: Final = "copy.source"
TARGET: Final = "copy.target"
LAST_GOOD: Final = "copy.last_good"
LAST_TROUBLE: Final = "copy.last_trouble"
_RESTORED: Final = "copy.restored"

Kept = TypeVar("Kept", bound=Value)


class CopyTarget(Value, frozen=True, kw_only=True):
    """Where a copy goes at each change, how many are kept there, and whether packets go along.

    `apart`: whether the place was on another disk than the folder when it was set. A stick that is
    pulled out may leave a folder of its name behind, on this disk.
    """

    path: str
    keep: int
    packets: bool
    apart: bool = False

    def __post_init__(self) -> None:
        require(self.keep >= 1, f"keep must be at least 1, got {self.keep}")


class LastCopy(Value, frozen=True, kw_only=True):
    """The last copy that checked when it was read back: when, where, and the head of the record in it."""

    made_utc_ms: int
    path: str
    occasion: Occasion
    head: Head
    state: str


class CopyTrouble(Value, frozen=True, kw_only=True):
    """Why the last attempt gave no copy, and when that was first so.

    `damaged`: a copy was made, of a store that is itself damaged or changed.
    """

    utc_ms: int
    said: Message
    more: tuple[Message, ...] = ()
    damaged: bool = False


class RestoredFrom(Value, frozen=True, kw_only=True):
    """From which copy this folder was made, when, and the last counter of each device in it.

    What other devices entered after the copy is not here unless it was merged since.
    """

    utc_ms: int
    copy_utc_ms: int
    head: Head
    devices: tuple[tuple[str, int], ...]


def last_good_copy(store: Store) -> LastCopy | None:
    """The last good copy of this folder; None before there is one. For every page to show its time."""
    return _get(store, LAST_GOOD, LastCopy)


def last_copy_trouble(store: Store) -> CopyTrouble | None:
    """Why the last attempt gave no copy; None when the last attempt was good."""
    return _get(store, LAST_TROUBLE, CopyTrouble)


def copy_target(store: Store) -> CopyTarget | None:
    """Where a copy goes at each change; None when nothing was set."""
    return _get(store, TARGET, CopyTarget)


def restored_from(store: Store) -> RestoredFrom | None:
    """The copy that this folder was restored from; None for a folder that was not."""
    return _get(store, _RESTORED, RestoredFrom)


def events_since_copy(store: Store) -> int:
    """How many events are here that the last good copy does not have; all of them when there is none."""
    last = last_good_copy(store)
    return store.events.count() - (0 if last is None else last.head.size)


def copy_place(folder: Path, to: Path, *, keep: int = KEPT_COPIES, packets: bool = False) -> CopyTarget:
    """`to` as a place for a copy at each change; it must be there. Raises OSError where it cannot be read."""
    apart = os.stat(to).st_dev != os.stat(folder).st_dev
    return CopyTarget(path=str(to.resolve()), keep=keep, packets=packets, apart=apart)


def settle_copy_trouble(store: Store) -> None:
    """Forget a trouble that is over: the place is there again, and the copy in it has everything."""
    trouble = last_copy_trouble(store)
    if trouble is not None and not trouble.damaged:
        _set(store, LAST_TROUBLE, None)


def set_copy_target(store: Store, target: CopyTarget | None) -> None:
    """Set, or with None forget, where a copy goes at each change."""
    _set(store, TARGET, target)


def note_good_copy(store: Store, last: LastCopy) -> None:
    """Note a copy that checked; an earlier trouble is settled by it."""
    _set(store, LAST_GOOD, last)
    _set(store, LAST_TROUBLE, None)


def note_copy_trouble(store: Store, trouble: CopyTrouble) -> None:
    """Note why an attempt gave no copy; the last good one stays noted, and since when it is so."""
    before = last_copy_trouble(store)
    if before is not None and (before.said, before.more) == (trouble.said, trouble.more):
        return
    _set(store, LAST_TROUBLE, trouble)


def note_restored(store: Store, restored: RestoredFrom) -> None:
    """Forget where the other computer's copies were, and note what this folder was made from.

    The next copy gives this folder an id of its own, so that it never removes the other's copies.
    """
    forget_copies(store)
    _set(store, _RESTORED, restored)


def forget_copies(store: Store) -> None:
    """Forget all about copies, the id of this folder among them too: the next copy begins anew."""
    with store.database.writing() as connection:
        connection.execute(sa.delete(settings).where(settings.c.key.startswith(COPY_SETTINGS)))


def copy_source(store: Store) -> str:
    """The id of this folder among copies, made once: 16 hexadecimal digits."""
    return store.settings.set_once(SOURCE, secrets.token_hex(8).encode()).decode()


def state_digest(store: Store, tables: tuple[Path, ...]) -> str:
    """A digest that changes when the store or one of the tables does; copies and jobs do not count.

    Looks at counts and labels, and at the size and time of each table, so that it is cheap enough
    to ask after every change.
    """
    asked = (
        sa.select(sa.func.max(events.c.seq)),
        sa.select(sa.func.count(), sa.func.max(side_objects.c.redacted_utc_ms)).select_from(side_objects),
        sa.select(sa.func.count()).select_from(snapshots),
        sa.select(plan_versions.c.digest, plan_versions.c.label).order_by(plan_versions.c.digest),
        sa.select(sa.func.count()).select_from(sheets),
        sa.select(settings.c.key, settings.c.value)
        .where(settings.c.key.startswith(COPY_SETTINGS).is_(sa.false()))
        .order_by(settings.c.key),
    )
    digest = hashlib.sha256()
    with store.database.reading() as connection:
        for query in asked:
            digest.update(repr([tuple(row) for row in connection.execute(query)]).encode())
    for path in tables:
        found = path.stat()
        digest.update(repr((str(path), found.st_size, found.st_mtime_ns)).encode())
    return digest.hexdigest()


def _get(store: Store, key: str, kind: type[Kept]) -> Kept | None:
    data = store.settings.get(key)
    return msgspec.json.decode(data, type=kind) if data else None


def _set(store: Store, key: str, value: Value | None) -> None:
    store.settings.set(key, b"" if value is None else msgspec.json.encode(value))
