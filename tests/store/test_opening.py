"""Opening a store: schema, migration, one record in each store, keys beside it."""

from __future__ import annotations

import importlib.resources
import os
import stat
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from pollstead.record.event import Signed
from pollstead.store.database import SCHEMA_REVISION, Database, database_url
from pollstead.store.desk import Desk, open_desk
from pollstead.store.exchange import check_store
from pollstead.store.keyring import Keyring
from pollstead.store.opening import open_store
from pollstead.store.schema import metadata


def test_the_migrations_make_the_schema_that_the_code_knows(tmp_path: Path) -> None:
    """Tables, columns, indexes and checks of migration and metadata are the same."""
    with open_store(tmp_path) as store, store.database.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []
        found = sa.inspect(connection)
        for table in metadata.sorted_tables:
            wanted = {c.name for c in table.constraints if isinstance(c, sa.CheckConstraint)}
            assert {check["name"] for check in found.get_check_constraints(table.name)} == wanted


def test_the_schema_that_the_code_names_is_the_newest_migration(tmp_path: Path) -> None:
    """A store with it is opened without reading the migrations, so the name must be theirs."""
    scripts = importlib.resources.files("pollstead.store") / "migrations"
    assert ScriptDirectory(str(scripts)).get_current_head() == SCHEMA_REVISION
    with open_store(tmp_path) as store, store.database.reading() as connection:
        assert MigrationContext.configure(connection).get_current_revision() == SCHEMA_REVISION


def test_a_store_of_a_later_schema_is_refused(tmp_path: Path) -> None:
    """An older program does not touch what a newer one has changed."""
    with open_store(tmp_path) as store, store.database.writing() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(ValueError, match=r"schema 9999.*newer program"):
        open_store(tmp_path)


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    """Neither a store nor a folder is made by mistake."""
    with pytest.raises(ValueError, match="folder that exists"):
        open_store(tmp_path / "typo")
    with pytest.raises(ValueError, match="no record in"):
        open_store(tmp_path, create=False)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("where", "drivername"),
    [
        ("postgresql://localhost/larkmoor", "postgresql+psycopg"),
        ("postgresql+psycopg://localhost/larkmoor", "postgresql+psycopg"),
        ("sqlite:///x.db", "sqlite"),
    ],
)
def test_a_url_names_a_database_server(where: str, drivername: str) -> None:
    """PostgreSQL is reached by its current driver."""
    assert database_url(where).drivername == drivername


def test_a_read_and_a_write_do_not_wait_for_each_other(tmp_path: Path) -> None:
    """A reader sees the state from before while a writer works."""
    with open_store(tmp_path) as store:
        store.settings.set("a", b"1")
        with store.database.reading() as reader:
            query = sa.text("SELECT value FROM settings")
            assert reader.execute(query).scalar() == b"1"
            store.settings.set("a", b"2")
            assert reader.execute(query).scalar() == b"1"
        assert store.settings.get("a") == b"2"


def test_a_practice_election_needs_a_store_of_its_own(
    desk: Desk, tmp_path: Path, make_desk: Callable[..., Desk]
) -> None:
    """The real record's folder refuses a practice record, and another election."""
    with pytest.raises(ValueError, match="use another folder"):
        make_desk(tmp_path / "county", practice=True)
    with pytest.raises(ValueError, match="use another folder"):
        make_desk(tmp_path / "county", election="Runoff")
    practice = make_desk(tmp_path / "practice", practice=True)
    assert practice.header.record_id != desk.header.record_id
    practice.close()


def test_beginning_again_opens_the_same_record(
    desk: Desk, tmp_path: Path, make_desk: Callable[..., Desk]
) -> None:
    """Begin is done once; the second time adds nothing."""
    again = make_desk(tmp_path / "county")
    assert again.header == desk.header
    assert again.store.events.count() == 7
    again.close()


@pytest.mark.parametrize("days", [-800, 500])
def test_a_desk_outside_its_certificate_is_certified_anew(
    desk: Desk,
    tmp_path: Path,
    make_desk: Callable[..., Desk],
    count: Callable[[Desk, int], Signed],
    days: int,
) -> None:
    """Opened long before or after, the desk gets a further certificate and its events check."""
    step = days * 86_400
    again = make_desk(tmp_path / "county", step=step)
    count(again, step)
    assert again.store.events.count() == 9
    assert check_store(again.store).checks
    assert make_desk(tmp_path / "county", step=step).store.events.count() == 9
    again.close()


def test_keys_stand_beside_the_store_and_never_in_it(desk: Desk, tmp_path: Path) -> None:
    """The database holds no private key; the files are their owner's alone; none is overwritten."""
    keyring = Keyring(tmp_path / "county")
    database = b"".join(path.read_bytes() for path in (tmp_path / "county").glob("pollstead.db*"))
    for name in ("office", "desk"):
        key = keyring.load(name)
        assert key is not None
        assert key.private_bytes_raw() not in database
        if os.name == "posix":
            assert stat.S_IMODE(keyring.path(name).stat().st_mode) == 0o600
        with pytest.raises(ValueError, match="never overwritten"):
            keyring.create(name)
    with pytest.raises(ValueError, match="key name"):
        keyring.path("../office")
    keyring.path("desk").write_text("something else")
    with pytest.raises(ValueError, match="Ed25519 key"):
        open_desk(tmp_path / "county")


def test_without_this_computers_key_the_record_is_read_only(desk: Desk, tmp_path: Path) -> None:
    """A copied folder without keys can be read and checked, not written."""
    Keyring(tmp_path / "county").path("desk").unlink()
    with pytest.raises(ValueError, match="can be read, checked and exported"):
        open_desk(tmp_path / "county")


def test_a_copy_made_while_the_store_is_in_use_is_whole(
    desk: Desk, tmp_path: Path, count: Callable[[Desk, int], Signed]
) -> None:
    """The copy checks and has the same head; it never goes over a file that is there."""
    copy = tmp_path / "copy.db"
    desk.store.database.copy_to(copy)
    head = desk.store.events.head()
    count(desk, 50)
    with open_store(copy) as store:
        assert store.events.head() == head
        assert check_store(store).checks
    with pytest.raises(ValueError, match="new file"):
        desk.store.database.copy_to(copy)


def test_a_database_closes_and_its_file_can_be_copied(tmp_path: Path) -> None:
    """After closing, the file alone is the whole store."""
    with open_store(tmp_path) as store:
        store.settings.set("a", b"1")
    copy = tmp_path / "copy"
    copy.mkdir()
    (copy / "pollstead.db").write_bytes((tmp_path / "pollstead.db").read_bytes())
    database = Database(database_url(copy))
    with database.reading() as connection:
        assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        assert connection.exec_driver_sql("SELECT value FROM settings").scalar() == b"1"
    database.close()
