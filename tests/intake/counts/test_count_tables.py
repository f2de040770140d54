"""Tables of counts as people send them: nothing is guessed, nothing is left out silently."""

from __future__ import annotations

import tempfile
import zipfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pollstead.intake.counts.counted import CountsRead, read_counted
from pollstead.intake.counts.mapping import (
    ColumnUse,
    CountMapping,
    Meaning,
    NameUse,
    Role,
    Target,
    is_heading_of,
    propose,
)
from pollstead.intake.counts.mapping_file import (
    keep_mapping,
    mapping_for,
    mappings_text,
    parse_mappings,
    read_mappings,
)
from pollstead.intake.counts.names import Named, Names
from pollstead.intake.counts.table import CountTable, read_tables
from pollstead.intake.held_file import held

QUANTITIES = (
    Meaning(id="ballots_cast", words=("ballots cast", "ballots", "cast")),
    Meaning(id="check_ins", words=("check-ins", "voters checked in")),
)
MODES = (
    Meaning(id="election_day", words=("election day",)),
    Meaning(id="early", words=("early", "early voting")),
    Meaning(id="all", words=("total", "all")),
)
SITES = (
    Named(role=Role.SITE, id="S01", names=("Ansel Civic Hall",)),
    Named(role=Role.SITE, id="007", names=("Café Río",)),
    Named(role=Role.SITE, id="S02", names=("Harbor Lane Library",)),
    *(Named(role=Role.MODE, id=m.id, names=m.words) for m in MODES),
    *(Named(role=Role.QUANTITY, id=q.id, names=q.words) for q in QUANTITIES),
    Named(role=Role.DEVICE, id="device/scanner/1", names=("LM-V-0001",)),
    Named(role=Role.MEMORY, id="M1", names=()),
    Named(role=Role.MEMORY, id="M2", names=()),
)


def tables(path: Path) -> tuple[CountTable, ...]:
    """The tables of a file, which must be readable."""
    found, faults = read_tables(held(path), lambda heading: is_heading_of(QUANTITIES, MODES, heading))
    assert [one.rule for one in faults] in ([], ["encoding"])
    return found


def of_text(tmp_path: Path, text: str, encoding: str = "utf-8") -> CountTable:
    """The one table of a CSV text."""
    path = tmp_path / "counts.csv"
    path.write_bytes(text.encode(encoding))
    (table,) = tables(path)
    return table


def read(table: CountTable, target: Target = Target.CANVASS, **more: object) -> CountsRead:
    """What a table says with the columns as proposed and the names as known."""
    mapping = CountMapping(
        header=table.header, target=target, columns=propose(table, QUANTITIES, MODES), **more
    )  # type: ignore[arg-type]
    assert mapping.faults() == ()
    return read_counted(
        table,
        mapping,
        Names(SITES, mapping.names),
        {"device/scanner/1": "S01"},
        any_style=True,
    )


def numbers(found: CountsRead) -> dict[tuple[str, str, str], int | None]:
    """Total by subject, way of voting and quantity."""
    return {(one.subject, one.mode, one.quantity): one.total for one in found.counted}


