"""Copies of a county folder: whole, checked, the last few kept, and no earlier one hurt by a failure."""

from __future__ import annotations

import errno
import os
import random
import shutil
import sqlite3
import stat
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from pollstead.election.canonical import sha256_hex
from pollstead.record.event import Signed
from pollstead.store import backup as backup_module
from pollstead.store import copy_write
from pollstead.store.backup import copy_after_change, make_copy
from pollstead.store.copy_list import check_copy, copies_in
from pollstead.store.copy_state import (
    CopyTarget,
    copy_target,
    events_since_copy,
    last_copy_trouble,
    last_good_copy,
    set_copy_target,
)
from pollstead.store.desk import Desk
from pollstead.store.opening import open_store
from pollstead.store.refusal import Refusal

pytestmark = pytest.mark.full

NOW = 1_857_200_100_000
SECOND = 1_000


def names(folder: Path) -> list[str]:
    """Everything in a folder, hidden names too."""
    return sorted(os.listdir(folder))


def ids_in(copy: Path) -> list[str]:
    """The event ids in a copied database, read by the sqlite3 module alone."""
    connection = sqlite3.connect(f"file:{copy}/county/pollstead.db?immutable=1", uri=True)
    try:
        return [row[0] for row in connection.execute("SELECT id FROM events ORDER BY seq")]
    finally:
        connection.close()


@pytest.fixture
def county(desk: Desk, tmp_path: Path) -> Path:
    """A county folder with two tables, a packet, a hidden file, and a record of seven events."""
    folder = tmp_path / "county"
    (folder / "sites.csv").write_text("id,name\nS01,Ash Hall é\n", encoding="utf-8")
    (folder / "day").mkdir()
    (folder / "day" / "notes.csv").write_text("a\n", encoding="utf-8")
    (folder / "packets").mkdir()
    (folder / "packets" / "S01.pdf").write_bytes(b"%PDF-invented")
    (folder / ".hidden").write_text("x", encoding="utf-8")
    (folder / "~$sites.xlsx").write_text("x", encoding="utf-8")
    return folder


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    """The second place."""
    place = tmp_path / "stick"
    place.mkdir()
    return place


def test_a_copy_holds_the_store_the_tables_and_a_list_that_another_tool_reads(
    county: Path, stick: Path, desk: Desk
) -> None:
    """`sha256sum --check` (GNU coreutils) accepts the list; keys, packets and hidden files stay behind."""
    made = make_copy(county, stick, utc_ms=NOW)
    copy = Path(made.path)
    inside = sorted(path.relative_to(copy).as_posix() for path in copy.rglob("*") if path.is_file())
    assert inside == [
        "README.txt",
        "copy.json",
        "county/day/notes.csv",
        "county/pollstead.db",
        "county/sites.csv",
        "files.sha256",
    ]
    assert (copy / "county/sites.csv").read_bytes() == (county / "sites.csv").read_bytes()
    assert made.facts.head == desk.store.events.head()
    assert ids_in(copy) == [signed.id for signed in desk.store.events.all()]
    tool = shutil.which("sha256sum")
    if tool is None:
        pytest.skip("sha256sum of GNU coreutils is not on this system")
    said = subprocess.run(
        [tool, "--check", "--strict", "files.sha256"], check=False, cwd=copy, capture_output=True
    )
    assert said.returncode == 0, said.stderr
    assert len(said.stdout.splitlines()) == len(inside) - 1


def test_packets_and_the_key_of_the_office_go_along_only_when_asked(county: Path, stick: Path) -> None:
    """The computer's own key never goes along; what does is for its owner alone."""
    made = make_copy(county, stick, utc_ms=NOW, packets=True, with_keys=True)
    inside = Path(made.path) / "county"
    assert (inside / "packets" / "S01.pdf").read_bytes() == b"%PDF-invented"
    assert names(inside / "keys") == ["office.pem"]
    assert (inside / "keys/office.pem").read_bytes() == (county / "keys/office.pem").read_bytes()
    assert made.facts.office_key and made.facts.packets
    if os.name == "posix":
        assert stat.S_IMODE((inside / "keys/office.pem").stat().st_mode) == 0o600
        assert stat.S_IMODE(Path(made.path).stat().st_mode) == 0o700
    (county / "keys" / "office.pem").unlink()
    with pytest.raises(Refusal, match="Leave out --with-keys"):
        make_copy(county, stick, utc_ms=NOW, with_keys=True)
    assert names(stick) == [Path(made.path).name]


