"""Whatever stands in a county folder, reading it ends in notices that name the place, never in an error."""

from __future__ import annotations

import csv
import io
import os
import random
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pollstead.election.notice import NoticeKind
from pollstead.intake import read_folder

SMALL = Path(__file__).resolve().parents[2] / "small"
TABLES = sorted(p.name for p in SMALL.iterdir() if p.suffix in (".csv", ".toml"))
CSV_TABLES = [name for name in TABLES if name.endswith(".csv")]
NASTY = (
    "",
    " ",
    "=1+1",
    "@SUM(A1)",
    "-5",
    "1e999999",
    "9" * 400,
    "9" * 5000,
    "A" * 200_000,
    "'",
    '"',
    '"""',
    ";;;\\",
    "\\",
    "NaN",
    "inf",
    "٣",
    "0x10",
    "1,2,3",
    "2028-02-30",
    "0000-00-00",
    "9999-12-31",
    "13/13/2028",
    "25:61",
    "47:59",
    "48:00",
    "24:40",
    "-",
    "*",
    "null",
    "S01/..",
    "../../etc/passwd",
    "é",
    "e\u0301",
    "\u202e",
    "\ufeff",
    "\ufffd",
    '1/0"',
    "3' 0/0\"",
    "100 %",
    "\r\n",
    "a\nb",
    "\x00",
    "\x1f",
    "😀" * 50,
)


TOML_NASTY = (
    *("1", "-1", '"x"', "[]", "{}", "[[1]]", "inf", "nan", "1e400", "9" * 5000, "07:00:00", "2028-01-01"),
    *("true", "2028-01-01T00:00:00Z", "[" * 2000, '"\\u0000"', "0.1", "{a={b={c=1}}}"),
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the small county, written back before each example."""
    return tmp_path_factory.mktemp("county") / "small"


def fresh(folder: Path) -> Path:
    """The small county as it ships, without what is no table."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for name in TABLES:
        shutil.copyfile(SMALL / name, folder / name)
    return folder


def rows_of(path: Path) -> list[list[str]]:
    """The rows of a CSV file."""
    return list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))


def write_rows(path: Path, rows: list[list[str]]) -> None:
    """Write rows as CSV; a lone surrogate is no text of a file and is left to the byte test."""
    stream = io.StringIO(newline="")
    csv.writer(stream).writerows(rows)
    path.write_bytes(stream.getvalue().encode("utf-8"))


def read_and_look(folder: Path) -> None:
    """Read, and hold every notice to its form: a fault names file, what was found or wanted, a remedy."""
    intake = read_folder(folder)
    for notice in intake.notices:
        assert notice.text.english()
        if notice.kind is NoticeKind.FAULT:
            assert notice.place is not None
            assert notice.place.file
            assert notice.remedy is not None
            assert notice.found or notice.wanted
    assert len({n.key for n in intake.notices}) == len(intake.notices)
    if intake.election is None:
        assert intake.faults
    assert set(intake.tables) <= set(TABLES)


@pytest.mark.full
@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(table=st.sampled_from(CSV_TABLES), seed=st.integers(0, 2**32), text=st.sampled_from(NASTY))
def test_any_cell_may_hold_anything(folder: Path, table: str, seed: int, text: str) -> None:
    """One cell of one table, header included, replaced by a nasty text."""
    chance = random.Random(seed)
    rows = rows_of(fresh(folder) / table)
    row = chance.choice(rows)
    row[chance.randrange(len(row))] = text
    write_rows(folder / table, rows)
    read_and_look(folder)


@pytest.mark.full
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(table=st.sampled_from(CSV_TABLES), column=st.integers(0, 20), text=st.sampled_from(NASTY))
def test_a_whole_column_may_hold_anything(folder: Path, table: str, column: int, text: str) -> None:
    """Every cell of one column of one table replaced by a nasty text."""
    rows = rows_of(fresh(folder) / table)
    for row in rows[1:]:
        row[column % len(row)] = text
    write_rows(folder / table, rows)
    read_and_look(folder)


