"""Events in the store: append-only, one writer, redaction, and what the triggers refuse."""

from __future__ import annotations

import concurrent.futures
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from pollstead.record.event import Signed
from pollstead.record.kinds.days import SiteOpened
from pollstead.record.write import Moment, ToRecord
from pollstead.store.desk import Desk, open_desk
from pollstead.store.exchange import check_store
from pollstead.store.guards import GUARDS, guard_name
from pollstead.store.opening import open_store

ANOTHER_VALUE = """
UPDATE events SET bytes = CAST(replace(CAST(bytes AS TEXT), '"value":2', '"value":7') AS BLOB) WHERE seq = 4
"""


def test_what_was_written_is_there_when_opened_again(desk: Desk, tmp_path: Path) -> None:
    """Every event, byte for byte and in order, and the next counter follows the last."""
    before = desk.store.events.all()
    desk.close()
    with open_store(tmp_path / "county") as store:
        assert store.events.all() == before
        assert [stored.seq for stored in store.events.since(3)] == [4, 5, 6, 7]
        assert store.events.count() == 7
        assert store.events.head().size == 7
        assert len(store.events.of_site("site/S01")) == 6


def test_the_first_event_is_the_desks_own_certificate(desk: Desk) -> None:
    """A record begins with the certificate of the device that writes it, and checks."""
    first = desk.store.events.all()[0].event
    assert (first.kind, first.subject, first.device, first.n) == (
        "key.device_certified",
        "desk/office",
        "desk/office",
        1,
    )
    assert check_store(desk.store).checks


def test_a_store_runs_with_the_pragmas_that_custody_needs(desk: Desk) -> None:
    """Write-ahead log, a sync at each commit, foreign keys, patience, and overwriting of what is deleted."""
    with desk.store.database.reading() as connection:
        found = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout", "secure_delete")
        }
    assert found == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "busy_timeout": 5000,
        "secure_delete": 1,
    }


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE events SET site = 'site/S02'",
        "UPDATE events SET seq = seq + 100",
        "DELETE FROM events WHERE seq = 3",
        "DELETE FROM side_objects",
        "UPDATE side_objects SET bytes = x'00'",
        "UPDATE side_objects SET digest = 'x', bytes = NULL, redacted_utc_ms = 1",
    ],
)
def test_events_and_private_parts_cannot_be_changed_by_accident(
    desk: Desk, tmp_path: Path, statement: str
) -> None:
    """The triggers refuse it from any program that opens the file."""
    head = desk.store.events.head()
    connection = sqlite3.connect(tmp_path / "county" / "pollstead.db")
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute(statement)
    connection.close()
    assert desk.store.events.head() == head


