"""A copy at each change: soon after the last write, never one for each, told where it cannot be made."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.cli.after import folder_of
from pollstead.cli.main import run
from pollstead.record.event import Means, Part, Person
from pollstead.record.kinds.days import CountRead
from pollstead.record.write import Moment
from pollstead.store.backup import copy_after_change, make_copy
from pollstead.store.copy_list import check_copy, copies_in
from pollstead.store.copy_state import CopyTarget, copy_place, last_good_copy, set_copy_target
from pollstead.store.copy_status import copy_sentences, copy_status
from pollstead.store.desk import Desk, begin_desk
from pollstead.store.opening import open_store
from pollstead.work.copying import BOUND_S, REST, SETTLE_S, CopyKeeper, Waiting

NOW = 1_857_200_100_000
ME = (Person(person="person/P001", means=Means.OWN_DEVICE, part=Part.AUTHOR),)


def at(step: int = 0) -> Moment:
    """A moment `step` seconds later."""
    return Moment(utc_ms=NOW + step * 1000, offset_min=-300, uncertainty_ms=0)


def read(desk: Desk, value: int) -> None:
    """Record one reading."""
    desk.recorder.record(
        CountRead(term="public_counter_open", value=value, source="screen"),
        subject="device/scanner/0012",
        site="site/S01",
        day="2028-11-07",
        people=ME,
        moment=at(value),
    )


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """A county folder with a record and a table."""
    (tmp_path / "county").mkdir()
    (tmp_path / "county" / "sites.csv").write_text("id,name\nS01,Ash Hall\n", encoding="utf-8")
    made = begin_desk(
        tmp_path / "county", county="Larkmoor", election="General", practice=False, people=ME, moment=at()
    )
    yield made
    made.close()


@pytest.fixture
def stick(tmp_path: Path, desk: Desk) -> Path:
    """The second place, set for a copy at each change."""
    (tmp_path / "stick").mkdir()
    set_copy_target(desk.store, copy_place(tmp_path / "county", tmp_path / "stick"))
    return tmp_path / "stick"


@given(
    gaps=st.lists(st.floats(min_value=0.001, max_value=5.0), min_size=1, max_size=200),
    took=st.floats(min_value=0.0, max_value=30.0),
)
def test_writes_are_gathered_and_no_copy_waits_longer_than_its_bound(gaps: list[float], took: float) -> None:
    """Any stream of writes, looked at every half second: each is in a copy that began in time."""
    waiting, now, oldest = Waiting(), 0.0, None
    ended, copies = -1e9, 0
    pending = list(gaps)
    coming = pending.pop(0)
    while coming is not None or waiting.waits:
        now += 0.5
        while coming is not None and coming <= now:
            waiting.changed(coming)
            oldest = coming if oldest is None else oldest
            coming = coming + pending.pop(0) if pending else None
        if waiting.is_due(now):
            assert now - ended >= REST * took - 1e-9 or copies == 0, "it rests between two copies"
            assert oldest is not None
            assert now <= max(oldest + BOUND_S, ended + REST * took) + 0.5 + 1e-9
            waiting.began()
            copies, oldest = copies + 1, None
            now += took
            ended = now
            waiting.ended(now, took)
    assert 1 <= copies <= 1 + sum(gaps) / min(SETTLE_S, BOUND_S) + 1


def test_a_burst_of_readings_gives_one_copy_with_all_of_them(desk: Desk, stick: Path, tmp_path: Path) -> None:
    """Two hundred readings, then the end of the app: the copy has every one, and there is one copy."""
    keeper = CopyKeeper(desk.store, tmp_path / "county", clock=lambda: NOW, look_s=0.01)
    keeper.start()
    for value in range(200):
        read(desk, value)
    keeper.stop()
    copies = copies_in(stick)
    assert copies[0].facts.head == desk.store.events.head()
    assert len(copies) <= 2, "one at the end, and at most one that began before the readings did"
    check_copy(stick / copies[0].name)
    keeper.start()
    keeper.stop()
    assert len(copies_in(stick)) == len(copies), "nothing changed, so nothing was copied"


def test_what_another_process_or_a_spreadsheet_writes_is_copied_too(
    desk: Desk, stick: Path, tmp_path: Path
) -> None:
    """The keeper is told by nobody: it sees another process's commit, and a table that was saved."""
    keeper = CopyKeeper(desk.store, tmp_path / "county", clock=lambda: NOW)
    connection = keeper._connection()
    keeper._look(connection)
    keeper._waiting.began()
    keeper._look(connection)
    assert not keeper._waiting.waits
    write = "import sys, sqlite3; c = sqlite3.connect(sys.argv[1]); "
    write += "c.execute(\"INSERT INTO settings VALUES ('other', x'00')\"); c.commit()"
    database = str(tmp_path / "county" / "pollstead.db")
    subprocess.run([sys.executable, "-c", write, database], check=True)
    keeper._look(connection)
    assert keeper._waiting.waits
    keeper._waiting.began()
    (tmp_path / "county" / "sites.csv").write_text("id,name\nS01,Elm Hall\n", encoding="utf-8")
    keeper._look(connection)
    assert keeper._waiting.waits
    connection.close()


