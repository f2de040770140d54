"""A folder restored from a copy: what does not match is named, nothing is replaced, no counter forks."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from tests.once import copied

from pollstead.cli.main import run
from pollstead.record.event import Means, Part, Person, Signed
from pollstead.record.problem import Problem
from pollstead.record.write import Moment
from pollstead.store.backup import make_copy
from pollstead.store.certifying import certify_restored, read_office_key
from pollstead.store.copy_list import copies_in, inside
from pollstead.store.copy_state import (
    CopyTarget,
    copy_source,
    copy_target,
    last_good_copy,
    restored_from,
    set_copy_target,
)
from pollstead.store.desk import Desk, open_desk
from pollstead.store.exchange import check_store, export_record, import_record
from pollstead.store.jobs import JobState
from pollstead.store.keyring import Keyring
from pollstead.store.opening import open_store
from pollstead.store.refusal import Refusal
from pollstead.store.restore import restore_copy
from pollstead.store.schema import settings

pytestmark = pytest.mark.full

NOW = 1_857_200_100_000
SECOND = 1_000
CLERK = (Person(person="person/P002", means=Means.NAME_ONLY, part=Part.AUTHOR),)
NAMES = ("README.txt", "copy.json", "files.sha256", "county/sites.csv", "county/pollstead.db")


def at(step: int) -> Moment:
    """A moment `step` seconds after the copy."""
    return Moment(utc_ms=NOW + step * SECOND, offset_min=-300, uncertainty_ms=0)


@pytest.fixture
def county(desk: Desk, tmp_path: Path) -> Path:
    """A county folder with a table and a record of seven events."""
    (tmp_path / "county" / "sites.csv").write_text("id,name\nS01,Ash Hall\n", encoding="utf-8")
    return tmp_path / "county"


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    """The second place."""
    place = tmp_path / "stick"
    place.mkdir()
    return place


@pytest.fixture
def copy(county: Path, stick: Path) -> Path:
    """A copy without the key of the office."""
    return Path(make_copy(county, stick, utc_ms=NOW).path)


def test_a_restored_folder_has_what_was_copied_and_says_what_it_may_lack(
    copy: Path, county: Path, desk: Desk, tmp_path: Path
) -> None:
    """Tables, record and head are the same; the last counter of each device is named."""
    made = restore_copy(copy, tmp_path / "new", utc_ms=NOW + 5 * SECOND)
    assert (tmp_path / "new" / "sites.csv").read_bytes() == (county / "sites.csv").read_bytes()
    assert made.devices == (("desk/office", 7),)
    assert not made.office_key and made.troubles == () and made.signs == ()
    with open_store(tmp_path / "new") as store:
        assert store.events.head() == desk.store.events.head() == made.facts.head
        assert store.sides.all() == desk.store.sides.all()
        assert store.header() == desk.header
        assert check_store(store).checks
        came = restored_from(store)
        assert came is not None and came.devices == made.devices and came.head == made.facts.head
        assert (came.copy_utc_ms, came.utc_ms) == (NOW, NOW + 5 * SECOND)
    assert sorted(os.listdir(tmp_path)) == ["county", "new", "stick"]


def test_without_the_key_of_the_office_the_restored_folder_reads_and_waits(
    copy: Path, county: Path, desk: Desk, tmp_path: Path, count: Callable[[Desk, int], Signed]
) -> None:
    """Nothing writes until the office's own key has certified this computer, which gets a new id."""
    new = tmp_path / "new"
    restore_copy(copy, new, utc_ms=NOW)
    with pytest.raises(ValueError, match="can be read, checked and exported"):
        open_desk(new)
    with pytest.raises(Refusal, match="Whoever keeps it must admit"):
        certify_restored(new, people=CLERK, moment=at(1))
    with pytest.raises(Refusal, match=r"not the one of the office of Larkmoor"):
        certify_restored(new, people=CLERK, moment=at(1), office_key=Ed25519PrivateKey.generate())
    assert not (new / "keys").exists()
    key = read_office_key(county / "keys" / "office.pem")
    signed = certify_restored(new, people=CLERK, moment=at(2), office_key=key)
    assert signed.event.device != desk.recorder.device and signed.event.n == 1
    assert sorted(os.listdir(new / "keys")) == ["desk.mark", "desk.pem"], "the office's key is used, not kept"
    with pytest.raises(Refusal, match="admitted already"):
        certify_restored(new, people=CLERK, moment=at(3), office_key=key)
    restored = open_desk(new)
    count(restored, 200)
    assert check_store(restored.store).checks
    restored.close()