def test_every_guard_is_in_place(desk: Desk) -> None:
    """A migration that loses a trigger is noticed here."""
    with desk.store.database.reading() as connection:
        names = connection.execute(sa.text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars()
        assert set(names) == {guard_name(table, verb) for table, verb, _ in GUARDS}


def test_two_processes_of_one_device_never_give_one_counter_twice(
    desk: Desk, tmp_path: Path, count: Callable[[Desk, int], Signed]
) -> None:
    """Four writers of the same device at once: one chain without gap or fork."""
    desk.close()

    def write(start: int) -> None:
        mine = open_desk(tmp_path / "county")
        for value in range(start, start + 10):
            count(mine, value)
        mine.close()

    with concurrent.futures.ThreadPoolExecutor(4) as pool:
        list(pool.map(write, (100, 200, 300, 400)))
    with open_store(tmp_path / "county") as store:
        assert [signed.event.n for signed in store.events.all()] == list(range(1, 48))
        assert check_store(store).checks


def test_an_error_while_an_event_is_made_writes_nothing(desk: Desk) -> None:
    """The transaction is undone and the next event takes the same counter."""

    def fails(n: int, prev: str) -> Any:
        raise ValueError(f"no event {n}")

    with pytest.raises(ValueError, match="no event 8"):
        desk.store.events.append_run("desk/office", fails)
    assert desk.store.events.count() == 7


def test_the_events_of_one_act_are_all_written_or_none(desk: Desk) -> None:
    """Where the last of three does not fit, none is written; else they stand in a row and check."""
    people = desk.store.events.all()[0].event.people
    moment = Moment(utc_ms=desk.header.created_utc_ms + 9, offset_min=0, uncertainty_ms=0)

    def entries(last: str) -> tuple[ToRecord, ...]:
        subjects = ("site/S01", "site/S02", last)
        return tuple(ToRecord(body=SiteOpened(at_min=400), subject=one, day="2028-11-07") for one in subjects)

    with pytest.raises(ValueError, match=r"subject of site\.opened"):
        desk.recorder.record_run(entries("device/scanner/1"), people=people, moment=moment)
    assert desk.store.events.count() == 7
    written = desk.recorder.record_run(entries("site/S03"), people=people, moment=moment)
    assert [one.event.n for one in written] == [8, 9, 10]
    assert [one.event.prev for one in written[1:]] == [one.id for one in written[:-1]]
    assert check_store(desk.store).checks


def test_an_event_is_added_once(desk: Desk) -> None:
    """Adding what is here already changes nothing."""
    events = desk.store.events.all()
    assert desk.store.events.add(events) == 0
    assert not desk.store.events.append(events[2])
    assert desk.store.events.all() == events


def test_redaction_keeps_every_proof_and_overwrites_the_bytes(desk: Desk, tmp_path: Path) -> None:
    """After it, the record checks as before and the number is nowhere in the folder."""
    head = desk.store.events.head()
    digest = desk.store.events.all()[-1].event.private
    folder = tmp_path / "county"
    assert any(b"0048211" in path.read_bytes() for path in folder.glob("pollstead.db*"))
    assert desk.store.sides.redact(digest, 1)
    assert not desk.store.sides.redact(digest, 2)
    report = check_store(desk.store, (head,))
    assert report.checks
    assert "no event says so" in report.remarks[0].english()
    assert desk.store.sides.fields() == {}
    assert not any(b"0048211" in path.read_bytes() for path in folder.glob("pollstead.db*"))


def test_the_desk_records_what_it_redacts(desk: Desk) -> None:
    """The redaction is an event with author and reason; a second one is refused."""
    seen = desk.store.events.all()[-1]
    people, moment = seen.event.people, Moment(utc_ms=seen.event.utc_ms, offset_min=-300, uncertainty_ms=0)
    said = desk.redact(seen, reason="Holds a name.", people=people, moment=moment)
    report = check_store(desk.store)
    assert report.checks
    assert f"as event {said.id[:12]} says" in report.remarks[0].english()
    with pytest.raises(ValueError, match="no private part here"):
        desk.redact(seen, reason="Again.", people=people, moment=moment)


@pytest.mark.parametrize(
    ("statement", "problem"),
    [
        (ANOTHER_VALUE, "id"),
        ("UPDATE events SET signature = x'00' WHERE seq = 4", "signature"),
        ("DELETE FROM events WHERE seq = 4", "gap"),
        ("UPDATE events SET seq = CASE seq WHEN 4 THEN 40 ELSE seq END", "order"),
        ("UPDATE events SET id = substr(id, 2) || 'f' WHERE seq = 4", "id"),
        ("UPDATE side_objects SET bytes = x'7b7d'", "private"),
    ],
)  # fmt: skip
def test_a_change_made_behind_the_triggers_is_named(
    desk: Desk, tmp_path: Path, statement: str, problem: str
) -> None:
    """Who drops the triggers and edits the file is found by the check."""
    with sqlite3.connect(tmp_path / "county" / "pollstead.db") as connection:
        for table, verb, _ in GUARDS:
            connection.execute(f"DROP TRIGGER {guard_name(table, verb)}")
        connection.execute(statement)
    connection.close()
    report = check_store(desk.store)
    assert problem in {str(found.problem) for found in report.troubles}
