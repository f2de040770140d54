"""A change of facts: one signed event, then the tables, whole or not at all, and back again."""

from __future__ import annotations

import os
import shutil
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from pollstead.intake import kept_tables, whole_files
from pollstead.intake.fact_edits import Edit, add_row, remove_row, set_cell
from pollstead.intake.fact_writing import folder_facts
from pollstead.intake.folder import read_folder
from pollstead.intake.kept_tables import kept, table_files
from pollstead.record.event import Means, Part, Person
from pollstead.record.write import Moment
from pollstead.store.desk import open_desk
from pollstead.work import fact_waiting, facts
from pollstead.work.fact_changes import Standing
from pollstead.work.fact_notices import notices_of

pytestmark = pytest.mark.full

SMALL = Path(__file__).resolve().parents[2] / "small"
BY = (Person(person="person/P001", means=Means.NAME_ONLY, part=Part.AUTHOR),)
WHY = "The door was measured again."
START = 1_857_000_000_000


class Office:
    """A county folder at one desk, with a clock that goes on by a minute for each act."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        election = read_folder(folder).election
        assert election is not None
        self.clock = START
        self.desk = facts.desk_of(folder, election, BY, self.moment())

    def moment(self) -> Moment:
        """A minute later."""
        self.clock += 60_000
        return Moment(utc_ms=self.clock, offset_min=-300, uncertainty_ms=1000)

    def change(self, *edits: Edit, reason: str = WHY) -> facts.FactsTaken:
        """Do these edits as one act."""
        return facts.change_facts(
            self.folder,
            edits,
            act="amend",
            reason=reason,
            people=BY,
            desk=self.desk,
            moment=self.moment(),
        )

    def undo(self, event: str, changed_too: bool = False) -> facts.FactsTaken:
        """Take a change back."""
        return facts.undo_change(
            self.folder,
            event,
            reason="That was wrong.",
            people=BY,
            desk=self.desk,
            moment=self.moment(),
            changed_too=changed_too,
        )

    def tables(self) -> dict[str, bytes]:
        """The bytes of every table."""
        return {name: (self.folder / name).read_bytes() for name in table_files(self.folder)}

    def cell(self, table: str, row: str, column: str) -> str:
        """One cell as text."""
        return cell(self.folder, table, row, column)

    def standings(self) -> list[Standing]:
        """How every change stands."""
        device = self.desk.recorder.device
        return [one.standing for one in facts.all_changes(self.folder, self.desk.store, device)]


def cell(folder: Path, table: str, row: str, column: str) -> str:
    """One cell of a folder's tables as text."""
    from pollstead.intake.tabs import tab_named

    tab = tab_named(table)
    rows = next(held.rows for held in folder_facts(folder).rows if held.tab == table)
    number = tab.index("id") if any(c.name == "id" for c in tab.cells) else 0
    return next(held[tab.index(column)] for held in rows if held[number] == row)


@pytest.fixture
def office(tmp_path: Path) -> Iterator[Office]:
    """The small county at a desk."""
    shutil.copytree(SMALL, tmp_path / "county")
    made = Office(tmp_path / "county")
    yield made
    made.desk.close()


def test_a_change_is_in_record_and_tables_and_undo_brings_the_facts_back(office: Office) -> None:
    """Two cells in two tables change by one event; its undo is an event and gives the digest before."""
    site = folder_facts(office.folder).rows
    sites = next(held.rows for held in site if held.tab == "sites")
    first = sites[0][0]
    before = read_folder(office.folder).digest
    taken = office.change(set_cell("sites", first, "name", "Bibliothèque"), _a_device(office, "LM-X-0001"))
    assert (taken.before, taken.cells) == (before, 2)
    assert taken.after == read_folder(office.folder).digest != before
    assert office.cell("sites", first, "name") == "Bibliothèque"
    assert sorted(taken.files) == ["devices.csv", "sites.csv"]
    assert kept(office.folder)[0].event == taken.event.id
    undone = office.undo(taken.event.id)
    assert undone.after == read_folder(office.folder).digest == before
    assert office.standings() == [Standing.UNDONE, Standing.IN_TABLES]
    again = office.undo(undone.event.id)
    assert again.after == taken.after
    assert office.standings() == [Standing.IN_TABLES, Standing.UNDONE, Standing.IN_TABLES]