def test_the_last_few_copies_are_kept_and_those_of_others_left_alone(
    county: Path, stick: Path, tmp_path: Path, make_desk: Callable[..., Desk]
) -> None:
    """Copies of another folder, files of other kinds, and copies of the other occasion stay."""
    other = make_desk(tmp_path / "other")
    others = Path(make_copy(tmp_path / "other", stick, utc_ms=NOW).path).name
    other.close()
    (stick / "letter.txt").write_text("a", encoding="utf-8")
    (stick / "copy-holiday").mkdir()
    made = [make_copy(county, stick, utc_ms=NOW + step * SECOND, keep=2) for step in range(1, 5)]
    kept = [Path(one.path).name for one in made[-2:]]
    assert names(stick) == sorted([others, "letter.txt", "copy-holiday", *kept])
    assert made[-1].removed == (Path(made[1].path).name,)
    with open_store(county) as store:
        set_copy_target(store, CopyTarget(path=str(stick), keep=1, packets=False))
    (county / "sites.csv").write_text("id,name\n", encoding="utf-8")
    changed = copy_after_change(county, utc_ms=NOW + 9 * SECOND).made
    assert changed is not None and changed.removed == ()
    assert set(kept) < set(names(stick))


def test_a_clock_that_went_back_does_not_cost_the_newest_copy(county: Path, stick: Path) -> None:
    """The copy just made stays, even where older copies say a later time."""
    later = make_copy(county, stick, utc_ms=NOW + 86_400 * SECOND, keep=1)
    made = make_copy(county, stick, utc_ms=NOW, keep=1)
    assert names(stick) == [Path(made.path).name]
    assert made.removed == (Path(later.path).name,)


def test_two_copies_of_one_second_have_two_names(county: Path, stick: Path) -> None:
    """Nothing is written over."""
    first, second = (make_copy(county, stick, utc_ms=NOW) for _ in range(2))
    assert first.path != second.path
    assert len(copies_in(stick)) == 2


def test_the_store_remembers_the_last_good_copy_and_the_last_trouble(
    county: Path, stick: Path, desk: Desk, count: Callable[[Desk, int], Signed]
) -> None:
    """A page can say when the last good copy was made, what came since, and why there is none newer."""
    assert last_good_copy(desk.store) is None and events_since_copy(desk.store) == 7
    made = make_copy(county, stick, utc_ms=NOW)
    last = last_good_copy(desk.store)
    assert last is not None and last.made_utc_ms == NOW and last.path == made.path
    assert last.head == desk.store.events.head() and events_since_copy(desk.store) == 0
    count(desk, 80)
    set_copy_target(desk.store, CopyTarget(path=str(stick / "gone"), keep=3, packets=False))
    outcome = copy_after_change(county, utc_ms=NOW + SECOND)
    trouble = last_copy_trouble(desk.store)
    assert outcome.made is None and trouble is not None and trouble == outcome.trouble
    assert "Put the stick in" in trouble.said.english() and trouble.utc_ms == NOW + SECOND
    assert last_good_copy(desk.store) == last and events_since_copy(desk.store) == 1
    make_copy(county, stick, utc_ms=NOW + 2 * SECOND)
    assert last_copy_trouble(desk.store) is None


