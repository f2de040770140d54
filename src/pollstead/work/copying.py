"""Keeps a copy at each change while the app runs: in a thread of its own, one at a time, never in the way.

It asks nobody to say that something was written. It looks at the database's own count of commits
(SQLite's ``PRAGMA data_version``) and at the tables' sizes and times, so that it also sees what
other processes write: jobs, commands, a spreadsheet.
"""

from __future__ import annotations

import contextlib
import sqlite3
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final, NamedTuple

from pollstead.store.backup import AfterChange, copy_after_change
from pollstead.store.copy_status import copy_status
from pollstead.store.copy_write import county_files
from pollstead.store.database import DATABASE_NAME
from pollstead.store.opening import Store
from pollstead.work.clock import now_ms

LOOK_S: Final = 2.0
"""How often it looks for changes; one look reads a counter and the tables' times."""
SETTLE_S: Final = 3.0
"""A copy begins when nothing was written for so long, or `BOUND_S` after the first change."""
BOUND_S: Final = 15.0
REST: Final = 4.0
"""Between two copies it rests so many times as long as the last one took: at most a fifth of the time goes
into copying, whatever the size of the county and the speed of the stick."""
RETRY_S: Final = 30.0


class _Seen(NamedTuple):
    """What one look saw: the count of commits, the place for copies and whether it is there, the tables."""

    commits: int
    place: str
    there: bool
    tables: tuple[tuple[str, int, int], ...]


class Waiting:
    """When a copy is due, by a clock that is given: no thread and no file, so that it can be tested whole."""

    def __init__(self) -> None:
        self._first: float | None = None
        self._last = 0.0
        self._not_before = 0.0

    def changed(self, now: float) -> None:
        """Something was written."""
        self._first = now if self._first is None else self._first
        self._last = now

    def is_due(self, now: float) -> bool:
        """Whether to copy now: settled or long enough in coming, and rested."""
        if self._first is None or now < self._not_before:
            return False
        return now - self._last >= SETTLE_S or now - self._first >= BOUND_S

    def began(self) -> None:
        """A copy begins: what is written from here on is for the next one."""
        self._first = None

    def ended(self, now: float, took_s: float) -> None:
        """A copy was made, or none was needed."""
        self._not_before = now + REST * took_s

    def failed(self, now: float) -> None:
        """No copy could be made: try again later, changed or not."""
        self._first = now
        self._not_before = now + RETRY_S

    def place_is_back(self, now: float) -> None:
        """The stick was put in: what waits for it is copied without waiting longer."""
        self._first = self._last = now - BOUND_S
        self._not_before = now

    @property
    def waits(self) -> bool:
        """Whether something was written that no copy has yet."""
        return self._first is not None


class CopyKeeper:
    """Makes the copies of one folder while the app runs, and a last one when it ends."""

    def __init__(
        self,
        store: Store,
        folder: Path,
        *,
        clock: Callable[[], int] = now_ms,
        look_s: float = LOOK_S,
    ) -> None:
        self._store = store
        self._folder = folder
        self._clock = clock
        self._look_s = look_s
        self._waiting = Waiting()
        self._seen: _Seen | None = None
        self._ending = threading.Event()
        self._poked = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin to look; the state at the start is compared with the last copy first of all."""
        if self._store.database.is_sqlite:
            self._ending.clear()
            self._thread = threading.Thread(target=self._keep, name="copies", daemon=True)
            self._thread.start()

    def poke(self) -> None:
        """Look now: the place for copies was changed, for one."""
        self._poked.set()

    def stop(self) -> None:
        """End, with a last copy where something changed; a stick that does not answer is not waited for."""
        self._ending.set()
        self._poked.set()
        if self._thread is not None:
            self._thread.join(timeout=20)

    def _keep(self) -> None:
        with contextlib.closing(self._connection()) as connection:
            self._waiting.changed(time.monotonic())
            while not self._ending.is_set():
                self._turn(connection)
                self._poked.wait(self._look_s)
                self._poked.clear()
            self._look(connection)
            if self._waiting.waits:
                self._copy()

    def _turn(self, connection: sqlite3.Connection) -> None:
        self._look(connection)
        if self._waiting.is_due(time.monotonic()):
            self._copy()

    def _look(self, connection: sqlite3.Connection) -> None:
        seen = self._look_at(connection)
        if seen is None or seen == self._seen:
            return
        is_back = self._seen is not None and seen.there and not self._seen.there
        self._seen = seen
        self._waiting.changed(time.monotonic())
        if is_back:
            self._waiting.place_is_back(time.monotonic())

    def _look_at(self, connection: sqlite3.Connection) -> _Seen | None:
        """What changes when the store or a table is written, or the stick is put in or pulled out."""
        try:
            target = copy_status(self._store).target
            there = target is not None and Path(target.path).is_dir()
            stats = []
            for path in county_files(self._folder, packets=False)[0]:
                found = path.stat()
                stats.append((str(path), found.st_size, found.st_mtime_ns))
            commits = connection.execute("PRAGMA data_version").fetchone()[0]
        except (OSError, sqlite3.Error):
            # A table is being replaced by its editor at this moment, or the store cannot be asked: the pages
            # say that, and once the file is mended the copies must go on without a restart.
            return self._seen
        return _Seen(commits, "" if target is None else target.path, there, tuple(stats))

    def _copy(self) -> None:
        self._waiting.began()
        began = time.monotonic()
        try:
            done = copy_after_change(self._folder, utc_ms=self._clock())
        except (OSError, ValueError) as error:
            # The store itself could not be asked; the pages say that already.
            print(f"copy at a change: {error}", file=sys.stderr)
            self._waiting.failed(time.monotonic())
            return
        self._after(done, began)

    def _after(self, done: AfterChange, began: float) -> None:
        now = time.monotonic()
        if done.trouble is not None:
            self._waiting.failed(now)
        else:
            self._waiting.ended(now, now - began)

    def _connection(self) -> sqlite3.Connection:
        uri = f"{(self._folder / DATABASE_NAME).resolve().as_uri()}?mode=ro"
        return sqlite3.connect(uri, uri=True, isolation_level=None)