def test_a_file_that_is_no_key_of_an_office_is_said(tmp_path: Path) -> None:
    """Not there, not a key: each in words."""
    with pytest.raises(Refusal, match="cannot be read as a key"):
        read_office_key(tmp_path / "absent.pem")
    (tmp_path / "x.pem").write_text("nothing", encoding="utf-8")
    with pytest.raises(Refusal, match="cannot be read as a key"):
        read_office_key(tmp_path / "x.pem")


def test_old_and_new_computer_go_on_and_merge_without_a_fork(
    county: Path, stick: Path, desk: Desk, tmp_path: Path, count: Callable[[Desk, int], Signed]
) -> None:
    """The one that was thought dead, and two restored from one copy: three chains, one set of events."""
    make_copy(county, stick, utc_ms=NOW, with_keys=True)
    desks = [desk]
    for name in ("first", "second"):
        assert restore_copy(stick, tmp_path / name, utc_ms=NOW).office_key
        certify_restored(tmp_path / name, people=CLERK, moment=at(1))
        desks.append(open_desk(tmp_path / name))
    for turn in range(3):
        for number, one in enumerate(desks):
            count(one, 300 + 10 * turn + number)
    exports = []
    for number, one in enumerate(desks):
        export_record(one.store, tmp_path / f"export{number}")
        exports.append(tmp_path / f"export{number}")
    for one in desks:
        for export in exports:
            assert import_record(one.store, export).refused == ()
    reports = [check_store(one.store) for one in desks]
    assert all(report.checks for report in reports)
    assert {trouble.problem for report in reports for trouble in report.troubles} == set()
    assert len({report.head.root for report in reports}) == 1
    assert reports[0].head.size == 7 + 3 * 3 + 2
    assert len({one.recorder.device for one in desks}) == 3
    for one in desks[1:]:
        one.close()


def test_copying_the_key_of_the_computer_would_fork(
    county: Path, stick: Path, desk: Desk, tmp_path: Path, count: Callable[[Desk, int], Signed]
) -> None:
    """Why a restored folder gets a device of its own: with the old one the merged record has a fork."""
    make_copy(county, stick, utc_ms=NOW)
    restore_copy(stick, tmp_path / "new", utc_ms=NOW)
    key = Keyring(county).load("desk")
    Keyring(tmp_path / "new").create("desk", key)
    with open_store(tmp_path / "new") as store:
        store.settings.set("desk.device", b"desk/office")
    twin = open_desk(tmp_path / "new")
    count(desk, 400)
    count(twin, 401)
    export_record(twin.store, tmp_path / "export")
    twin.close()
    import_record(desk.store, tmp_path / "export")
    assert [trouble.problem for trouble in check_store(desk.store).troubles] == [Problem.FORK]


@pytest.mark.parametrize("name", NAMES)
def test_a_flipped_byte_is_named_and_nothing_is_made(
    copy: Path, tmp_path: Path, name: str, fault_random: random.Random
) -> None:
    """Three random bits in each file of a copy, one at a time."""
    path = copy / name
    good = path.read_bytes()
    for _ in range(3):
        place = fault_random.randrange(len(good))
        flipped = good[place] ^ (1 << fault_random.randrange(8))
        path.write_bytes(good[:place] + bytes([flipped]) + good[place + 1 :])
        with pytest.raises(Refusal) as refused:
            restore_copy(copy, tmp_path / "new", utc_ms=NOW)
        assert name in str(refused.value), f"bit flipped at {place}"
        assert sorted(os.listdir(tmp_path)) == ["county", "stick"]
    path.write_bytes(good)
    restore_copy(copy, tmp_path / "new", utc_ms=NOW)


def test_a_flipped_byte_in_the_newest_copy_leads_to_one_that_checks(
    copy: Path, county: Path, stick: Path, tmp_path: Path
) -> None:
    """The newest is not passed over in silence: it is named, with the other copies that check."""
    newest = Path(make_copy(county, stick, utc_ms=NOW + SECOND).path)
    (newest / "county" / "sites.csv").write_text("id,name\nS01,Elm\n", encoding="utf-8")
    with pytest.raises(Refusal) as refused:
        restore_copy(stick, tmp_path / "new", utc_ms=NOW)
    said = str(refused.value)
    assert "county/sites.csv does not match" in said and "nothing was made" in said
    assert f"{copy}: Larkmoor (invented), General, 7 events" in said
    restore_copy(copy, tmp_path / "new", utc_ms=NOW)