def test_a_copy_follows_each_change_and_nothing_else(
    county: Path, stick: Path, desk: Desk, count: Callable[[Desk, int], Signed]
) -> None:
    """An event, a table, a redaction, a plan each bring one copy; asking again brings none."""
    assert copy_after_change(county, utc_ms=NOW) == backup_module.AfterChange()
    set_copy_target(desk.store, CopyTarget(path=str(stick), keep=9, packets=False))

    def copied(step: int) -> bool:
        outcome = copy_after_change(county, utc_ms=NOW + step * SECOND)
        assert outcome.trouble is None
        return outcome.made is not None

    assert [copied(1), copied(2)] == [True, False]
    count(desk, 90)
    assert [copied(3), copied(4)] == [True, False]
    (county / "sites.csv").write_text("id,name\nS02,Oak\n", encoding="utf-8")
    assert [copied(5), copied(6)] == [True, False]
    assert desk.store.sides.redact(next(iter(desk.store.sides.all())), NOW)
    assert [copied(7), copied(8)] == [True, False]
    desk.store.snapshots.save(b"facts", label="", created_utc_ms=NOW)
    assert [copied(9), copied(10)] == [True, False]
    shutil.rmtree(stick / names(stick)[-1])
    assert copied(11), "a copy that somebody took away is made again"
    assert all(copy.facts.occasion == "change" for copy in copies_in(stick))


def test_places_that_are_no_second_place_are_refused(county: Path, stick: Path, tmp_path: Path) -> None:
    """A stick that is not in is not made as a folder; a copy never goes into what it copies."""
    with pytest.raises(Refusal, match="Put the stick in"):
        make_copy(county, tmp_path / "absent", utc_ms=NOW)
    assert not (tmp_path / "absent").exists()
    with pytest.raises(Refusal, match="is inside"):
        make_copy(county, county / "day", utc_ms=NOW)
    with pytest.raises(Refusal, match="no store yet"):
        make_copy(stick, county, utc_ms=NOW)
    with pytest.raises(ValueError, match="at least 1"):
        make_copy(county, stick, utc_ms=NOW, keep=0)
    assert any("same disk" in remark.english() for remark in make_copy(county, stick, utc_ms=NOW).remarks)