def test_a_store_that_cannot_be_asked_for_a_while_is_copied_once_it_can(
    desk: Desk, stick: Path, tmp_path: Path
) -> None:
    """Bytes of the file are overwritten while the keeper looks, then put back: copies go on by themselves."""
    file = tmp_path / "county" / "pollstead.db"
    desk.store.database.empty_write_ahead_log()
    desk.store.database.engine.dispose()
    good = file.read_bytes()
    keeper = CopyKeeper(desk.store, tmp_path / "county", clock=lambda: NOW, look_s=0.01)
    looked = threading.Event()
    look_at = keeper._look_at

    def look_and_tell(connection: sqlite3.Connection) -> object:
        seen = look_at(connection)
        looked.set()
        return seen

    keeper._look_at = look_and_tell  # type: ignore[method-assign, assignment]
    file.write_bytes(b"not a database at all" + good[21:])
    keeper.start()
    assert looked.wait(timeout=20)
    file.write_bytes(good)
    read(desk, 1)
    keeper.stop()
    assert copies_in(stick)[0].facts.head == desk.store.events.head()


def test_a_stick_pulled_out_is_told_with_the_last_good_time_and_settles_when_it_is_back(
    desk: Desk, stick: Path, tmp_path: Path
) -> None:
    """Entries go on; the page says since when there is no copy, why, and what to do."""
    county = tmp_path / "county"
    assert copy_after_change(county, utc_ms=NOW).made is not None
    stick.rename(tmp_path / "pocket")
    read(desk, 1)
    assert copy_after_change(county, utc_ms=NOW + 60_000).trouble is not None
    assert copy_after_change(county, utc_ms=NOW + 90_000).trouble is not None
    status = copy_status(desk.store)
    assert not status.is_well and status.newer == 1
    assert status.trouble is not None and status.trouble.utc_ms == NOW + 60_000, (
        "since when, not the last try"
    )
    said = [one.english() for one in copy_sentences(status, lambda ms: f"at {ms}")]
    assert said[0] == f"No copy since at {NOW}."
    assert "is not there. Put the stick in" in said[1]
    (tmp_path / "pocket").rename(stick)
    assert copy_after_change(county, utc_ms=NOW + 120_000).made is not None
    assert copy_status(desk.store).is_well and copy_status(desk.store).newer == 0
    stick.rename(tmp_path / "pocket")
    copy_after_change(county, utc_ms=NOW + 150_000)
    (tmp_path / "pocket").rename(stick)
    assert copy_after_change(county, utc_ms=NOW + 180_000).made is None, "nothing new: the copy is as it was"
    assert copy_status(desk.store).is_well


def test_a_stick_that_is_put_in_again_gets_its_copy_at_the_next_look(
    desk: Desk, stick: Path, tmp_path: Path
) -> None:
    """After a failure it rests half a minute, but not when the place is there again."""
    keeper = CopyKeeper(desk.store, tmp_path / "county", clock=lambda: NOW)
    connection = keeper._connection()
    keeper._turn(connection)
    stick.rename(tmp_path / "pocket")
    keeper._turn(connection)
    keeper._copy()
    assert not copy_status(desk.store).is_well
    keeper._turn(connection)
    assert copies_in(tmp_path / "pocket") == ()
    (tmp_path / "pocket").rename(stick)
    keeper._turn(connection)
    assert copy_status(desk.store).is_well and len(copies_in(stick)) == 1
    connection.close()


def test_a_folder_that_a_stick_left_behind_on_this_disk_is_not_taken_for_the_stick(
    desk: Desk, tmp_path: Path
) -> None:
    """The mount point stays when a stick is gone; a copy there would die with this disk."""
    (tmp_path / "mnt").mkdir()
    set_copy_target(desk.store, CopyTarget(path=str(tmp_path / "mnt"), keep=7, packets=False, apart=True))
    trouble = copy_after_change(tmp_path / "county", utc_ms=NOW).trouble
    assert trouble is not None and "the stick or second disk is not in" in trouble.said.english()
    assert os.listdir(tmp_path / "mnt") == []