def test_a_file_taken_out_of_a_copy_is_named(copy: Path, tmp_path: Path) -> None:
    """A table, and the list itself."""
    (copy / "county" / "sites.csv").unlink()
    with pytest.raises(Refusal, match=r"county/sites.csv is in files.sha256 and cannot be read"):
        restore_copy(copy, tmp_path / "new", utc_ms=NOW)
    (copy / "files.sha256").unlink()
    with pytest.raises(Refusal, match=r"files.sha256"):
        restore_copy(copy, tmp_path / "new", utc_ms=NOW)
    assert not (tmp_path / "new").exists()


def test_a_head_that_is_not_that_of_the_events_is_named(
    copy: Path, county: Path, stick: Path, desk: Desk, tmp_path: Path, count: Callable[[Desk, int], Signed]
) -> None:
    """A page of facts from another copy, with a list that was made to fit it."""
    count(desk, 100)
    other = Path(make_copy(county, stick, utc_ms=NOW + SECOND).path)
    lines = (copy / "files.sha256").read_text(encoding="utf-8").splitlines()
    (copy / "copy.json").write_bytes((other / "copy.json").read_bytes())
    fitting = next(
        line
        for line in (other / "files.sha256").read_text(encoding="utf-8").splitlines()
        if line.endswith("  copy.json")
    )
    swapped = [fitting if line.endswith("  copy.json") else line for line in lines]
    (copy / "files.sha256").write_text("\n".join(swapped) + "\n", encoding="utf-8")
    with pytest.raises(Refusal, match=r"holds 7 events .* copy.json is 8 events"):
        restore_copy(copy, tmp_path / "new", utc_ms=NOW)
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    "path", ["../evil", "/etc/evil", "county/../../evil", "C:/evil", "a\\b", "", "a\x01b"]
)
def test_a_list_never_leads_out_of_the_copy(copy: Path, tmp_path: Path, path: str) -> None:
    """Such a path is refused when the list is read."""
    with pytest.raises(ValueError, match="must stay inside"):
        inside(path)
    if path:
        with (copy / "files.sha256").open("a", encoding="utf-8") as stream:
            stream.write(f"{'0' * 64}  {path}\n")
        with pytest.raises(Refusal, match=r"files.sha256"):
            restore_copy(copy, tmp_path / "new", utc_ms=NOW)
        assert not (tmp_path / "new").exists()


def test_nothing_that_is_there_is_replaced(copy: Path, county: Path, tmp_path: Path) -> None:
    """A folder with anything in it is refused and untouched; an empty one is used."""
    before = (county / "pollstead.db").read_bytes()
    with pytest.raises(Refusal, match="is there already"):
        restore_copy(copy, county, utc_ms=NOW)
    assert (county / "pollstead.db").read_bytes() == before
    (tmp_path / "file").write_text("a", encoding="utf-8")
    with pytest.raises(Refusal, match="is there already"):
        restore_copy(copy, tmp_path / "file", utc_ms=NOW)
    with pytest.raises(Refusal, match="cannot be made in it"):
        restore_copy(copy, tmp_path / "no" / "such", utc_ms=NOW)
    (tmp_path / "empty").mkdir()
    restore_copy(copy, tmp_path / "empty", utc_ms=NOW)
    assert (tmp_path / "empty" / "pollstead.db").exists()


def test_a_restored_folder_is_not_made_where_folders_are_shared(copy: Path, tmp_path: Path) -> None:
    """The same rule as for a new store."""
    (tmp_path / ".sync").mkdir()
    with pytest.raises(Refusal, match="shared or synchronized"):
        restore_copy(copy, tmp_path / "new", utc_ms=NOW)
    assert not (tmp_path / "new").exists()


def test_a_place_without_a_copy_and_one_with_copies_of_two_folders_are_said(
    copy: Path, stick: Path, tmp_path: Path, make_desk: Callable[..., Desk]
) -> None:
    """A person chooses; the program does not guess between counties."""
    (tmp_path / "bare").mkdir()
    with pytest.raises(Refusal, match="holds no copy"):
        restore_copy(tmp_path / "bare", tmp_path / "new", utc_ms=NOW)
    with pytest.raises(Refusal, match="Put the stick in"):
        restore_copy(tmp_path / "absent", tmp_path / "new", utc_ms=NOW)
    make_desk(tmp_path / "practice", practice=True).close()
    make_copy(tmp_path / "practice", stick, utc_ms=NOW + SECOND)
    with pytest.raises(Refusal, match="copies of several folders"):
        restore_copy(stick, tmp_path / "new", utc_ms=NOW)
    assert not (tmp_path / "new").exists()