def test_a_full_stick_is_said_before_and_while_writing(
    county: Path, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Too little room, and no room left half way: the earlier copy stays, nothing half-made does."""
    first = Path(make_copy(county, stick, utc_ms=NOW).path).name
    with monkeypatch.context() as patch:
        usage = type(shutil.disk_usage(stick))(10_000_000, 9_990_000, 10_000)
        patch.setattr(copy_write.shutil, "disk_usage", lambda _: usage)
        with pytest.raises(Refusal, match=r"is full: a copy needs \d+ kB, 10 kB are free"):
            make_copy(county, stick, utc_ms=NOW + SECOND, keep=1)
    with monkeypatch.context() as patch:

        def full(*_: object) -> None:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        patch.setattr(copy_write.shutil, "copyfileobj", full)
        with pytest.raises(Refusal, match=r"No space left.*earlier copies are as they were"):
            make_copy(county, stick, utc_ms=NOW + SECOND, keep=1)
    assert names(stick) == [first]
    check_copy(stick / first)


def test_a_copy_that_cannot_be_read_back_is_not_kept(
    county: Path, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bytes that changed between writing and reading back are named, and the earlier copy stays."""
    first = Path(make_copy(county, stick, utc_ms=NOW).path).name
    check = backup_module.check_copy

    def spoil(folder: Path) -> object:
        path = folder / "county" / "sites.csv"
        path.write_bytes(b"I" + path.read_bytes()[1:])
        return check(folder)

    monkeypatch.setattr(backup_module, "check_copy", spoil)
    with pytest.raises(Refusal, match=r"county/sites.csv does not match its line"):
        make_copy(county, stick, utc_ms=NOW + SECOND, keep=1)
    assert names(stick) == [first]


def test_a_damaged_store_never_costs_an_older_copy(county: Path, stick: Path, desk: Desk) -> None:
    """Where events no longer fit their ids the copy says so, and what was good before is kept."""
    good = Path(make_copy(county, stick, utc_ms=NOW, keep=1).path).name
    desk.close()
    connection = sqlite3.connect(county / "pollstead.db")
    connection.execute("DROP TRIGGER events_refuse_update")
    connection.execute("UPDATE events SET bytes = CAST(replace(bytes, '1', '2') AS BLOB) WHERE seq = 3")
    connection.commit()
    connection.close()
    made = make_copy(county, stick, utc_ms=NOW + SECOND, keep=1)
    said = " ".join(remark.english() for remark in made.remarks)
    assert "at place 3 was changed" in said and "no older copy was removed" in said
    assert good in names(stick) and made.removed == ()
    with open_store(county) as store:
        trouble = last_copy_trouble(store)
        assert trouble is not None and "damaged or changed" in trouble.said.english()


def test_a_table_saved_meanwhile_is_named(county: Path, stick: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three tries, then the file is taken as it is and named in the copy and to whoever asked."""
    copy = shutil.copyfileobj

    def saving(source: object, out: object) -> None:
        copy(source, out)
        if getattr(source, "name", "").endswith("sites.csv"):
            with (county / "sites.csv").open("a", encoding="utf-8") as stream:
                stream.write("S09,x\n")

    monkeypatch.setattr(copy_write.shutil, "copyfileobj", saving)
    made = make_copy(county, stick, utc_ms=NOW)
    assert made.facts.unsteady == ("sites.csv",)
    assert any("sites.csv was being changed" in remark.english() for remark in made.remarks)


@pytest.mark.skipif(os.name != "posix", reason="links need a right of their own on Windows")
def test_a_link_and_a_name_that_others_cannot_hold_are_left_out_and_named(county: Path, stick: Path) -> None:
    """What a link leads to may be anything; a name with a line feed would break the list."""
    (county / "link.csv").symlink_to("/etc/hostname")
    (county / "two\nlines.csv").write_text("a", encoding="utf-8")
    made = make_copy(county, stick, utc_ms=NOW)
    said = " ".join(remark.english() for remark in made.remarks)
    assert "link.csv is a link" in said and "cannot be copied" in said
    assert names(Path(made.path) / "county") == ["day", "pollstead.db", "sites.csv"]


# A writer that says an event's id only after the store has acknowledged it.
WRITER = """
import sys
import time
from pathlib import Path
from pollstead.record.kinds.days import CountRead
from pollstead.record.write import Moment
from pollstead.store.desk import open_desk

desk = open_desk(Path(sys.argv[1]))
people = desk.store.events.all()[0].event.people
step = desk.store.events.count()
while True:
    step += 1
    moment = Moment(utc_ms=desk.header.created_utc_ms + step, offset_min=0, uncertainty_ms=0)
    body = CountRead(term="ballots", value=step, source="hand")
    signed = desk.recorder.record(
        body, subject="site/S01", site="site/S01", day="2028-11-07", people=people, moment=moment
    )
    print(signed.id, flush=True)
    time.sleep(0.002)  # people pause too; without a pause nobody else gets the write lock
"""


@pytest.mark.full
def test_every_event_acknowledged_before_a_copy_is_in_it(
    county: Path, stick: Path, tmp_path: Path, desk: Desk
) -> None:
    """Another process writes without pause while three copies are made; each holds what was said before."""
    desk.close()
    said = tmp_path / "said"
    with said.open("wb") as out:
        writer = subprocess.Popen([sys.executable, "-c", WRITER, str(county)], stdout=out)
    try:
        sizes = []
        before = 0
        for step in range(3):
            while said.read_bytes().count(b"\n") < before + 5:
                assert writer.poll() is None, "the writer must go on"
            acknowledged = said.read_text().splitlines(keepends=True)
            made = make_copy(county, stick, utc_ms=NOW + step * SECOND)
            copied = ids_in(Path(made.path))
            assert {line.strip() for line in acknowledged if line.endswith("\n")} <= set(copied)
            assert made.facts.head.size == len(copied)
            sizes.append(len(copied))
            before = said.read_bytes().count(b"\n")
    finally:
        writer.kill()
        writer.wait()
    assert sizes == sorted(set(sizes)), "the writer wrote between the copies"


# Ends itself, as by kill -9, when it comes to the function that is named.
KILLED = """
import importlib, os, signal, sys
from pathlib import Path
from pollstead.store.backup import make_copy
if sys.argv[3] != "-":
    module, name = sys.argv[3].rsplit(".", 1)
    def die(*_, **__): os.kill(os.getpid(), signal.SIGKILL)
    setattr(importlib.import_module(module), name, die)
step = int(sys.argv[4])
while True:
    made = make_copy(Path(sys.argv[1]), Path(sys.argv[2]), utc_ms=1_857_200_200_000 + step * 1_000, keep=2)
    print(made.path, flush=True)
    step += 1
"""
MOMENTS = (
    "pollstead.store.copy_write._copy_database",
    "pollstead.store.copy_write._copy_steady",
    "pollstead.store.backup.check_copy",
    "pollstead.store.backup._name",
    "pollstead.store.backup.note_good_copy",
    "pollstead.store.backup._remove_older",
)


def kill_in(county: Path, stick: Path, moment: str, step: int = 0) -> subprocess.Popen[str]:
    """Start the process that is to be ended."""
    command = [sys.executable, "-c", KILLED, str(county), str(stick), moment, str(step)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


@pytest.mark.full
@pytest.mark.skipif(os.name != "posix", reason="there is no kill -9 on Windows")
def test_a_copy_that_is_killed_at_any_step_leaves_the_earlier_ones_good(
    county: Path, stick: Path, fault_random: random.Random
) -> None:
    """Killed at six named steps and two random moments: every copy with a name checks."""
    first = Path(make_copy(county, stick, utc_ms=NOW, keep=2).path)
    for moment in MOMENTS:
        assert kill_in(county, stick, moment).wait() == -9
        check_copy(first)
        for copy in copies_in(stick):
            check_copy(stick / copy.name)
    made = first
    for step in range(2):
        running = kill_in(county, stick, "-", 100 * (step + 1))
        assert running.stdout is not None
        made = Path(running.stdout.readline().strip())
        threading.Event().wait(fault_random.random() / 5)
        running.kill()
        running.stdout.read()
        running.wait()
        kept = [name for name in names(stick) if name.startswith("copy-")]
        assert made.exists() or len(kept) >= 2, "only two newer copies may take its place"
        for name in kept:
            check_copy(stick / name)
    last = make_copy(county, stick, utc_ms=NOW + 10**9, keep=2)
    assert not [name for name in names(stick) if name.startswith(".")], "what was half-made is gone"
    assert len(names(stick)) == 2 and Path(last.path).name in names(stick)


LIMITED = """
import resource, sys
from pollstead.cli.main import main
size = int(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
main(sys.argv[2:])
"""


@pytest.mark.full
@pytest.mark.skipif(os.name != "posix", reason="the system's limit on the size of a file")
def test_writes_that_fail_in_the_system_end_with_1_and_leave_nothing(
    county: Path, stick: Path, desk: Desk
) -> None:
    """The system itself refuses to make the database file longer; the command line says so."""
    first = Path(make_copy(county, stick, utc_ms=NOW).path)
    desk.store.database.empty_write_ahead_log()
    desk.close()
    size = (county / "pollstead.db").stat().st_size - 4096
    ended = subprocess.run(
        [sys.executable, "-c", LIMITED, str(size), "backup", str(county), str(stick)],
        check=False,
        capture_output=True,
        text=True,
    )
    assert ended.returncode == 1
    assert "No copy was made" in ended.stderr and "earlier copies" in ended.stderr
    assert names(stick) == [first.name]
    check_copy(first)


def test_the_digest_in_the_list_is_that_of_the_bytes(county: Path, stick: Path) -> None:
    """Each line compared with a digest computed here."""
    copy = Path(make_copy(county, stick, utc_ms=NOW).path)
    for line in (copy / "files.sha256").read_text(encoding="utf-8").splitlines():
        digest, _, path = line.partition("  ")
        assert sha256_hex((copy / path).read_bytes()) == digest


def test_the_place_for_copies_is_kept(county: Path, desk: Desk, stick: Path) -> None:
    """Set, read, forgotten."""
    assert copy_target(desk.store) is None
    target = CopyTarget(path=str(stick), keep=3, packets=True)
    set_copy_target(desk.store, target)
    assert copy_target(desk.store) == target
    set_copy_target(desk.store, None)
    assert copy_target(desk.store) is None
