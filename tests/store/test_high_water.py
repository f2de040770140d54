"""An older store put back by hand: noticed before anything is written, and a way on that forks nothing."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from pollstead.record.event import Means, Part, Person, Signed
from pollstead.record.write import Moment
from pollstead.store.backup import make_copy
from pollstead.store.certifying import certify_restored
from pollstead.store.copy_state import copy_place, set_copy_target
from pollstead.store.desk import Desk, open_desk
from pollstead.store.exchange import check_store, export_record, import_record
from pollstead.store.high_water import Mark, MarkedJournal, mark_path, read_mark
from pollstead.store.keyring import Keyring
from pollstead.store.opening import open_store
from pollstead.store.refusal import Refusal

pytestmark = pytest.mark.full

NOW = 1_857_200_100_000
CLERK = (Person(person="person/P002", means=Means.NAME_ONLY, part=Part.AUTHOR),)
AT = Moment(utc_ms=NOW, offset_min=-300, uncertainty_ms=0)

Count = Callable[[Desk, int], Signed]


def put_back(folder: Path, older: Path) -> None:
    """Put a database aside back into its folder, as a person does with a file manager."""
    for path in folder.glob("pollstead.db*"):
        path.unlink()
    shutil.copyfile(older, folder / "pollstead.db")


@pytest.fixture
def older(desk: Desk, tmp_path: Path, count: Count) -> Path:
    """The database as it was before three more entries; the desk is closed."""
    kept = tmp_path / "older.db"
    desk.store.database.copy_to(kept)
    for value in range(100, 103):
        count(desk, value)
    desk.close()
    return kept


def test_an_older_store_is_refused_before_a_number_is_given_twice(
    desk: Desk, older: Path, tmp_path: Path
) -> None:
    """The mark beside the key says 10, the store says 7: nothing is written, and the way on is told."""
    folder = tmp_path / "county"
    assert read_mark(mark_path(Keyring(folder))) is not None
    put_back(folder, older)
    with pytest.raises(Refusal) as refused:
        open_desk(folder)
    said = str(refused.value)
    assert "up to number 7, and number 10 was made" in said
    assert f"pollstead restore admit {folder} --by PERSON" in said
    with open_store(folder) as store:
        assert store.events.count() == 7


def test_a_new_key_goes_on_from_the_older_store_and_the_lost_entries_come_back(
    desk: Desk, older: Path, tmp_path: Path, count: Count
) -> None:
    """Admitted anew: another device, no fork, and the lost entries can be merged when they are found."""
    folder = tmp_path / "county"
    with open_store(folder) as newer:
        export_record(newer, tmp_path / "found-later")
    put_back(folder, older)
    certify_restored(folder, people=CLERK, moment=AT)
    again = open_desk(folder)
    assert again.recorder.device != desk.recorder.device
    count(again, 200)
    assert import_record(again.store, tmp_path / "found-later").new == 3
    assert check_store(again.store).troubles == ()
    again.close()
    assert [path.name for path in (folder / "keys").glob("*.put-aside")] == ["desk.1.put-aside"]
    with pytest.raises(Refusal, match="admitted already"):
        certify_restored(folder, people=CLERK, moment=AT)


def test_a_store_exchanged_under_a_running_desk_is_noticed_at_the_next_entry(
    desk: Desk, tmp_path: Path, count: Count
) -> None:
    """The counter is compared with the mark at every entry, not only at the start."""
    mark = read_mark(mark_path(Keyring(tmp_path / "county")))
    assert mark is not None and mark.n == 7
    path = tmp_path / "mark"
    path.write_bytes(b'{"device":"desk/office","n":8,"event":"' + b"0" * 64 + b'"}')
    desk.recorder._journal = MarkedJournal(desk.store, path)
    with pytest.raises(Refusal, match="one number would stand for two entries"):
        count(desk, 50)
    path.write_bytes(b'{"device":"desk/office","n":7,"event":"' + b"0" * 64 + b'"}')
    with pytest.raises(Refusal, match="one number would stand for two entries"):
        count(desk, 50)
    path.write_bytes(b'{"device":"desk/of')
    count(desk, 50)
    assert read_mark(path) == Mark(device="desk/office", n=8, event=desk.store.events.all()[-1].id)


def test_a_whole_folder_put_back_with_its_keys_is_told_by_a_newer_copy(
    desk: Desk, tmp_path: Path, count: Count
) -> None:
    """Then the mark is old too; the copy at the second place has more entries than the store."""
    folder, stick = tmp_path / "county", tmp_path / "stick"
    stick.mkdir()
    set_copy_target(desk.store, copy_place(folder, stick))
    make_copy(folder, stick, utc_ms=NOW)
    desk.store.database.empty_write_ahead_log()
    shutil.copytree(folder, tmp_path / "yesterday")
    count(desk, 100)
    make_copy(folder, stick, utc_ms=NOW + 60_000)
    desk.close()
    shutil.rmtree(folder)
    (tmp_path / "yesterday").rename(folder)
    with pytest.raises(Refusal, match="has 7 entries; a copy of this same folder has 8"):
        open_desk(folder)
    certify_restored(folder, people=CLERK, moment=AT)
    again = open_desk(folder)
    count(again, 200)
    assert check_store(again.store).checks
    again.close()


def test_a_mark_left_behind_by_a_crash_follows_the_store(desk: Desk, tmp_path: Path) -> None:
    """Ended between the commit and the mark: the next start brings the mark up and writes on."""
    path = mark_path(Keyring(tmp_path / "county"))
    mark = read_mark(path)
    desk.close()
    path.unlink()
    open_desk(tmp_path / "county").close()
    assert read_mark(path) == mark