def test_wide_table_under_titles_is_read_and_its_row_of_totals_is_compared(tmp_path: Path) -> None:
    """Group headings over repeated headings give the way of voting; a total that differs is a difference."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Canvass worksheet"])
    sheet.append([None, "Election day", None, "Early", None])
    sheet.append(["Polling place", "Ballots cast", "Check-ins", "Ballots cast", "Check-ins"])
    sheet.append(["Ansel Civic Hall", "1,204", 1204, 310, 311])
    sheet.append(["Harbor Lane Library", 9, None, 0, 0])
    sheet.append(["Grand total", 1214, 1204, 310, 311])
    path = tmp_path / "counts.xlsx"
    book.save(path)
    (table,) = tables(path)
    assert table.header_row == 3
    found = read(table)
    assert numbers(found) == {
        ("S01", "election_day", "ballots_cast"): 1204,
        ("S01", "election_day", "check_ins"): 1204,
        ("S01", "early", "ballots_cast"): 310,
        ("S01", "early", "check_ins"): 311,
        ("S02", "election_day", "ballots_cast"): 9,
        ("S02", "early", "ballots_cast"): 0,
        ("S02", "early", "check_ins"): 0,
    }, "the blank cell of row 5 is no zero"
    assert found.blanks == 1
    # 1,204 + 9 = 1,213; the row of totals says 1,214.
    (difference,) = found.differences
    assert (difference.found, difference.wanted) == ("1213", "1214")
    assert difference.place is not None and difference.place.row == 6


def test_long_table_with_styles_gives_parts_and_total(tmp_path: Path) -> None:
    """Rows of ballot styles are parts; the row without style is the total; a wrong sum is a difference."""
    table = of_text(
        tmp_path,
        "Site;Mode;Ballot style;Quantity;Count\n"
        "S01;Election day;BS-1;Ballots cast;100\n"
        "S01;Election day;BS-2;Ballots cast;20\n"
        "S01;Election day;;Ballots cast;121\n",
    )
    found = read(table)
    (one,) = found.counted
    assert (one.total, one.styles) == (121, (("BS-1", 100), ("BS-2", 20)))
    (difference,) = found.differences
    assert (difference.found, difference.wanted) == ("120", "121")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_marks_delimiters_accents_and_leading_zeros_keep_their_meaning(
    tmp_path: Path, encoding: str, delimiter: str
) -> None:
    """A name with accents is found however it is written down; 007 is 007, and 7 is asked about."""
    rows = (("Site", "Ballots cast"), ("CAFÉ  RÍO", "5"), ("S01", "3"))
    found = read(of_text(tmp_path, "\n".join(delimiter.join(row) for row in rows), encoding))
    assert numbers(found) == {("007", "all", "ballots_cast"): 5, ("S01", "all", "ballots_cast"): 3}
    decomposed = read(of_text(tmp_path, 'Site,Ballots cast\nCafe\u0301 Ri\u0301o,5\n="007",6\n'))
    assert [fault.rule for fault in decomposed.faults] == []
    assert numbers(decomposed) == {("007", "all", "ballots_cast"): 11}, "two names of one site add up"
    (seven,) = read(of_text(tmp_path, "Site,Ballots cast\n7,5\n")).unknown
    assert seven.text == "7"


def test_every_unknown_name_is_listed_at_once_with_row_column_and_nearest(tmp_path: Path) -> None:
    """All unknown sites and quantities of a table stand in one list; nothing may be taken before."""
    table = of_text(
        tmp_path,
        "Site,Quantity,Count\nAnsel Civic Hal,Ballots cast,5\nHarbour Library,Balots,6\n"
        "Ansel Civic Hal,Check-ins,7\n",
    )
    found = read(table)
    assert [(one.role.value, one.text, one.column, one.row, one.times) for one in found.unknown] == [
        ("site", "Ansel Civic Hal", "Site", 2, 2),
        ("site", "Harbour Library", "Site", 3, 1),
        ("quantity", "Balots", "Quantity", 3, 1),
    ]
    assert [one.nearest[0] for one in found.unknown] == ["S01", "S02", "ballots_cast"]
    assert not found.may_be_taken
    said = (
        NameUse(role=Role.SITE, theirs="ansel civic hal", ours="S01"),
        NameUse(role=Role.SITE, theirs="Harbour Library", ours=""),
        NameUse(role=Role.QUANTITY, theirs="Balots", ours="ballots_cast"),
    )
    confirmed = read(table, names=said)
    assert confirmed.may_be_taken and confirmed.left_out == 1
    assert numbers(confirmed) == {("S01", "all", "ballots_cast"): 5, ("S01", "all", "check_ins"): 7}


@pytest.mark.parametrize("cell", ["12-15", "3.5", "-4", "=SUM(B2:B9)", "1.234", "1 234", "12a", "1e3", "45%"])
def test_a_cell_that_may_mean_two_numbers_is_a_fault(tmp_path: Path, cell: str) -> None:
    """Nothing is guessed: the fault names row and column, and nothing may be taken."""
    rest = "".join(f"S0{n},{n}\n" for n in (1, 2)) * 5
    found = read(
        of_text(tmp_path, f"Site\tBallots cast\nAnsel Civic Hall\t{cell}\n" + rest.replace(",", "\t")),
        add_rows=True,
    )
    (fault,) = found.faults
    assert fault.place is not None
    assert (fault.place.row, fault.place.column, fault.found) == (2, "Ballots cast", cell)
    assert not found.may_be_taken


def test_a_row_that_says_the_same_again_is_a_fault_unless_rows_add_up(tmp_path: Path) -> None:
    """A site twice is a doubled row or two parts: only a person can say which."""
    table = of_text(tmp_path, "Site,Ballots cast\nS01,5\nS02,6\nS01,7\n")
    (fault,) = read(table).faults
    assert fault.place is not None and fault.place.row == 4
    assert numbers(read(table, add_rows=True))[("S01", "all", "ballots_cast")] == 12


def test_a_sum_with_a_blank_part_is_not_made(tmp_path: Path) -> None:
    """Of two precincts of a site one is blank: the site has no number then, and the page says which row."""
    said = tuple(NameUse(role=Role.SITE, theirs=p, ours="S01") for p in ("P1", "P2"))
    found = read(of_text(tmp_path, "Precinct,Ballots cast,Check-ins\nP1,5,7\nP2,,8\n"), names=said)
    assert numbers(found) == {("S01", "all", "check_ins"): 15}
    (told,) = found.not_made
    assert told.place is not None and (told.place.row, told.place.column) == (3, "Ballots cast")


def test_devices_stand_for_their_site_and_all_ways_are_compared_with_their_parts(tmp_path: Path) -> None:
    """A table by device gives the number of the site; a total that is not the sum of the ways differs."""
    table = of_text(
        tmp_path,
        "Scanner,Way of voting,Ballots cast\n"
        "LM-V-0001,Early,4\nLM-V-0001,Election day,5\nLM-V-0001,Total,10\n",
    )
    found = read(table)
    assert numbers(found)[("S01", "all", "ballots_cast")] == 10
    (difference,) = found.differences
    assert (difference.found, difference.wanted) == ("9", "10")


def test_a_memory_device_read_twice_stays_twice(tmp_path: Path) -> None:
    """Uploads are entries: a second row of one memory device is a second reading, not a fault."""
    found = read(of_text(tmp_path, "Memory card,Count\nM1,5\nM2,6\nM1,5\n"), Target.UPLOADS)
    assert [(one.subject, one.total) for one in found.counted] == [("M1", 5), ("M2", 6), ("M1", 5)]


def test_a_formula_that_no_program_computed_is_a_fault_and_no_blank(tmp_path: Path) -> None:
    """openpyxl writes formulas without their values, as a program does that never computed them."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Site", "Ballots cast"])
    sheet.append(["S01", "=40+2"])
    path = tmp_path / "formula.xlsx"
    book.save(path)
    found, (fault,) = read_tables(held(path), lambda heading: is_heading_of(QUANTITIES, MODES, heading))
    assert found == () and fault.found == "B2"


