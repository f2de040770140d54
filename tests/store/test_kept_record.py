"""The record kept in memory: each event is read once, and what is kept never hides what the store holds."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa

from pollstead.record.event import Signed
from pollstead.record.fold import fold
from pollstead.store import events as module
from pollstead.store import kept_record
from pollstead.store.database import Database, database_url
from pollstead.store.desk import Desk
from pollstead.store.events import Events
from pollstead.store.kept_record import KeptRecord
from pollstead.store.opening import Store, open_store

Count = Callable[[Desk, int], Signed]
Seal = Callable[[Desk, str], Signed]


def same_as_folded_anew(store: Store) -> None:
    """What is kept is what the fold of everything gives, with and without private parts."""
    anew = fold(store.events.all(), store.sides.fields())
    kept = store.fold(private=True)
    assert (kept.facts, kept.order, kept.notices) == (anew.facts, anew.order, anew.notices)
    assert store.fold().facts == fold(store.events.all()).facts


def test_each_event_is_read_once_however_often_it_is_asked_for(
    desk: Desk, count: Count, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Folds, lists and a second store on the same file read nothing twice; a new event is read alone."""
    read: list[bytes] = []
    reading = module.read_signed

    def counted(data: bytes, signature: bytes) -> Signed:
        read.append(data)
        return reading(data, signature)

    monkeypatch.setattr(module, "read_signed", counted)
    folder = Path(str(desk.store.database.engine.url.database)).parent
    with open_store(folder) as other:
        for store in (desk.store, other):
            assert len(store.events.all()) == 7
            assert store.fold(private=True) is store.fold(private=True)
        assert len(read) == 7
        count(desk, 8)
        assert len(other.events.since(7)) == 1
        assert len(read) == 8


def test_what_another_process_writes_is_there_at_the_next_look(desk: Desk, count: Count, seal: Seal) -> None:
    """A reader of its own, as another process has, sees each new event and its private part at once."""
    url = database_url(Path(str(desk.store.database.engine.url.database)))
    database = Database(url)
    apart = Events(database, KeptRecord())
    try:
        for value in (11, 3, 12):
            count(desk, value)
            seal(desk, f"03{value:06d}")
            assert apart.all() == desk.store.events.all()
            same_as_folded_anew(desk.store)
    finally:
        database.close()


def test_a_store_that_nobody_changed_is_not_asked_again_and_each_commit_is_seen(
    desk: Desk, count: Count
) -> None:
    """No statement runs while nothing was committed; a commit of any table by anybody is met at once."""
    store, asked = desk.store, []
    path = Path(str(store.database.engine.url.database))

    def look() -> tuple[object, object]:
        return store.fold(private=True), store.plans.list()

    before = look()
    sa.event.listen(store.database.engine, "before_cursor_execute", lambda *told: asked.append(told[2]))
    assert all(a is b for a, b in zip(look(), before, strict=True)) and asked == []
    with contextlib.closing(sqlite3.connect(path)) as another, another:
        another.execute(
            "INSERT INTO plan_versions (digest, parent, snapshot, label, effort, seed, stopped_early,"
            " created_utc_ms, bytes) VALUES ('d', '', 's', '', 'quick', '1', 0, 5, x'00')"
        )
    assert [line.digest for line in look()[1]] == ["d"] and asked != []  # type: ignore[attr-defined]
    count(desk, 77)
    assert look()[0] is store.fold(private=True)
    same_as_folded_anew(store)


def test_a_file_in_the_place_of_the_one_that_was_read_is_read(
    desk: Desk, count: Count, tmp_path: Path
) -> None:
    """Another file moved there while the store is open has another state; a missing one has none."""
    path = Path(str(desk.store.database.engine.url.database))
    database = Database(database_url(path))
    try:
        first = database.state()
        assert first is not None and database.state() == first
        desk.store.database.copy_to(tmp_path / "copy.db")
        desk.store.database.close()
        (tmp_path / "copy.db").replace(path)
        second = database.state()
        assert second is not None and second != first
        path.unlink()
        assert database.state() is None and not path.exists()
    finally:
        database.close()


def test_many_new_events_at_once_fold_as_they_would_one_by_one(
    desk: Desk, count: Count, monkeypatch: pytest.MonkeyPatch
) -> None:
    """More new events than are put into the order one by one: everything is folded together."""
    monkeypatch.setattr(kept_record, "FEW_NEW", 3)
    desk.store.fold(private=True)
    for value in range(4):
        count(desk, value + 100)
    same_as_folded_anew(desk.store)


def test_a_redacted_part_is_gone_from_what_is_kept(desk: Desk, seal: Seal) -> None:
    """Neither a fold nor the fields hold it any longer, whoever redacted it."""
    seen = seal(desk, "03010042")
    digest = seen.event.private
    assert desk.store.sides.fields()[digest]["number"] == "03010042"
    desk.store.fold(private=True)
    # As another process would, with no event beside.
    with sqlite3.connect(str(desk.store.database.engine.url.database)) as connection:
        connection.execute(
            "UPDATE side_objects SET bytes = NULL, redacted_utc_ms = 1 WHERE digest = ?", (digest,)
        )
    assert digest not in desk.store.sides.fields()
    same_as_folded_anew(desk.store)
    shown = [r.private for f in desk.store.fold(private=True).facts for r in f.readings if r.event == seen.id]
    assert shown == [None]


def test_a_store_that_was_put_back_is_read_from_the_start(desk: Desk, count: Count, tmp_path: Path) -> None:
    """An older file in the place of a newer one: what came after it is known no longer."""
    path = Path(str(desk.store.database.engine.url.database))
    older = tmp_path / "older.db"
    desk.store.database.copy_to(older)
    kept = desk.store.events.all()
    count(desk, 21)
    assert len(desk.store.events.all()) == len(kept) + 1
    shared = desk.store  # still open: what it read is shared with the store opened below
    shared.database.close()
    for beside in path.parent.glob(f"{path.name}-*"):
        beside.unlink()
    shutil.copyfile(older, path)
    with open_store(path.parent) as store:
        assert store.events.all() == kept
        same_as_folded_anew(store)