def test_a_value_that_cannot_be_read_writes_nothing(office: Office) -> None:
    """Both faults are named with table, row and column; record and tables stay as they are."""
    tables, count = office.tables(), office.desk.store.events.count()
    site = next(iter(folder_facts(office.folder).rows[1].rows))[0]
    with pytest.raises(facts.NotTaken) as caught:
        office.change(set_cell("sites", site, "door_clear_in", "wide"), set_cell("sites", site, "tide", "1"))
    said = [(n.place.file, n.place.column) for n in caught.value.faults if n.place]
    assert ("tab sites", "tide") in said
    with pytest.raises(facts.NotTaken):
        office.change(set_cell("sites", "S99", "name", "Nowhere"))
    with pytest.raises(facts.CannotChange, match="reason"):
        office.change(set_cell("sites", site, "name", "New hall"), reason="  ")
    assert (office.tables(), office.desk.store.events.count()) == (tables, count)


def _a_device(office: Office, serial: str) -> Edit:
    """A copy of the first device under a new serial."""
    from pollstead.intake.tabs import tab_named

    tab = tab_named("devices")
    row = next(held.rows[0] for held in folder_facts(office.folder).rows if held.tab == "devices")
    cells = {c.name: text for c, text in zip(tab.cells, row, strict=True) if text}
    fresh: dict[str, str] = {name: serial for name in cells if name in ("id", "serial", "tag")}
    return add_row("devices", {**cells, **fresh})


def test_undo_of_a_cell_changed_since_is_named_and_may_be_wanted(office: Office) -> None:
    """The later value stays unless the person says so."""
    first = next(held.rows[0][0] for held in folder_facts(office.folder).rows if held.tab == "sites")
    old = office.cell("sites", first, "name")
    one = office.change(set_cell("sites", first, "name", "First hall"))
    office.change(set_cell("sites", first, "name", "Second hall"))
    assert office.standings() == [Standing.REPLACED, Standing.IN_TABLES]
    with pytest.raises(facts.NotTaken, match="changed since"):
        office.undo(one.event.id)
    office.undo(one.event.id, changed_too=True)
    assert office.cell("sites", first, "name") == old


def _die(*args: object, **kwargs: object) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def _die_at(step: str, patch: pytest.MonkeyPatch) -> None:
    """Arrange that this process is killed at one step of a change."""
    if step == "event":
        patch.setattr("pollstead.work.fact_writing.replace_tables", _die)
    elif step == "tables":
        patch.setattr("pollstead.work.fact_writing.OpenFacts.note_written", _die)
    elif step == "new files":
        real_write = whole_files.write_synced
        patch.setattr(
            kept_tables,
            "write_synced",
            lambda path, data: _die() if path.name.endswith(".new") else real_write(path, data),
        )
    else:
        real_replace = Path.replace

        def replace(self: Path, target: Path) -> Path:
            done = real_replace(self, target)
            if self.name.endswith(".new"):
                _die()
            return done

        patch.setattr(Path, "replace", replace)


