"""Tables as people have them: titles, merged cells, notes in number cells, totals, odd headings."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest

from pollstead.cli.main import run
from pollstead.intake import read_folder
from pollstead.intake.foreign import read_foreign, read_number
from pollstead.intake.mapping import DEVICES, PAST, PLACES, PRECINCTS, TOTALS, propose
from pollstead.intake.shipped import LETTERS, shipped_types
from pollstead.intake.start import last_general_election
from pollstead.intake.synonyms import device_words

FACTS = ("--county", "Larkmoor", "--election-day", "2026-11-03", "--zone", "America/New_York")


@pytest.fixture
def workbook(tmp_path: Path) -> Path:
    """Precincts in a workbook: two title rows, header in row 3, a place merged over its precincts, totals."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Larkmoor County Election Office"])
    sheet.merge_cells("A1:E1")
    sheet.append(["Draft of June", None, None, None, dt.date(2026, 6, 1)])
    sheet.append(["Polling Place", "Location Address", "Pct.", "Reg. Voters", "Election Day Turnout"])
    sheet.append(["Ansel Civic Hall", "1 Civic Square", "001", "1,610", 512])
    sheet.append([None, None, "002", 1385, "433 (est.)"])
    sheet.merge_cells("A4:A5")
    sheet.merge_cells("B4:B5")
    sheet.append(["Harbor Lane Library", "22 Harbor Lane", "004", 1520, 501.0])
    sheet.append([])
    sheet.append(["Total", None, None, 4515, 1446])
    sheet.append(["* turnout of precinct 002 is an estimate"])
    path = tmp_path / "places.xlsx"
    book.save(path)
    return path


def test_header_is_found_under_titles_and_totals_are_left_out(workbook: Path) -> None:
    """The header in row 3 is found; titles, totals and remarks are kept as skipped rows with a reason."""
    (table,), notices = read_foreign(workbook)
    assert notices == []
    assert table.header_row == 3
    assert table.header == (
        "Polling Place",
        "Location Address",
        "Pct.",
        "Reg. Voters",
        "Election Day Turnout",
    )
    assert [row.number for row in table.rows] == [4, 5, 6]
    assert {s.row: s.why for s in table.skipped} == {
        1: "above the header",
        2: "above the header",
        8: "a row of totals",
        9: "a remark, not a row",
    }


def test_merged_cells_fill_down(workbook: Path) -> None:
    """A place merged over two precincts stands beside both."""
    (table,), _ = read_foreign(workbook)
    assert table.cells(0) == ("Ansel Civic Hall", "Ansel Civic Hall", "Harbor Lane Library")
    assert table.cells(2) == ("001", "002", "004")