def test_a_stick_that_goes_while_it_is_written_leaves_the_earlier_copy_and_the_entries(
    desk: Desk, stick: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Everything on it vanishes half way: told, nothing raised; back again, the earlier copy still checks."""
    county = tmp_path / "county"
    first = copy_after_change(county, utc_ms=NOW).made
    assert first is not None
    read(desk, 1)
    real = shutil.copyfileobj

    def pulled(*given: object) -> None:
        stick.rename(tmp_path / "pocket")
        monkeypatch.setattr(shutil, "copyfileobj", real)
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(shutil, "copyfileobj", pulled)
    done = copy_after_change(county, utc_ms=NOW + 60_000)
    assert done.made is None and done.trouble is not None
    assert "The earlier copies are as they were" in done.trouble.said.english()
    (tmp_path / "pocket").rename(stick)
    check_copy(Path(first.path))
    after = copy_after_change(county, utc_ms=NOW + 120_000).made
    assert after is not None and after.facts.head == desk.store.events.head()
    assert [name for name in os.listdir(stick) if name.startswith(".")] == [], "half a copy is swept away"


@pytest.mark.skipif(os.name != "posix", reason="there is no kill -9 on Windows")
def test_a_keeper_killed_while_it_copies_leaves_the_earlier_copy_good(
    desk: Desk, stick: Path, tmp_path: Path
) -> None:
    """Ended by kill -9 inside a copy; the next start makes the copy that is lacking."""
    county = tmp_path / "county"
    first = make_copy(county, stick, utc_ms=NOW)
    read(desk, 1)
    script = (
        "import os, signal, sys, time\nfrom pathlib import Path\nimport pollstead.store.backup as backup\n"
        "from pollstead.store.opening import open_store\nfrom pollstead.work.copying import CopyKeeper\n"
        "backup.check_copy = lambda *_: os.kill(os.getpid(), signal.SIGKILL)\n"
        "keeper = CopyKeeper(open_store(sys.argv[1]), Path(sys.argv[1]), look_s=0.01)\n"
        "keeper.start(); keeper.stop()\n"
    )
    ended = subprocess.run([sys.executable, "-c", script, str(county)], timeout=60, check=False)
    assert ended.returncode == -signal.SIGKILL
    check_copy(Path(first.path))
    keeper = CopyKeeper(desk.store, county, clock=lambda: NOW + 60_000)
    keeper.start()
    keeper.stop()
    last = last_good_copy(desk.store)
    assert last is not None and last.head == desk.store.events.head()


def test_a_command_that_writes_copies_and_says_so_and_one_that_reads_does_not(
    desk: Desk, stick: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The words stand on the error channel, so that JSON on the other stays JSON."""
    county = str(tmp_path / "county")
    assert folder_of(["check", county]) is None and folder_of(["record", "head", county]) is None
    assert folder_of(["record", "import", county, "x"]) == Path(county)
    assert folder_of(["plan", str(tmp_path)]) is None, "no store, nothing to copy"
    assert run(["record", "head", county]) == 0
    assert copies_in(stick) == ()
    read(desk, 1)
    run(["record", "import", county, str(tmp_path / "absent")])
    said = capsys.readouterr()
    assert "Last good copy: " in said.err and "Last good copy" not in said.out
    assert copies_in(stick)[0].facts.head == desk.store.events.head()
    with open_store(tmp_path / "county") as store:
        set_copy_target(store, None)
    run(["record", "import", county, str(tmp_path / "absent")])
    assert "pollstead backup FOLDER TO --set" in capsys.readouterr().err


def test_copying_never_holds_up_a_writer(desk: Desk, stick: Path, tmp_path: Path) -> None:
    """While a copy is being written and waits, readings are recorded."""
    county = tmp_path / "county"
    inside, go_on = threading.Event(), threading.Event()
    from pollstead.store import copy_write

    real: Callable[..., object] = copy_write._put

    def slow(path: Path, data: bytes) -> None:
        inside.set()
        assert go_on.wait(30)
        real(path, data)

    copy_write._put = slow  # type: ignore[assignment]
    try:
        thread = threading.Thread(target=lambda: copy_after_change(county, utc_ms=NOW))
        thread.start()
        assert inside.wait(30)
        for value in range(20):
            read(desk, value)
        go_on.set()
        thread.join(30)
    finally:
        copy_write._put = real  # type: ignore[assignment]
    assert copies_in(stick)[0].facts.head.size == 1 and desk.store.events.count() == 21