@pytest.mark.parametrize("step", ["event", "new files", "first file", "tables"])
def test_a_kill_leaves_the_old_tables_and_a_named_change_or_the_new_ones(
    office: Office, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed after the event, between two files, or before the last note: never half of a change."""
    rows = {held.tab: held.rows for held in folder_facts(office.folder).rows}
    site, person = rows["sites"][0][0], rows["people"][0][0]
    edits = [set_cell("sites", site, "name", "New hall"), set_cell("people", person, "name", "Robin Hale")]
    before = office.tables()
    office.desk.close()
    child = os.fork()
    if child == 0:
        _die_at(step, monkeypatch)
        office.desk = open_desk(office.folder)
        office.change(*edits)
        os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    office.desk = open_desk(office.folder)
    if step == "first file":
        half = read_folder(office.folder)
        assert half.election is None and "being replaced" in half.notices[0].text.english()
    facts.mend_tables(office.folder)
    waiting = facts.pending(office.folder, office.desk.store, office.desk.recorder.device)
    if step == "tables":
        assert not waiting
        assert office.standings() == [Standing.IN_TABLES]
    else:
        assert office.tables() == before
        assert [one.standing for one in waiting] == [Standing.NOT_WRITTEN]
        assert [one.edit.after for one in waiting[0].cells] == ["New hall", "Robin Hale"]
        with pytest.raises(facts.CannotChange, match="not yet in the tables"):
            office.change(set_cell("sites", site, "name", "Other"))
        fact_waiting.finish(office.folder, waiting[0].change.event, desk=office.desk)
    assert office.cell("sites", site, "name") == "New hall"
    assert office.cell("people", person, "name") == "Robin Hale"
    assert not facts.pending(office.folder, office.desk.store, office.desk.recorder.device)


def test_an_unwritten_change_may_be_set_aside(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    """The tables stay, the record tells both, and other changes go on."""
    first = next(held.rows[0][0] for held in folder_facts(office.folder).rows if held.tab == "sites")
    before = office.tables()
    with monkeypatch.context() as patch:
        patch.setattr("pollstead.work.fact_writing.replace_tables", _disk_full)
        with pytest.raises(OSError, match="full"):
            office.change(set_cell("sites", first, "name", "New hall"))
    waiting = facts.pending(office.folder, office.desk.store, office.desk.recorder.device)
    aside(office, waiting[0].change.event)
    assert office.tables() == before
    assert office.standings() == [Standing.DECIDED, Standing.IN_TABLES]
    office.change(set_cell("sites", first, "name", "Other hall"))


def _disk_full(*args: object, **kwargs: object) -> None:
    raise OSError(28, "The disk is full")


def aside(office: Office, event: str) -> None:
    """Set a change aside."""
    fact_waiting.set_aside(
        office.folder,
        event,
        reason="Not wanted.",
        people=BY,
        desk=office.desk,
        moment=office.moment(),
    )


@pytest.fixture
def laptops(tmp_path: Path) -> Iterator[tuple[Office, Office]]:
    """One county on two laptops: the second has a copy of everything and a device of its own."""
    shutil.copytree(SMALL, tmp_path / "one")
    one = Office(tmp_path / "one")
    shutil.copytree(SMALL, tmp_path / "two")
    two = _second(one, tmp_path / "two")
    yield one, two
    one.desk.close()
    two.desk.close()


def _second(one: Office, folder: Path) -> Office:
    """A second laptop's office: same record, own device, certified by the first."""
    from pollstead.record.keys import OFFICE_SCOPE, public_hex
    from pollstead.store.desk import DESK_KEY, DEVICE_KEY
    from pollstead.store.keyring import Keyring
    from pollstead.store.opening import open_store

    ring = Keyring(folder)
    key = ring.create(DESK_KEY, None)
    one.desk.certify(
        Keyring(one.folder),
        device="desk/second",
        public_key=public_hex(key),
        scope=OFFICE_SCOPE,
        valid_from_utc_ms=START,
        valid_to_utc_ms=START + 86_400_000,
        people=BY,
        moment=one.moment(),
    )
    with open_store(folder) as store:
        store.begin_record(one.desk.header)
        store.settings.set_once(DEVICE_KEY, b"desk/second")
    two = Office.__new__(Office)
    two.folder, two.clock, two.desk = folder, one.clock + 30_000, open_desk(folder)
    merge(one, two)
    return two


def merge(source: Office, target: Office) -> None:
    """Take the record of one laptop into the other."""
    sides = [side for side in source.desk.store.sides.all().values() if side is not None]
    target.desk.store.events.add(source.desk.store.events.all(), sides)


def test_a_change_of_another_laptop_waits_for_a_person(laptops: tuple[Office, Office]) -> None:
    """It is named, not taken silently; accepted it is in both tables, and nothing waits on either side."""
    one, two = laptops
    first = next(held.rows[0][0] for held in folder_facts(one.folder).rows if held.tab == "sites")
    taken = one.change(set_cell("sites", first, "name", "New hall"))
    more = one.change(set_cell("sites", first, "name", "Newer hall"))
    merge(one, two)
    assert two.standings() == [Standing.REPLACED, Standing.ELSEWHERE]
    event = facts.pending(two.folder, two.desk.store, "desk/second")[0].change.event
    assert event == more.event.id != taken.event.id
    accepted = fact_waiting.accept(
        two.folder, event, reason="Told by phone.", people=BY, desk=two.desk, moment=two.moment()
    )
    assert two.cell("sites", first, "name") == "Newer hall"
    assert accepted.after == more.after
    merge(two, one)
    for office in laptops:
        assert not facts.pending(office.folder, office.desk.store, office.desk.recorder.device)


def test_two_changes_of_one_cell_that_do_not_know_each_other_both_stand(
    laptops: tuple[Office, Office],
) -> None:
    """Each laptop keeps its own value and shows the other's; setting one aside ends it on both."""
    one, two = laptops
    first = next(held.rows[0][0] for held in folder_facts(one.folder).rows if held.tab == "sites")
    one.change(set_cell("sites", first, "name", "Hall A"))
    other = two.change(set_cell("sites", first, "name", "Hall B"))
    merge(one, two)
    merge(two, one)
    waiting = facts.pending(one.folder, one.desk.store, one.desk.recorder.device)
    assert [(w.standing, w.cells[0].now, w.cells[0].edit.after) for w in waiting] == [
        (Standing.CLASH, "Hall A", "Hall B")
    ]
    assert [w.standing for w in facts.pending(two.folder, two.desk.store, "desk/second")] == [Standing.CLASH]
    told = notices_of(waiting)
    assert [notice.rule for notice in told] == ["facts-waiting"]
    assert "two values" in told[0].text.english()
    aside(one, other.event.id)
    assert one.cell("sites", first, "name") == "Hall A"
    assert not facts.pending(one.folder, one.desk.store, one.desk.recorder.device)
    merge(one, two)
    waiting = facts.pending(two.folder, two.desk.store, "desk/second")
    # The other laptop still holds its own value: it is told, and takes the decision by accepting it.
    assert [w.change.act for w in waiting if w.is_open] == ["set_aside"]
    fact_waiting.accept(
        two.folder,
        waiting[-1].change.event,
        reason="Agreed.",
        people=BY,
        desk=two.desk,
        moment=two.moment(),
    )
    assert two.cell("sites", first, "name") == "Hall A"
    merge(two, one)
    for office in laptops:
        assert not facts.pending(office.folder, office.desk.store, office.desk.recorder.device)


def test_rows_removed_come_back_in_their_places(office: Office) -> None:
    """Undo of removed rows gives the same rows in the same order, whatever the table's key."""
    tables = office.tables()
    rows = {held.tab: held.rows for held in folder_facts(office.folder).rows}
    middle = [row[0] for row in rows["people"][1:3]]
    taken = office.change(*(remove_row("people", person) for person in middle))
    assert taken.cells == 2
    office.undo(taken.event.id)
    assert {held.tab: held.rows for held in folder_facts(office.folder).rows} == rows
    assert office.tables()["people.csv"] == tables["people.csv"]


def test_copies_of_earlier_tables_are_bounded(office: Office) -> None:
    """The last 20 stay and all of the last 30 days; a change deletes the rest, an undo still works."""
    first = next(held.rows[0][0] for held in folder_facts(office.folder).rows if held.tab == "sites")
    taken = office.change(set_cell("sites", first, "name", "Hall 1"))
    copy = office.folder / kept_tables.EARLIER / kept(office.folder)[0].name
    day_ms = 86_400_000
    for number in range(kept_tables.KEEP_COPIES + 3):
        # One old copy a week before the last, none of them within the days that are kept.
        stamp = f"202801{number + 1:02d}T000000Z"
        shutil.copytree(copy, copy.with_name(stamp))
    assert len(kept(office.folder)) == kept_tables.KEEP_COPIES + 4
    office.clock += 60 * day_ms
    more = office.change(set_cell("sites", first, "name", "Hall 2"))
    assert len(more.pruned) == 5
    assert len(kept(office.folder)) == kept_tables.KEEP_COPIES
    assert kept_tables.prune(office.folder, office.clock, keep=1, days=10_000) == ()
    assert len(kept_tables.prune(office.folder, office.clock, keep=1, days=0)) == kept_tables.KEEP_COPIES - 1
    office.undo(more.event.id)
    office.undo(taken.event.id)
    assert office.standings()[:2] == [Standing.UNDONE, Standing.UNDONE]


def test_columns_of_the_countys_own_and_other_files_stay(office: Office) -> None:
    """A column that the program does not know keeps its cells when its table is written anew."""
    path = office.folder / "sites.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    widened = [lines[0] + ",District code", *(f"{line},0{number}" for number, line in enumerate(lines[1:]))]
    path.write_text("\r\n".join((*widened, "")), encoding="utf-8")
    remark = "# set by the board\n" + (office.folder / "rules.toml").read_text(encoding="utf-8")
    (office.folder / "rules.toml").write_text(remark, encoding="utf-8")
    rows = {held.tab: held.rows for held in folder_facts(office.folder).rows}
    sites = [row[0] for row in rows["sites"]]
    office.change(set_cell("sites", sites[1], "name", "Café, upper hall"))
    written = path.read_text(encoding="utf-8").splitlines()
    assert written[0].endswith(",District code")
    assert [line.rpartition(",")[2] for line in written[1:]] == [f"0{n}" for n in range(len(sites))]
    assert (office.folder / "rules.toml").read_text(encoding="utf-8") == remark
