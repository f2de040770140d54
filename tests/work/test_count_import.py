"""Counts of a file against the record: looked at, confirmed, all or none, corrected, taken back."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from pollstead.intake import read_folder
from pollstead.intake.counts.mapping import NameUse, Role, Target
from pollstead.record.event import Means, Part, Person
from pollstead.record.kinds.canvass import CanvassTotal
from pollstead.record.write import Moment
from pollstead.store.desk import Desk, begin_desk
from pollstead.store.exchange import check_store
from pollstead.work.count_import import (
    County,
    FileRead,
    NothingToTake,
    Preview,
    Standing,
    confirm_mapping,
    county_of,
    preview,
    read_count_file,
    take,
)
from pollstead.work.count_replacing import NothingStands, imports_of, said_of, take_back

SMALL = Path(__file__).resolve().parents[2] / "small"
PEOPLE = (Person(person="person/P010", means=Means.NAME_ONLY, part=Part.AUTHOR),)
FIRST_MS = 1_857_800_000_000


class Office:
    """A county folder with its desk, and what a clerk does with a file of counts."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        election = read_folder(folder).election
        assert election is not None
        self.county: County = county_of(election, None)
        self.clock = FIRST_MS
        self.desk: Desk = begin_desk(
            folder,
            county=election.county,
            election=election.name,
            practice=election.practice,
            people=PEOPLE,
            moment=self.moment(),
        )

    def moment(self) -> Moment:
        """The next second."""
        self.clock += 1000
        return Moment(utc_ms=self.clock, offset_min=0, uncertainty_ms=0)

    def read(self, text: str, name: str = "canvass.csv", target: Target | None = None) -> FileRead:
        """A file of counts as the office reads it."""
        path = self.folder.parent / name
        path.write_text(text, encoding="utf-8")
        return read_count_file(self.folder, path, self.county, target=target)

    def look(self, file: FileRead) -> Preview:
        """What the first table of a file would record."""
        sheet = file.sheet("")
        assert sheet is not None, file.notices
        return preview(sheet.table, sheet.mapping, self.county, self.desk.fold(private=True))

    def take(self, file: FileRead) -> int:
        """Record a file; how many events that were."""
        return len(take(self.desk, self.look(file), file, people=PEOPLE, moment=self.moment()))

    def back(self, file: FileRead) -> int:
        """Take a file back; how many events that were."""
        return len(
            take_back(self.desk, file.digest, reason="wrong file", people=PEOPLE, moment=self.moment())
        )

    def totals(self) -> dict[tuple[str, str], tuple[int, ...]]:
        """What stands as totals of the canvass, by site and quantity."""
        return {
            (fact.subject, str(fact.key["quantity"])): tuple(said_of(one) for one in fact.current)
            for fact in self.desk.fold().named(CanvassTotal.kind)
            if fact.current
        }


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small county, copied once."""
    ignore = shutil.ignore_patterns("*.db*", "keys", "packets", "*.py", "day")
    return Path(shutil.copytree(SMALL, tmp_path_factory.mktemp("counts") / "county", ignore=ignore))


@pytest.fixture
def office(folder: Path, tmp_path: Path) -> Iterator[Office]:
    """A desk on a copy of its own."""
    made = Office(Path(shutil.copytree(folder, tmp_path / "county")))
    yield made
    made.desk.close()


FIRST = "Site,Ballots cast,Check-ins\nS01,500,501\nS02,320,320\n"
SECOND = "Site,Ballots cast,Check-ins\nS01,501,501\nS02,320,320\n"


def test_a_file_is_recorded_once_and_a_later_one_corrects_only_what_differs(office: Office) -> None:
    """The same file again records nothing; one number that differs becomes one correction naming the old."""
    first, second = office.read(FIRST), office.read(SECOND, "later.csv")
    assert office.take(first) == 4
    with pytest.raises(NothingToTake, match="recorded already"):
        office.take(office.read(FIRST))
    lines = office.look(second).lines
    assert [
        (one.counted.subject, one.counted.quantity, one.there)
        for one in lines
        if one.standing is Standing.DIFFERS
    ] == [("S01", "ballots_cast", (500,))]
    assert office.take(second) == 1
    assert office.totals()[("site/S01", "ballots_cast")] == (501,)
    fact = office.desk.fold().find(
        "site/S01", "canvass.total", mode="all", quantity="ballots_cast", source="file"
    )
    assert fact is not None and [said_of(one) for one in fact.readings] == [500, 501], "both are kept"
    assert check_store(office.desk.store).checks


def test_an_import_is_taken_back_to_what_stood_before(office: Office) -> None:
    """Undo of the later file brings the earlier number back; undo of both leaves nothing standing."""
    first, second = office.read(FIRST), office.read(SECOND, "later.csv")
    office.take(first)
    office.take(second)
    assert office.back(second) == 1
    assert office.totals()[("site/S01", "ballots_cast")] == (500,)
    assert office.back(first) == 4
    assert office.totals() == {}
    with pytest.raises(NothingStands):
        office.back(first)
    assert office.take(second) == 4, "after undo the same file can be taken anew"
    names = {one.file: (one.standing, one.person) for one in imports_of(office.desk.fold(private=True))}
    assert names == {"canvass.csv": (0, "person/P010"), "later.csv": (4, "person/P010")}


def test_nothing_is_written_while_one_name_is_unknown(office: Office) -> None:
    """A file with one wrong site of two records none of its numbers, until a person says what it means."""
    file = office.read("Site,Ballots cast\nS01,5\nAnsel Hall Annex,6\n")
    before = office.desk.store.events.count()
    with pytest.raises(NothingToTake, match="unknown names"):
        office.take(file)
    assert office.desk.store.events.count() == before
    sheet = file.sheet("")
    assert sheet is not None and not sheet.confirmed
    said = NameUse(role=Role.SITE, theirs="Ansel Hall Annex", ours="S02")
    mapping = type(sheet.mapping)(
        header=sheet.mapping.header, target=Target.CANVASS, columns=sheet.mapping.columns, names=(said,)
    )
    confirm_mapping(office.desk, office.folder, mapping, people=PEOPLE, moment=office.moment())
    again = office.read("Site,Ballots cast\nAnsel Hall Annex,6\nS01,5\n", "next.csv")
    kept = again.sheet("")
    assert kept is not None and kept.confirmed and kept.mapping.confirmed_by == "person/P010"
    assert office.take(again) == 2
    assert read_folder(office.folder).faults == (), "the kept mapping is no unknown file of the folder"
    digest = next(one for one in office.desk.fold().named("mapping.confirmed")).current[0].value["digest"]
    assert b"Ansel Hall Annex" in office.desk.store.snapshots.load(str(digest))


def test_memory_devices_read_twice_are_two_and_the_same_file_is_one(office: Office) -> None:
    """A doubled row is kept as two readings; the same file sent again brings none."""
    memory = next(one.id for one in office.county.names if one.role is Role.MEMORY)
    text = f"Memory device,Count\n{memory},214\n{memory},214\n"
    assert office.take(office.read(text)) == 2
    with pytest.raises(NothingToTake):
        office.take(office.read(text))
    assert office.take(office.read(text + f"{memory},214\n", "third.csv")) == 1
    facts = office.desk.fold().named("memory.uploaded")
    assert sum(len(fact.current) for fact in facts) == 3


def test_a_typed_number_of_another_source_is_shown_and_left(office: Office) -> None:
    """What somebody typed from paper stands beside the file's number; neither replaces the other."""
    office.desk.recorder.record(
        CanvassTotal(mode="all", quantity="ballots_cast", source="paper", total=499),
        subject="site/S01",
        site="site/S01",
        people=PEOPLE,
        moment=office.moment(),
    )
    (line,) = (one for one in office.look(office.read("Site,Ballots cast\nS01,500\n")).lines)
    assert (line.standing, line.elsewhere) == (Standing.NEW, (("paper", 499),))
