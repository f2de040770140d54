"""A store whose file cannot be used: each trouble is told in words, and nothing is changed.

The result codes are SQLite's own (https://www.sqlite.org/rescode.html); from memory.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from pollstead.record.event import Signed
from pollstead.store.desk import Desk
from pollstead.store.exchange import export_record
from pollstead.store.opening import open_store
from pollstead.store.trouble import StoreTrouble

NAME = "pollstead.db"
Count = Callable[[Desk, int], Signed]


def test_a_file_that_is_no_database_is_called_damaged(tmp_path: Path) -> None:
    """Somebody's note saved under the store's name is left as it is."""
    (tmp_path / NAME).write_bytes(b"not a database\n" * 100)
    with pytest.raises(StoreTrouble, match=r"damaged.*file is not a database.*last copy"):
        open_store(tmp_path)
    assert (tmp_path / NAME).read_bytes() == b"not a database\n" * 100


def test_a_truncated_store_is_called_damaged(desk: Desk, count: Count, tmp_path: Path) -> None:
    """A copy that broke off half way is not read as a shorter record."""
    for value in range(40):
        count(desk, value)
    desk.close()
    file = tmp_path / "county" / NAME
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])
    with pytest.raises(StoreTrouble, match=r"damaged.*malformed"), open_store(tmp_path / "county") as store:
        store.events.all()


def test_a_folder_in_the_place_of_the_store_cannot_be_opened(tmp_path: Path) -> None:
    """What cannot be opened is said with the way out: a copy where one may write."""
    (tmp_path / NAME).mkdir()
    with pytest.raises(StoreTrouble, match=r"cannot be opened for writing.*Copy the whole county folder"):
        open_store(tmp_path)


def test_a_full_disk_changes_nothing(desk: Desk, count: Count) -> None:
    """Where no page can be added the event is refused in words, and those before it stay."""
    before = desk.store.events.count()
    # SQLite answers FULL also where a set number of pages is reached; the pool lends this connection again.
    with desk.store.database.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count=1")
    written = 0
    with pytest.raises(StoreTrouble, match=r"disk is full; .* was not changed"):
        for written in range(2_000):
            count(desk, written)
    assert desk.store.events.count() == before + written


def test_a_writer_who_waits_too_long_is_told_who_is_in_the_way(tmp_path: Path) -> None:
    """While another program holds the write lock, the words say to wait; nothing is changed."""
    with open_store(tmp_path) as store:
        other = sqlite3.connect(tmp_path / NAME, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        try:
            with (
                pytest.raises(StoreTrouble, match=r"Another program is still writing"),
                store.database.engine.connect() as connection,
            ):
                connection.exec_driver_sql("ROLLBACK")
                connection.exec_driver_sql("PRAGMA busy_timeout=1")
                connection.exec_driver_sql("BEGIN IMMEDIATE")
        finally:
            other.close()


def test_an_export_that_breaks_off_leaves_no_folder(
    desk: Desk, count: Count, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No folder of that name holds half a record, so that the same command can be given again."""
    count(desk, 1)
    real = Path.write_bytes

    def full(self: Path, data: bytes) -> int:
        if self.name == "head.json":
            raise OSError(28, "No space left on device")
        return real(self, data)

    monkeypatch.setattr(Path, "write_bytes", full)
    before = sorted(tmp_path.iterdir())
    with pytest.raises(OSError, match="No space left"):
        export_record(desk.store, tmp_path / "out")
    assert sorted(tmp_path.iterdir()) == before
    monkeypatch.undo()
    export_record(desk.store, tmp_path / "out")
    assert (tmp_path / "out" / "head.json").is_file()


def test_an_emptied_file_beside_keys_is_a_record_that_is_gone(tmp_path: Path) -> None:
    """It is told and left as it is; without keys an empty file becomes a store, as it always did."""
    (tmp_path / "pollstead.db").touch()
    (tmp_path / "keys").mkdir()
    (tmp_path / "keys" / "office.pem").write_text("a key", encoding="utf-8")
    with pytest.raises(StoreTrouble, match="a record was here and is gone"):
        open_store(tmp_path)
    assert (tmp_path / "pollstead.db").stat().st_size == 0
    (tmp_path / "keys" / "office.pem").unlink()
    open_store(tmp_path).close()
