"""Open a store: the one object by which the command line, the app and the jobs reach what is kept."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Final

from pollstead.election.words import message
from pollstead.record.facts import Fold
from pollstead.record.header import Header, read_header
from pollstead.store.database import Database, database_url
from pollstead.store.events import Events, Sides
from pollstead.store.folders import refuse_shared
from pollstead.store.jobs import Jobs
from pollstead.store.kept import KeptResults
from pollstead.store.kept_record import shared_record
from pollstead.store.keyring import KEYS_FOLDER
from pollstead.store.sheets import Settings, Sheets
from pollstead.store.trouble import GONE, StoreTrouble
from pollstead.store.versions import Plans, Snapshots

HEADER_KEY: Final = "record.header"


class Store:
    """What is kept: events and their private parts, snapshots, plan versions, jobs, settings, sheets."""

    def __init__(self, database: Database) -> None:
        self.database = database
        kept = shared_record(str(database.engine.url))
        self._kept_record = kept
        self.events = Events(database, kept)
        self.sides = Sides(database, kept)
        self.snapshots = Snapshots(database)
        self.plans = Plans(database)
        self.jobs = Jobs(database)
        self.settings = Settings(database)
        self.sheets = Sheets(database)
        self.kept = KeptResults(database)

    def fold(self, *, private: bool = False) -> Fold:
        """The facts of the record now; with private parts only where the reader may see them.

        The same object as before where nothing came since.
        """
        with self._kept_record.lock:
            self.events.read_new()
            return self._kept_record.fold(self.sides.fields() if private else None)

    def header(self) -> Header | None:
        """The header of the record kept here; None before there is one."""
        data = self.settings.get(HEADER_KEY)
        return None if data is None else read_header(data)

    def begin_record(self, header: Header) -> Header:
        """Keep `header` as that of the record here, once.

        Raises ValueError when the store already holds a record with another header: a practice
        election, for example, never shares a store with the real one.
        """
        kept = read_header(self.settings.set_once(HEADER_KEY, header.to_bytes()))
        if kept != header:
            what = "a practice election" if kept.practice else "an election"
            raise ValueError(
                f"this store already holds the record of {what} ({kept.county}, {kept.election}); "
                f"use another folder for {header.county}, {header.election}"
            )
        return kept

    def close(self) -> None:
        """Close the store."""
        self.database.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_store(where: str | Path, *, create: bool = True) -> Store:
    """Open the store of a county folder, a ``.db`` file or a PostgreSQL URL, migrated as needed.

    A store that is not there is made, unless `create` is false. Raises ValueError when the folder
    does not exist, there is no store and none is to be made, or a newer program changed the schema;
    `StoreTrouble` when the file cannot be used, or was emptied since a record was begun in it;
    `pollstead.store.refusal.Refusal` where it would be made in a shared or synchronized folder.
    """
    url = database_url(where)
    if url.database and url.get_backend_name() == "sqlite":
        _refuse_emptied(Path(url.database))
        if not Path(url.database).exists():
            if not create:
                raise ValueError(f"there is no record in {where}: {url.database} does not exist")
            refuse_shared(Path(url.database).parent)
    database = Database(url)
    try:
        database.migrate()
    except BaseException:
        database.close()
        raise
    return Store(database)


def _refuse_emptied(path: Path) -> None:
    """Raise `StoreTrouble` for a file without a byte beside keys: once it has those, no store is empty."""
    keys = path.parent / KEYS_FOLDER
    if path.is_file() and path.stat().st_size == 0 and any(keys.glob("*.pem")):
        raise StoreTrouble(message(GONE, path=str(path), keys=str(keys)))