def test_another_kind_of_workbook_under_the_name_of_this_one_is_refused(tmp_path: Path) -> None:
    """A sheet of OASIS OpenDocument 1.2 (content.xml) repeats cells without end in a few bytes."""
    path = tmp_path / "night.xlsx"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        packed.writestr("content.xml", "<office:document-content/>")
    found, (fault,) = read_tables(held(path), lambda _: True)
    assert found == () and "no XLSX workbook" in fault.found


def test_a_workbook_that_unpacks_without_end_is_refused(tmp_path: Path) -> None:
    """One stray cell in the last row and column would fill the memory; it is named instead."""
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", '<c r="A1"/><c r="XFD1048576"/>')
    found, (fault,) = read_tables(held(path), lambda _: True)
    assert found == () and "beyond the table" in fault.found


def test_a_heading_that_totals_columns_is_not_counted_twice(tmp_path: Path) -> None:
    """Beside named columns a bare Total is left alone."""
    table = of_text(tmp_path, "Site,Election day ballots,Early ballots,Total\nS01,5,4,9\n")
    assert set(numbers(read(table))) == {
        ("S01", "election_day", "ballots_cast"),
        ("S01", "early", "ballots_cast"),
    }


def test_a_mapping_comes_back_for_the_same_header_and_for_no_other(tmp_path: Path) -> None:
    """What was confirmed is read back whole; a header with one more column is another header."""
    mapping = CountMapping(
        header=("Sité", 'Quo"ted', "n"),
        target=Target.RECEIVING,
        columns=(
            ColumnUse(theirs="Sité", role=Role.SITE),
            ColumnUse(theirs="n", role=Role.COUNT, quantity="ballots_cast", mode="early"),
        ),
        names=(NameUse(role=Role.SITE, theirs="Old \\ Mill", ours=""),),
        add_rows=True,
        confirmed_by="person/P010",
    )
    other = CountMapping(
        header=("A",), target=Target.CANVASS, columns=(ColumnUse(theirs="A", role=Role.SITE),)
    )
    keep_mapping(tmp_path, mapping)
    keep_mapping(tmp_path, other)
    keep_mapping(tmp_path, mapping)
    known, faults = read_mappings(tmp_path)
    assert faults == () and len(known) == 2
    assert mapping_for(known, mapping.header) == mapping
    assert mapping_for(known, (*mapping.header, "more")) is None


