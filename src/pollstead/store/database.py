"""Open a database: pragmas, transactions, migration. SQLite in a folder, or PostgreSQL by URL."""

from __future__ import annotations

import contextlib
import importlib.resources
import os
import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, NamedTuple

import sqlalchemy as sa

from pollstead.store.trouble import in_words

DATABASE_NAME: Final = "pollstead.db"
SCHEMA_REVISION: Final = "0003"
"""The newest of `migrations/versions`; a store that has it is opened without reading them."""
# FULL: with WAL, only FULL syncs each commit, and a custody record must outlive a power cut.
# secure_delete: what is redacted is overwritten, not only forgotten.
PRAGMAS: Final = (
    "PRAGMA journal_mode=WAL",
    "PRAGMA synchronous=FULL",
    "PRAGMA foreign_keys=ON",
    "PRAGMA busy_timeout=5000",
    "PRAGMA secure_delete=ON",
)
_REVISIONS: Final = sa.table("alembic_version", sa.column("version_num", sa.String))
_WRITE_LOCK: Final = 0x706F6C6C  # one number that all writers of this program agree on


class State(NamedTuple):
    """A state of a database as one connection sees it; only to be compared with others of this process."""

    seen_by: sqlite3.Connection
    version: int
    changed_ns: int
    size: int


class Database:
    """An engine with this program's transactions: many readers, one writer at a time."""

    def __init__(self, url: sa.URL) -> None:
        self.engine = sa.create_engine(url)
        self.is_sqlite = self.engine.dialect.name == "sqlite"
        self._watch: sqlite3.Connection | None = None
        self._watched = (0, 0)
        self._watching = threading.Lock()
        if self.is_sqlite:
            sa.event.listen(self.engine, "connect", _set_pragmas)
            sa.event.listen(self.engine, "begin", _begin)
            sa.event.listen(self.engine, "handle_error", in_words, retval=True)

    @contextlib.contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A transaction that sees one state of the store and writes nothing."""
        with self.engine.connect() as connection, connection.begin():
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A transaction that holds the one write lock from its start; committed when left.

        When the block ends without an error the change is on the disk; else nothing changed.
        """
        with self.engine.connect().execution_options(pollstead_write=True) as connection, connection.begin():
            if not self.is_sqlite:
                connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_WRITE_LOCK)))
            yield connection

    def state(self) -> State | None:
        """What changes with every commit, whoever made it: equal states have equal contents between them.

        None where that cannot be told (PostgreSQL, a store in memory, a file that cannot be read just now):
        then whoever asks reads anew, and meets whatever trouble there is.

        A connection that never writes keeps SQLite's ``PRAGMA data_version``, which "will be different if
        changes were committed to the database by any other connection in the interim" (SQLite, Pragma
        Statements). Asking it costs a hundredth of one query.
        """
        place = self.engine.url.database
        if not self.is_sqlite or not place or place == ":memory:":
            return None
        with self._watching:
            try:
                found = os.stat(place)
                if self._watch is None or self._watched != (found.st_dev, found.st_ino):
                    # Another file took the place of the one that was watched.
                    self._end_watch()
                    self._watch = sqlite3.connect(
                        f"{Path(place).absolute().as_uri()}?mode=rw",  # never makes the file
                        uri=True,
                        isolation_level=None,
                        check_same_thread=False,
                        timeout=0,
                    )
                    self._watched = (found.st_dev, found.st_ino)
                (version,) = self._watch.execute("PRAGMA data_version").fetchone()
            except (OSError, sqlite3.Error):
                self._end_watch()
                return None
            return State(self._watch, version, found.st_mtime_ns, found.st_size)

    def _end_watch(self) -> None:
        if self._watch is not None:
            self._watch.close()
            self._watch = None

    def migrate(self) -> None:
        """Bring the schema to this version.

        Raises ValueError when a later version of the program has already changed it.
        """
        with self.reading() as connection:
            found = _revision(connection)
        if found == SCHEMA_REVISION:
            return
        # Nearly every store has it: every command would spend a third of its start on reading these.
        import alembic.command
        import alembic.config
        from alembic.script import ScriptDirectory

        config = alembic.config.Config()
        scripts = importlib.resources.files("pollstead.store") / "migrations"
        config.set_main_option("script_location", str(scripts).replace("%", "%%"))
        directory = ScriptDirectory.from_config(config)
        if found is not None and found not in {script.revision for script in directory.walk_revisions()}:
            raise ValueError(
                f"the store has schema {found}, this program knows {SCHEMA_REVISION}: "
                "open it with the newer program"
            )
        with self.writing() as connection:
            config.attributes["connection"] = connection
            alembic.command.upgrade(config, "head")

    def empty_write_ahead_log(self) -> None:
        """Move the write-ahead log into the database file and empty it (SQLite only)."""
        raw = self.engine.raw_connection()
        try:
            raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
        finally:
            raw.close()

    def copy_to(self, path: Path) -> None:
        """Write a consistent copy of a SQLite store into the new file `path`, while it is in use.

        Raises ValueError when `path` exists, or the store is on PostgreSQL (use its own tools).
        """
        if not self.is_sqlite:
            raise ValueError("a store on PostgreSQL is copied with pg_dump, not from here")
        if path.exists():
            raise ValueError(f"a copy goes into a new file, {path} exists")
        target = sqlite3.connect(path)
        source = self.engine.raw_connection()
        try:
            driver = source.driver_connection
            if not isinstance(driver, sqlite3.Connection):
                raise TypeError(f"the driver must be sqlite3, got {type(driver).__name__}")
            driver.backup(target)
        finally:
            source.close()
            target.close()

    def close(self) -> None:
        """Close every connection."""
        with self._watching:
            self._end_watch()
        self.engine.dispose()


def database_url(where: str | Path) -> sa.URL:
    """The URL of a store: `where` is a county folder, a ``.db`` file, or a PostgreSQL URL."""
    if isinstance(where, str) and "://" in where:
        url = sa.make_url(where)
        if url.get_backend_name() == "postgresql" and url.drivername == "postgresql":
            return url.set(drivername="postgresql+psycopg")
        return url
    path = Path(where)
    if path.suffix != ".db":
        path = path / DATABASE_NAME
    if not path.parent.is_dir():
        raise ValueError(f"a store must be in a folder that exists, {path.parent} does not")
    return sa.URL.create("sqlite", database=str(path))


def _revision(connection: sa.Connection) -> str | None:
    """The revision that the store's own table of revisions names; None in a store that is not made yet."""
    if not sa.inspect(connection).has_table(_REVISIONS.name):
        return None
    found: str | None = connection.execute(sa.select(_REVISIONS.c.version_num)).scalar()
    return found


def _set_pragmas(connection: Any, _record: Any) -> None:
    # The driver must not begin transactions on its own; `_begin` says which kind.
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in PRAGMAS:
        cursor.execute(pragma)
    cursor.close()


def _begin(connection: sa.Connection) -> None:
    # A transaction that reads and then writes must hold the write lock from its start, or it fails
    # as "database is locked" whatever the timeout.
    write = connection.get_execution_options().get("pollstead_write", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")