def test_a_restored_folder_forgets_the_other_computers_copies_and_jobs(
    county: Path, stick: Path, desk: Desk, tmp_path: Path
) -> None:
    """It has its own id among copies, so keeping one never removes the other computer's last one."""
    set_copy_target(desk.store, CopyTarget(path="/invented/stick", keep=1, packets=False))
    desk.store.jobs.request(job_id="j1", kind="plan", arguments=b"{}", requested_by="person/P001", utc_ms=NOW)
    make_copy(county, stick, utc_ms=NOW, keep=1)
    restore_copy(stick, tmp_path / "new", utc_ms=NOW)
    with open_store(tmp_path / "new") as store:
        assert copy_target(store) is None and last_good_copy(store) is None
        assert store.jobs.get("j1").state is JobState.CANCELLED
        assert copy_source(store) != copy_source(desk.store)
        with store.database.reading() as connection:
            assert (
                connection.execute(sa.select(settings.c.key).where(settings.c.key.startswith("desk."))).all()
                == []
            )
    make_copy(tmp_path / "new", stick, utc_ms=NOW + SECOND, keep=1)
    assert len(copies_in(stick)) == 2
    assert desk.store.jobs.get("j1").state is JobState.WAITING


def test_the_command_line_copies_restores_and_certifies(
    county: Path, stick: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """0 where it was done, 1 where it could not be, 2 for a question that makes no sense."""
    new, key = str(tmp_path / "new"), str(county / "keys" / "office.pem")
    assert run(["backup", str(county)]) == 2
    assert run(["backup", str(county), str(stick), "--keep", "0"]) == 2
    assert run(["backup", str(county), "--set"]) == 2
    assert run(["backup", str(tmp_path / "absent"), str(stick)]) == 1
    assert run(["backup", str(county), str(tmp_path / "absent")]) == 1
    capsys.readouterr()
    assert run(["backup", str(county), str(stick), "--set"]) == 0
    said = capsys.readouterr().out
    assert "all match" in said and "did not go along" in said and "at each change" in said
    assert run(["backup", str(county)]) == 0, "the place that was set is used"
    assert run(["restore", str(stick), str(county)]) == 1
    assert run(["restore", str(stick), new, "--office-key", key]) == 2
    capsys.readouterr()
    assert run(["restore", str(stick), new]) == 0
    said = capsys.readouterr().out
    assert "entries up to number 7 are here" in said
    assert f"pollstead restore admit {new} --by PERSON --office-key FILE" in said
    assert run(["restore", "admit", new, "--by", "P002"]) == 1
    assert run(["restore", "admit", new, "--by", "P002", "--office-key", key]) == 0
    assert run(["record", "verify", new]) == 0
    assert run(["backup", str(county), "--forget"]) == 0
    assert run(["backup", str(county)]) == 2
    copy = next(stick.glob("copy-*"))
    (copy / "county" / "sites.csv").write_text("x", encoding="utf-8")
    capsys.readouterr()
    assert run(["restore", str(copy), str(tmp_path / "other")]) == 1
    assert "county/sites.csv does not match" in capsys.readouterr().err


@pytest.mark.full
@pytest.mark.begins_first
def test_a_restored_county_plans_prints_and_reconciles_with_an_empty_home(
    demo_played: Path, tmp_path: Path
) -> None:
    """The invented small county, copied and restored in processes whose home folder is empty.

    Ten minutes are allowed for each step that an office needs; on the machine where this was
    written all of them took less than one.
    """
    home = tmp_path / "home"
    home.mkdir()
    environment = {**os.environ, "HOME": str(home), "USERPROFILE": str(home)}

    def pollstead(*arguments: str) -> str:
        ended = subprocess.run(
            [sys.executable, "-m", "pollstead.cli.main", *arguments],
            check=False,
            capture_output=True,
            text=True,
            env=environment,
            timeout=600,
        )
        assert ended.returncode == 0, ended.stdout + ended.stderr
        return ended.stdout

    county, stick, new = (str(tmp_path / name) for name in ("county", "stick", "new"))
    Path(stick).mkdir()
    copied(demo_played, county)
    pollstead("backup", county, stick, "--with-keys")
    said = pollstead("restore", stick, new, "--by", "P001")
    assert "writes as desk/office-" in said
    assert "The record checks" in pollstead("record", "verify", new)
    assert "same" in pollstead("rebuild", new)
    pollstead("plan", new)
    assert "1 events written" in pollstead("print", new, "--site", "S01", "--by", "P001")
    before, after = pollstead("reconcile", county, "--json"), pollstead("reconcile", new, "--json")
    assert before.replace(county, "") == after.replace(new, "")
    assert "The record checks" in pollstead("record", "verify", new)
    assert list(home.iterdir()) == [], "nothing is written into the home folder"