def test_workbook_becomes_a_county(
    tmp_path: Path, workbook: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One command makes sites, precincts and past ballots; the note in a number cell is told and kept."""
    code = run(["new", str(tmp_path / "county"), "--from", str(workbook), "--kind", "A", *FACTS, "--yes"])
    said = capsys.readouterr().out
    assert code == 0, said
    assert "433 (est.)" in said
    intake = read_folder(tmp_path / "county")
    assert intake.faults == ()
    assert intake.election is not None
    assert [(s.name, s.address) for s in intake.election.sites] == [
        ("Ansel Civic Hall", "1 Civic Square"),
        ("Harbor Lane Library", "22 Harbor Lane"),
    ]
    assert [(p.id, p.registered) for p in intake.election.precincts] == [
        ("001", 1610),
        ("002", 1385),
        ("004", 1520),
    ]
    assert [(h.unit, h.ballots) for h in intake.election.history] == [
        ("001", 512),
        ("002", 433),
        ("004", 501),
    ]
    assert "433 (est.)" in (tmp_path / "county" / "mapping.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "count", "note"),
    [
        ("1,234", 1234, ""),
        ("1,234 (est.)", 1234, "(est.)"),
        ("12*", 12, "*"),
        ("7.0", 7, ""),
        (" 0 ", 0, ""),
        ("", None, ""),
        ("n/a", None, "n/a"),
        ("-", None, ""),
    ],
)
def test_number_cells_with_notes(text: str, count: int | None, note: str) -> None:
    """A count is read beside its note; blank and n/a are not known, which is not zero."""
    number = read_number(text)
    assert (number.count, number.note) == (count, note)


@pytest.mark.parametrize(
    "text", ["12-15", "3.5", "about 40", "1,23", "1 234 567 8", "12/15", "-4", "1e3", "٣"]
)
def test_a_number_in_two_ways_is_refused(text: str) -> None:
    """A cell from which two numbers could be read is no number."""
    with pytest.raises(ValueError, match="expected a count"):
        read_number(text)


@pytest.mark.parametrize(
    ("header", "row", "purpose", "pairs"),
    [
        (
            "PRECINCT,POLLING PLACE NAME,STREET ADDRESS,CITY,TOTAL REGISTERED",
            "1-01,Grange Hall,4 Weir Road,Hollin Ferry,900",
            PRECINCTS,
            {
                "precinct": "PRECINCT",
                "name": "POLLING PLACE NAME",
                "city": "CITY",
                "registered": "TOTAL REGISTERED",
            },
        ),
        (
            "Location ID,Facility Name,Address,Precincts Served",
            "17,Grange Hall,4 Weir Road,1-01 1-02",
            PLACES,
            {"site": "Location ID", "name": "Facility Name", "precincts": "Precincts Served"},
        ),
        (
            "Pct No,Active Registered Voters,Ballots Cast",
            "1-01,900,312",
            PAST,
            {"precinct": "Pct No", "registered": "Active Registered Voters", "ballots": "Ballots Cast"},
        ),
        ("Equipment Type,Qty", "Scanner,12", TOTALS, {"device_kind": "Equipment Type", "count": "Qty"}),
        (
            "Serial Number,Machine Type,Asset Tag",
            "LM-S-0001,Scanner,LM-7",
            DEVICES,
            {"serial": "Serial Number", "device_kind": "Machine Type", "tag": "Asset Tag"},
        ),
    ],
)
def test_kinds_of_table_are_told_apart(
    tmp_path: Path, header: str, row: str, purpose: str, pairs: dict[str, str]
) -> None:
    """Headings in other words are recognized, and with them what kind of table it is."""
    path = tmp_path / "table.csv"
    path.write_text(f"{header}\n{row}\n{row.replace('1', '2')}\n", encoding="utf-8")
    (table,), _ = read_foreign(path)
    proposal = propose(table, (), device_words(shipped_types("A")[0]), len(table.rows))
    assert proposal.purpose == purpose
    found = {match.ours: match.theirs for match in proposal.matches}
    assert pairs.items() <= found.items()


def test_machine_counts_in_rows_join_the_kinds_of_the_station_types(tmp_path: Path) -> None:
    """Counts by kind of machine, and serials, come under the names that the station types use."""
    (tmp_path / "places.csv").write_text("Site Name,Address\nGrange Hall,4 Weir Road\n", encoding="utf-8")
    (tmp_path / "machines.csv").write_text(
        "Equipment Type,Quantity\nOptical Scanners,12\nBMD,9\nTotal,21\n", encoding="utf-8"
    )
    start = ["new", str(tmp_path / "county"), "--from", str(tmp_path / "places.csv")]
    assert run([*start, "--from", str(tmp_path / "machines.csv"), "--kind", "A", *FACTS, "--yes"]) == 0
    election = read_folder(tmp_path / "county").election
    assert election is not None
    assert {t.kind: t.count for t in election.fleet_totals} == {"scanner": 12, "ballot-marking device": 9}


def test_blank_places_are_left_out_unless_a_person_says_as_above(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A blank place in a CSV is told and left out; --fill-down says that it means the same as above."""
    text = "Polling Place,Precinct,Registered Voters\nGrange Hall,1-01,900\n,1-02,800\n"
    (tmp_path / "p.csv").write_text(text, encoding="utf-8")
    start = ["--from", str(tmp_path / "p.csv"), "--kind", "D", *FACTS, "--yes"]
    assert run(["new", str(tmp_path / "left"), *start]) == 0
    assert "no place beside the precinct" in capsys.readouterr().out
    assert run(["new", str(tmp_path / "filled"), *start, "--fill-down", "p.csv:Polling Place"]) == 0
    counts = []
    for name in ("left", "filled"):
        election = read_folder(tmp_path / name).election
        assert election is not None
        counts.append(len(election.precincts))
    assert counts == [1, 2]


def test_a_blank_county_starts_with_every_header(tmp_path: Path) -> None:
    """Without tables the folder has each list with its header, and check says that sites are missing."""
    assert run(["new", str(tmp_path / "county"), "--kind", "C", *FACTS]) == 0
    assert (tmp_path / "county" / "people.csv").read_text(encoding="utf-8").startswith("id,name,role")
    intake = read_folder(tmp_path / "county")
    assert {(n.rule, n.place.file) for n in intake.faults if n.place} == {("no-rows", "sites.csv")}


@pytest.mark.parametrize("letter", LETTERS)
def test_shipped_station_types_are_read(letter: str) -> None:
    """The station types of each kind of site read without a fault and make one kind of site."""
    types, kinds = shipped_types(letter)
    assert len(kinds) == 1
    assert {use.station_type for use in kinds[0].uses} == {t.id for t in types}


@pytest.mark.parametrize(
    "data", [b"", b"\x00\x01", b"PK\x03\x04 not a zip", b"just one cell", b'"open quote\n' * 3]
)
@pytest.mark.parametrize("name", ["t.csv", "t.xlsx"])
def test_what_is_no_table_is_told(tmp_path: Path, name: str, data: bytes) -> None:
    """A file that is no table gives a notice that names it and no table."""
    path = tmp_path / name
    path.write_bytes(data)
    tables, notices = read_foreign(path)
    assert tables == ()
    assert [n.place.file for n in notices if n.place] == [name]


def test_a_stray_cell_far_away_is_told_instead_of_filling_the_memory(tmp_path: Path) -> None:
    """A sheet with one cell in the last row and column (XFD1048576) is refused with what to do."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Polling Place", "Precinct"])
    sheet.append(["Grange Hall", "001"])
    sheet["XFD1048576"] = "x"
    book.save(tmp_path / "far.xlsx")
    tables, notices = read_foreign(tmp_path / "far.xlsx")
    assert tables == ()
    assert notices[0].found == "cells far beyond the table: delete those rows and columns"


def test_last_general_election_is_the_tuesday_of_an_even_year() -> None:
    """Tuesday after the first Monday in November of even years: 2 U.S.C. 7; dates of past elections."""
    assert last_general_election(dt.date(2026, 11, 3)) == dt.date(2024, 11, 5)
    assert last_general_election(dt.date(2024, 11, 5)) == dt.date(2022, 11, 8)
    assert last_general_election(dt.date(2027, 4, 1)) == dt.date(2026, 11, 3)
    assert last_general_election(dt.date(2014, 11, 4)) == dt.date(2012, 11, 6)


def test_a_hidden_sheet_and_a_past_election_day_are_told(
    tmp_path: Path, workbook: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A sheet that the workbook does not show is named, and so is an election day that is over."""
    book = openpyxl.load_workbook(workbook)
    book.active.sheet_state = "hidden"
    book.create_sheet("Shown").append(["nothing"])
    book.active = 1
    book.save(workbook)
    (table,), _ = read_foreign(workbook)
    assert table.hidden
    facts = ("--county", "Larkmoor", "--election-day", "2020-11-03", "--zone", "America/New_York")
    run(["new", str(tmp_path / "county"), "--from", str(workbook), "--kind", "A", *facts, "--yes"])
    said = capsys.readouterr().out
    assert "is a hidden sheet" in said
    assert "Election day 2020-11-03 is past" in said
    day = dt.date(2020, 11, 3)
    rules = [
        {n.rule for n in read_folder(tmp_path / "county", today).notices}
        for today in (None, day, day + dt.timedelta(days=1))
    ]
    assert ["election-day-past" in found for found in rules] == [False, False, True]
