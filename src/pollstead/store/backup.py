"""Copy a county folder to a second folder or a stick, read the copy back, and keep the last few.

A copy is written under a hidden name and gets its own name only after it was read back and checked;
older copies go only after that. Ending the program at any moment leaves the earlier copies as they
were. Copies of one folder wait for one another by a lock that ends with its process.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import sqlite3
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.record.tree import Head, head_of
from pollstead.store.copy_database import content_troubles
from pollstead.store.copy_list import COPY_PREFIX, COUNTY, CopyFacts, Occasion, check_copy, copies_in
from pollstead.store.copy_lock import one_copy_at_a_time
from pollstead.store.copy_state import (
    KEPT_COPIES,
    CopyTarget,
    CopyTrouble,
    LastCopy,
    copy_source,
    copy_target,
    last_good_copy,
    note_copy_trouble,
    note_good_copy,
    settle_copy_trouble,
    state_digest,
)
from pollstead.store.copy_write import at, county_files, sync_folder, write_copy
from pollstead.store.database import DATABASE_NAME
from pollstead.store.opening import Store, open_store
from pollstead.store.refusal import Refusal, refusal
from pollstead.store.schema import events

_MAKING: Final = ".making-"
_GOING: Final = ".going-"


class CopyMade(Value, frozen=True, kw_only=True):
    """A copy that was made and read back.

    `remarks` are things to know that did not stop it. `removed` names older copies that went.
    """

    path: str
    facts: CopyFacts
    files: int
    total_bytes: int
    removed: tuple[str, ...]
    remarks: tuple[Message, ...]


class AfterChange(Value, frozen=True, kw_only=True):
    """What came of a copy at a change: one was made, none was needed or set, or why there is none."""

    made: CopyMade | None = None
    trouble: CopyTrouble | None = None


def make_copy(
    folder: Path,
    to: Path,
    *,
    utc_ms: int,
    keep: int = KEPT_COPIES,
    packets: bool = False,
    with_keys: bool = False,
    occasion: Occasion = Occasion.ASKED,
) -> CopyMade:
    """Copy the county folder into a new folder in `to`, check it, and keep the last `keep` of its sort.

    Copies that were asked for and copies made at a change are counted apart. Writers go on
    meanwhile: every event acknowledged before the copy began is in it. Raises `Refusal`, with the
    earlier copies untouched and the trouble noted in the store; ValueError when `keep` is below 1.
    """
    if keep < 1:
        raise ValueError(f"keep must be at least 1, got {keep}")
    _check_places(folder, to)
    with open_store(folder, create=False) as store:
        try:
            with one_copy_at_a_time(folder):
                return _make(store, folder, to, utc_ms, keep, packets, with_keys, occasion)
        except Refusal as error:
            _note(store, CopyTrouble(utc_ms=utc_ms, said=error.said, more=error.more))
            raise


def copy_after_change(folder: Path, *, utc_ms: int) -> AfterChange:
    """Copy the folder to the place set for it, when something changed since the last good copy there.

    Never raises because a copy could not be made (the stick is not in, the disk is full): what was
    recorded stays recorded; the trouble is in the answer and noted for the pages. The private key
    of the office never goes along here.
    """
    with open_store(folder, create=False) as store:
        target = copy_target(store)
        if target is None:
            return AfterChange()
        try:
            to = Path(target.path)
            _check_places(folder, to)
            _check_still_apart(folder, target)
            with one_copy_at_a_time(folder):
                # Asked inside the lock: the copy waited for may have taken this change already.
                if not _changed(store, folder, to):
                    settle_copy_trouble(store)
                    return AfterChange()
                made = _make(store, folder, to, utc_ms, target.keep, target.packets, False, Occasion.CHANGE)
                return AfterChange(made=made)
        except Refusal as error:
            trouble = CopyTrouble(utc_ms=utc_ms, said=error.said, more=error.more)
        except OSError as error:
            trouble = CopyTrouble(utc_ms=utc_ms, said=_failed(target.path, error).said)
        _note(store, trouble)
        return AfterChange(trouble=trouble)


def _note(store: Store, trouble: CopyTrouble) -> None:
    # Where this disk is full too, what went wrong is said and cannot be noted.
    with contextlib.suppress(sa.exc.DBAPIError):
        note_copy_trouble(store, trouble)


def _check_places(folder: Path, to: Path) -> None:
    if not (folder / DATABASE_NAME).exists():
        raise refusal(
            N_("{folder} has no store yet, so there is nothing to copy. Make a plan first."),
            folder=str(folder),
        )
    if not to.is_dir():
        # Never made here: a stick that is not in must not become a folder on this disk.
        raise refusal(
            N_("{to} is not there. Put the stick in, or make that folder, and try again."), to=str(to)
        )
    here, there = folder.resolve(), to.resolve()
    if there.is_relative_to(here):
        raise refusal(
            N_("{to} is inside {folder}. A copy goes to another place, best a stick or another computer."),
            to=str(to),
            folder=str(folder),
        )


def _check_still_apart(folder: Path, target: CopyTarget) -> None:
    """A stick that is not in may leave the folder it was mounted on: on this disk, where no copy helps."""
    if target.apart and os.stat(target.path).st_dev == os.stat(folder).st_dev:
        raise refusal(
            N_(
                "{to} is on this computer's own disk now: the stick or second disk is not in. Put it in, "
                "and the next copy goes there by itself."
            ),
            to=target.path,
        )


def _changed(store: Store, folder: Path, to: Path) -> bool:
    last = last_good_copy(store)
    if last is None or Path(last.path).parent != to.resolve() or not Path(last.path).is_dir():
        return True
    return last.state != state_digest(store, county_files(folder, packets=False)[0])


def _make(
    store: Store,
    folder: Path,
    to: Path,
    utc_ms: int,
    keep: int,
    packets: bool,
    with_keys: bool,
    occasion: Occasion,
) -> CopyMade:
    source = copy_source(store)
    for left in to.glob(f"{_MAKING}{source}-*"):
        shutil.rmtree(left, ignore_errors=True)  # of an attempt that was ended; we hold the lock
    making = to / f"{_MAKING}{source}-{secrets.token_hex(4)}"
    try:
        facts, files, remarks = write_copy(
            store, folder, making, source, utc_ms, packets=packets, with_keys=with_keys, occasion=occasion
        )
        check_copy(making)
        _compare_head(store, facts.head)
        changed = content_troubles(making / COUNTY / DATABASE_NAME)
        total = sum((making / file.path).stat().st_size for file in files)
        made = _name(making, to, utc_ms)
    except Refusal:
        raise
    except (OSError, ValueError, sqlite3.Error, sa.exc.DBAPIError) as error:
        # ValueError: an event id of the store that is no digest any more, for one.
        raise _failed(str(to), error) from error
    finally:
        shutil.rmtree(making, ignore_errors=True)  # nothing is there once it has its own name
    note_good_copy(
        store,
        LastCopy(made_utc_ms=utc_ms, path=str(made), occasion=occasion, head=facts.head, state=facts.state),
    )
    if os.stat(to).st_dev == os.stat(folder).st_dev:
        remarks = (
            *remarks,
            message(
                N_("{to} is on the same disk as {folder}: it does not outlive that disk."),
                to=str(to),
                folder=str(folder),
            ),
        )
    if changed:
        # The copy is true to a store that is damaged: the older copies may be the only good ones.
        said = message(
            N_("The store itself was damaged or changed, so no older copy was removed. See: record verify.")
        )
        note_copy_trouble(store, CopyTrouble(utc_ms=utc_ms, said=said, more=changed, damaged=True))
        remarks = (*remarks, said, *changed)
    removed = () if changed else _remove_older(to, made.name, source, occasion, keep)
    return CopyMade(
        path=str(made), facts=facts, files=len(files), total_bytes=total, removed=removed, remarks=remarks
    )


def _compare_head(store: Store, head: Head) -> None:
    """The events of the copy must be the first of the store, in the same order."""
    query = sa.select(events.c.id).order_by(events.c.seq).limit(head.size)
    with store.database.reading() as connection:
        here = head_of(list(connection.execute(query).scalars()))
    if here != head:
        raise refusal(
            N_(
                "The copy has another head than the store: {size} events, root {copied}, here {found}. "
                "It was not kept. See: pollstead record verify FOLDER"
            ),
            size=head.size,
            copied=head.root[:12],
            found=here.root[:12],
        )


def _name(making: Path, to: Path, utc_ms: int) -> Path:
    """Give a checked copy its name; a second copy in one second gets a number."""
    stem = f"{COPY_PREFIX}{at(utc_ms, '%Y%m%dT%H%M%SZ')}"
    for number in range(1, 10_000):
        made = to / (stem if number == 1 else f"{stem}-{number}")
        if not made.exists():
            making.rename(made)
            sync_folder(to)
            return made.resolve()
    raise refusal(N_("{to} has too many copies of one second."), to=str(to))


def _remove_older(to: Path, newest: str, source: str, occasion: Occasion, keep: int) -> tuple[str, ...]:
    """Remove copies of this folder and sort beyond the last `keep`; the one just made always stays."""
    for left in to.glob(f"{_GOING}{source}-*"):
        shutil.rmtree(left, ignore_errors=True)
    own = [
        copy.name
        for copy in copies_in(to)
        if copy.facts.source == source and copy.facts.occasion is occasion and copy.name != newest
    ]
    removed = []
    for name in own[keep - 1 :]:
        going = to / f"{_GOING}{source}-{name}"
        with contextlib.suppress(OSError):  # one that cannot be removed is tried again next time
            (to / name).rename(going)  # so that half a copy is never taken for one
            shutil.rmtree(going, ignore_errors=True)
            removed.append(name)
    return tuple(removed)


def _failed(to: str, error: Exception) -> Refusal:
    return Refusal(
        message(
            N_("No copy was made in {to}: {why}. The earlier copies are as they were."),
            to=to,
            why=(error.strerror if isinstance(error, OSError) else None) or str(error),
        )
    )
