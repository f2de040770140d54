"""Tables about buildings and surroundings: read, written again without loss, and joined to the others."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from pollstead.election.notice import Grade
from pollstead.intake import Intake, read_folder, write_folder
from pollstead.intake.cells import CellFault, CellKind, read_cell, write_cell
from pollstead.intake.contradictions_around import ROW_KEYS
from pollstead.intake.tables_around import TABLES_AROUND

pytestmark = pytest.mark.full

LARKMOOR = Path(__file__).resolve().parents[2] / "larkmoor"
Rows = list[list[str]]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the invented county's tables."""
    out = tmp_path / "county"
    out.mkdir()
    for path in LARKMOOR.iterdir():
        if path.suffix in (".csv", ".toml"):
            shutil.copy(path, out)
    return out


def change(folder: Path, file: str, edit: Callable[[Rows], object]) -> Intake:
    """Edit the rows of one table and read the folder."""
    path = folder / file
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    edit(rows)
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows(rows)
    return read_folder(folder)


@pytest.mark.full
def test_a_county_with_every_table_comes_back_the_same(tmp_path: Path) -> None:
    """All tables filled: reading, writing and reading again give one digest."""
    first = read_folder(LARKMOOR)
    assert first.election is not None
    for table in TABLES_AROUND:
        assert getattr(first.election, table.name), table.name
    write_folder(first.election, tmp_path / "out")
    second = read_folder(tmp_path / "out")
    assert second.election == first.election
    assert second.digest == first.digest


@pytest.mark.full
def test_the_order_of_rows_changes_no_digest(folder: Path) -> None:
    """Each table backwards gives the same snapshot."""
    before = read_folder(folder).digest

    def turn(rows: Rows) -> None:
        rows[1:] = rows[:0:-1]

    for table in TABLES_AROUND:
        assert change(folder, table.file, turn).digest == before


@pytest.mark.parametrize("table", TABLES_AROUND, ids=lambda table: table.name)
def test_a_row_given_twice_is_named_and_neither_is_taken(folder: Path, table: object) -> None:
    """Two rows about one thing contradict; the sites are planned all the same."""
    name = str(getattr(table, "name", ""))
    before = read_folder(folder).election
    intake = change(folder, f"{name}.csv", lambda rows: rows.append(list(rows[1])))
    [fault] = intake.faults
    assert (fault.rule, fault.grade) == ("row-twice", Grade.CONTRADICTS)
    assert fault.place is not None
    assert fault.place.file == f"{name}.csv"
    assert intake.not_planned == ()
    assert before is not None
    assert intake.election is not None
    assert len(getattr(intake.election, name)) == len(getattr(before, name)) - 1
    assert ROW_KEYS[name]


@pytest.mark.parametrize(
    ("file", "column", "wrong"),
    [
        ("site_survey.csv", "site", "S99"),
        ("doors.csv", "room", "attic"),
        ("outlets.csv", "circuit", "C99"),
        ("site_access.csv", "backup_site", "S99"),
        ("site_routes.csv", "vehicle", "V99"),
        ("site_routes.csv", "returns_to", "S99"),
        ("site_routes.csv", "receiving_lead", "P9999"),
    ],
)
def test_a_name_that_leads_nowhere_is_an_open_item(folder: Path, file: str, column: str, wrong: str) -> None:
    """A name that no table lists is told with its file, row and column, and blocks nothing."""

    def edit(rows: Rows) -> None:
        rows[3][rows[0].index(column)] = wrong

    intake = change(folder, file, edit)
    assert intake.faults == ()
    [item] = [n for n in intake.notices if n.rule == "name-leads-nowhere"]
    assert item.place is not None
    assert (item.place.file, item.place.row, item.place.column) == (file, 4, column)
    assert item.found == wrong


@pytest.mark.parametrize(
    ("text", "value"), [("-19000", -19_000), ("0", 0), ("1,200", 1_200), ("-1,200", -1_200)]
)
def test_a_place_may_lie_west_of_the_warehouse(text: str, value: int) -> None:
    """Meters below 0 are read and written back."""
    assert read_cell(CellKind.SIGNED, text) == value
    assert read_cell(CellKind.SIGNED, write_cell(CellKind.SIGNED, value)) == value


@pytest.mark.parametrize("text", ["--3", "3-", "1.5", "west", "-"])
def test_a_cell_that_is_no_whole_number_is_refused(text: str) -> None:
    """What is wanted is said."""
    with pytest.raises(CellFault, match="also below 0"):
        read_cell(CellKind.SIGNED, text)


def test_a_time_of_an_unknown_kind_is_refused_with_the_kinds(folder: Path) -> None:
    """The row says what could stand there."""

    def edit(rows: Rows) -> None:
        rows[1][rows[0].index("kind")] = "tide"

    intake = change(folder, "site_times.csv", edit)
    [fault] = intake.faults
    assert fault.rule == "row-refused"
    assert "road closed" in fault.text.english()