@pytest.mark.full
@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    table=st.sampled_from(TABLES),
    seed=st.integers(0, 2**32),
    change=st.sampled_from(
        ["cut", "flip", "insert", "random", "utf-16", "latin-1", "double", "shuffle", "zero"]
    ),
)
def test_any_file_may_hold_any_bytes(folder: Path, table: str, seed: int, change: str) -> None:
    """The bytes of one file cut, flipped, mixed with others, or in another encoding."""
    chance = random.Random(seed)
    path = fresh(folder) / table
    data = path.read_bytes()
    place = chance.randrange(len(data))
    noise = chance.randbytes(chance.randrange(1, 60))
    changed = {
        "cut": data[:place],
        "flip": data[:place] + bytes([data[place] ^ (1 << chance.randrange(8))]) + data[place + 1 :],
        "insert": data[:place] + noise + data[place:],
        "random": noise,
        "utf-16": data.decode().encode(chance.choice(["utf-16", "utf-16-le", "utf-16-be", "utf-32"])),
        "latin-1": data.replace(b"a", "ä".encode("latin-1")),
        "double": data + data,
        "shuffle": b"\n".join(chance.sample(lines := data.split(b"\n"), len(lines))),
        "zero": b"",
    }
    path.write_bytes(changed[change])
    read_and_look(folder)


@pytest.mark.full
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(table=st.sampled_from(CSV_TABLES), seed=st.integers(0, 2**32))
def test_columns_and_rows_may_be_missing_or_doubled(folder: Path, table: str, seed: int) -> None:
    """A column dropped or doubled, a row dropped, doubled, shortened or lengthened."""
    chance = random.Random(seed)
    rows = rows_of(fresh(folder) / table)
    column = chance.randrange(len(rows[0]))
    row = chance.randrange(len(rows))
    for change in chance.sample(range(6), 2):
        if change == 0:
            rows = [[c for i, c in enumerate(r) if i != column % len(r)] or [""] for r in rows]
        elif change == 1:
            rows = [[*r, r[column % len(r)]] for r in rows]
        elif change == 2:
            del rows[row % len(rows)]
        elif change == 3:
            rows.insert(row, list(rows[row % len(rows)]))
        elif change == 4:
            rows[row % len(rows)] = rows[row % len(rows)][:-1]
        else:
            rows[row % len(rows)] = [*rows[row % len(rows)], "more"]
        if not rows:
            break
    write_rows(folder / table, rows)
    read_and_look(folder)


@pytest.mark.full
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    table=st.sampled_from([name for name in TABLES if name.endswith(".toml")]),
    seed=st.integers(0, 2**32),
    text=st.sampled_from(TOML_NASTY),
)
def test_any_toml_value_may_be_anything(folder: Path, table: str, seed: int, text: str) -> None:
    """The value on one line of a TOML file replaced by something of another type."""
    chance = random.Random(seed)
    path = fresh(folder) / table
    lines = path.read_text(encoding="utf-8").split("\n")
    numbers = [i for i, line in enumerate(lines) if " = " in line]
    number = chance.choice(numbers)
    lines[number] = lines[number].split(" = ")[0] + " = " + text
    path.write_text("\n".join(lines), encoding="utf-8")
    read_and_look(folder)


NOBODY_MISSES = (
    "ballot_contests.csv",
    "choices.csv",
    "contests.csv",
    "delivery_stops.csv",
    "fixed.csv",
    "vehicles.csv",
)


@pytest.mark.parametrize("table", TABLES)
def test_a_table_may_be_a_folder_or_not_there(folder: Path, table: str) -> None:
    """A folder in the place of a table is a fault of that table; a missing one that is needed is told."""
    fresh(folder)
    (folder / table).unlink()
    read_and_look(folder)
    notices = read_folder(folder).notices
    assert any(n.place is not None and n.place.file == table for n in notices) or table in NOBODY_MISSES
    (folder / table).mkdir()
    read_and_look(folder)
    faults = read_folder(folder).faults
    assert [n.place.file for n in faults if n.place and n.rule == "file-not-opened"] == [table]
    (folder / table).rmdir()


@pytest.mark.parametrize("what", ["not there", "a file"])
def test_a_path_that_is_no_folder_is_a_notice(tmp_path: Path, what: str) -> None:
    """A path that leads to no folder gives one fault and no election."""
    path = tmp_path / "county"
    if what == "a file":
        path.write_text("x")
    intake = read_folder(path)
    assert intake.election is None
    assert [n.rule for n in intake.faults] == ["folder"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_in_the_place_of_a_table_is_not_waited_for(folder: Path) -> None:
    """A named pipe that nobody writes to is a fault, not a program that never ends."""
    fresh(folder)
    (folder / "people.csv").unlink()
    os.mkfifo(folder / "people.csv")
    assert [n.rule for n in read_folder(folder).faults] == ["file-not-opened"]


def test_a_file_of_many_gigabytes_is_not_read(folder: Path) -> None:
    """A table larger than any list is a fault by its size, before a byte of it is read."""
    fresh(folder)
    with (folder / "people.csv").open("r+b") as stream:
        stream.truncate(8 * 1024**3)  # a hole: takes no room on the disk
    assert [n.rule for n in read_folder(folder).faults] == ["file-size"]
    (folder / "people.csv").unlink()