def test_a_mapping_file_that_cannot_be_read_is_never_written_over(tmp_path: Path) -> None:
    """A person's file with a mistake stays as it is, and the mistake is named."""
    path = tmp_path / "count_mappings.toml"
    path.write_text('[[mapping]]\nheader = ["A"]\ntarget = "elsewhere"\ncolumn = []\n', encoding="utf-8")
    before = path.read_bytes()
    _, (fault,) = read_mappings(tmp_path)
    assert "elsewhere" in fault.found
    with pytest.raises(ValueError, match="count_mappings"):
        keep_mapping(
            tmp_path,
            CountMapping(header=("A",), target=Target.CANVASS, columns=()),
        )
    assert path.read_bytes() == before


TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1, max_size=12)


@given(
    header=st.lists(TEXT, min_size=1, max_size=4, unique=True), name=TEXT, ours=st.sampled_from(["", "S01"])
)
def test_any_heading_and_name_survive_the_file(header: list[str], name: str, ours: str) -> None:
    """Whatever characters a county's own headings hold, the mapping file gives them back."""
    mapping = CountMapping(
        header=tuple(header),
        target=Target.CANVASS,
        columns=(ColumnUse(theirs=header[0], role=Role.COUNT, quantity="ballots_cast"),),
        names=(NameUse(role=Role.SITE, theirs=name, ours=ours),),
    )
    assert parse_mappings(mappings_text((mapping,)).encode()) == ((mapping,), ())


@example([("S01", 1_000_000)], True)
@given(
    st.lists(
        st.tuples(st.sampled_from(["S01", "S02", "Café Río"]), st.integers(0, 10**6)),
        min_size=1,
        max_size=8,
    ),
    st.booleans(),
)
def test_rows_add_up_whatever_their_order_and_thousands(rows: list[tuple[str, int]], commas: bool) -> None:
    """The number of a site is the plain sum of its rows, in any order, with or without separators."""
    with tempfile.TemporaryDirectory() as top:
        lines = [f'{site}\t"{n:,}"' if commas else f"{site}\t{n}" for site, n in rows]
        forward = read(of_text(Path(top), "\n".join(["Site\tBallots cast", *lines])), add_rows=True)
        back = read(of_text(Path(top), "\n".join(["Site\tBallots cast", *lines[::-1]])), add_rows=True)
    wanted: dict[str, int] = {}
    for site, n in rows:
        own = "007" if site == "Café Río" else site
        wanted[own] = wanted.get(own, 0) + n
    assert {one.subject: one.total for one in forward.counted} == wanted
    assert numbers(forward) == numbers(back)
