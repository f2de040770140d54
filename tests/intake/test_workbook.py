"""A workbook loses nothing, and a spreadsheet finds texts, notes, lists and frozen headings in it."""

from __future__ import annotations

import datetime as dt
import functools
import tempfile
import zipfile
from pathlib import Path

import msgspec
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.worksheet.worksheet import Worksheet
from tests.intake.test_round_trip import TEXT, elections

from pollstead.election.county import Election, Person
from pollstead.election.rules import REGISTRY
from pollstead.election.station_type import (
    ClockCheck,
    Closure,
    MemoryDevices,
    Moment,
    NumberPolicy,
    StationType,
    SupplyUse,
    VoterStep,
)
from pollstead.election.values import Value
from pollstead.intake import read_folder, write_folder
from pollstead.intake.cells import looks_like_formula
from pollstead.intake.fact_import import look, prepare_lines
from pollstead.intake.fact_writing import folder_facts
from pollstead.intake.order import in_order
from pollstead.intake.shipped import LETTERS, shipped_types
from pollstead.intake.tab_reading import read_tabs
from pollstead.intake.tab_rows import TabRows, as_grids, row_of, rows_of, taken_of
from pollstead.intake.tables import TABLES
from pollstead.intake.tabs import tab_named, tabs
from pollstead.intake.whole_files import new_folder
from pollstead.intake.workbook_in import lock_beside, read_workbook, text_of
from pollstead.intake.workbook_out import LISTS, README, Origin, column_letter, for_xml, write_workbook

pytestmark = pytest.mark.full

SMALL = Path(__file__).resolve().parents[2] / "small"
LARKMOOR = SMALL.parent / "larkmoor"


@functools.cache
def small_workbook() -> bytes:
    """The workbook of the small county, written once for all tests that only change a copy of it."""
    with tempfile.TemporaryDirectory() as top:
        return _written(SMALL, Path(top) / "facts.xlsx").read_bytes()


def workbook_of(folder: Path, out: Path) -> Path:
    """The workbook of a folder, written by this program."""
    if folder != SMALL:
        return _written(folder, out)
    out.write_bytes(small_workbook())
    return out


def _written(folder: Path, out: Path) -> Path:
    held = folder_facts(folder)
    write_workbook(held.rows, out, Origin(facts=held.digest, made="2026-11-03", program="pollstead 0"))
    return out


def through_workbook(folder: Path, top: Path) -> Path:
    """A second folder, made from nothing but the workbook of the first."""
    file = workbook_of(folder, top / "facts.xlsx")
    found = look(top / "again", file, lambda _: None)
    assert found.faults == ()
    ready = prepare_lines(top / "again", found, [line.number for line in found.difference.lines])
    new_folder(top / "again", {name: data for name, data in ready.files.items() if data is not None})
    assert ready.digest == read_folder(top / "again").digest
    return top / "again"


@settings(max_examples=8, deadline=None)
@given(elections())
def test_any_county_comes_back_the_same_from_a_workbook(election: Election) -> None:
    """Zeros in front, accents, formula-like texts, white space, lengths, shares: nothing is lost."""
    with tempfile.TemporaryDirectory() as top:
        folder = Path(top) / "county"
        write_folder(election, folder)
        again = read_folder(through_workbook(folder, Path(top)))
        assert again.election == election
        assert again.digest == read_folder(folder).digest


@pytest.mark.parametrize("county", [SMALL, LARKMOOR], ids=["small", "larkmoor"])
def test_a_county_that_ships_comes_back_the_same(tmp_path: Path, county: Path) -> None:
    """The digest of the facts after folder, workbook and folder is the one before."""
    if not (county / "county.toml").is_file():
        pytest.skip(f"{county.name} is not in this checkout")
    assert read_folder(through_workbook(county, tmp_path)).digest == read_folder(county).digest


@pytest.mark.parametrize("letter", LETTERS)
def test_shipped_station_types_come_back_the_same_from_a_workbook(tmp_path: Path, letter: str) -> None:
    """Station types and kinds of site need no TOML: every field stands in a tab."""
    first = read_folder(SMALL).election
    assert first is not None
    types, kinds = shipped_types(letter)
    sites = tuple(msgspec.structs.replace(site, kind=kinds[0].id) for site in first.sites)
    changed = in_order(
        msgspec.structs.replace(
            first, station_types=types, site_kinds=kinds, sites=sites, closure_seals=(), devices=()
        )
    )
    write_folder(changed, tmp_path / "county")
    assert read_folder(through_workbook(tmp_path / "county", tmp_path)).election == changed


def test_every_fact_of_an_election_has_a_tab(tmp_path: Path) -> None:
    """Each table and each field of a station type stands somewhere; a new one cannot be forgotten.

    Fields are followed into values inside values; what a tab of its own holds is counted there.
    """
    names = {tab.name for tab in tabs()}
    assert {table.name for table in TABLES} <= names
    for tab in tabs():
        if tab.parent or not tab.flat:
            continue
        inside = {cell.path[0] for cell in tab.cells} | {t.field for t in tabs() if t.parent == tab.name}
        assert inside == set(tab.value_type.__struct_fields__)


def test_the_workbook_is_plain(tmp_path: Path) -> None:
    """No macro, no link to another file, no formula stands in the package (ECMA-376, parts of a workbook)."""
    folder = tmp_path / "county"
    election = read_folder(SMALL).election
    assert election is not None
    site = msgspec.structs.replace(election.sites[0], notes='=HYPERLINK("http://example.invalid")')
    write_folder(msgspec.structs.replace(election, sites=(site, *election.sites[1:])), folder)
    with zipfile.ZipFile(workbook_of(folder, tmp_path / "facts.xlsx")) as packed:
        names = packed.namelist()
        assert not [n for n in names if "vba" in n.lower() or "externalLink" in n]
        for name in names:
            if name.startswith("xl/worksheets/") and name.endswith(".xml"):
                data = packed.read(name)
                assert b"<f>" not in data and b"<hyperlink" not in data


def test_a_spreadsheet_library_finds_texts_notes_lists_and_frozen_headings(tmp_path: Path) -> None:
    """openpyxl, another reader, sees zeros kept, dates as dates, notes, drop-downs and frozen headings."""
    book = openpyxl.load_workbook(workbook_of(SMALL, tmp_path / "facts.xlsx"))
    assert book.sheetnames[0] == README
    for tab in tabs():
        sheet = book[tab.name]
        assert isinstance(sheet, Worksheet)
        assert sheet.freeze_panes == "B2"
        assert sheet.auto_filter.ref
        for index, cell in enumerate(tab.cells):
            heading = sheet.cell(1, index + 1)
            assert heading.value == cell.name
            assert heading.comment is not None and heading.comment.text.strip()
    precinct = book["precincts"]["A2"]
    assert (precinct.value, precinct.data_type, precinct.number_format) == ("001", "s", "@")
    assert book["hours"]["B2"].value == dt.datetime(2028, 11, 7)  # noqa: DTZ001
    assert book["devices"]["B2"].data_type == "s"
    assert book["precincts"]["C2"].data_type == "n"
    lists = {
        str(rule.sqref).split(":")[0]: rule.formula1
        for rule in book["closures"].data_validations.dataValidation
    }
    assert lists["A2"] == "'station_types'!$A$2:$A$512"
    assert "recorded" in str(lists["E2"])
    site_lists = {
        str(rule.sqref).split(":")[0]: str(rule.formula1)
        for rule in book["sites"].data_validations.dataValidation
    }
    kind = column_letter(tab_named("sites").index("kind"))
    assert site_lists[f"{kind}2"].startswith("'site_kinds'!")


def test_the_read_me_tab_says_what_the_workbook_was_made_from(tmp_path: Path) -> None:
    """County, digest of the facts, time and version stand there, and are read back."""
    file = workbook_of(SMALL, tmp_path / "facts.xlsx")
    origin = read_workbook(file).origin
    assert origin == Origin(facts=read_folder(SMALL).digest, made="2026-11-03", program="pollstead 0")
    sheet = openpyxl.load_workbook(file)[README]
    said = [(row[0].value, row[1].value) for row in sheet.iter_rows()]
    assert said[0] == ("county", "Larkmoor County")
    assert {name for name, _ in said} >= {tab.name for tab in tabs()}


def test_every_rule_is_offered_and_an_unset_one_stays_unset(tmp_path: Path) -> None:
    """The tab of rules lists the whole registry with its words; only rows with a value are settings."""
    file = workbook_of(SMALL, tmp_path / "facts.xlsx")
    sheet = openpyxl.load_workbook(file)["rules"]
    rows = list(sheet.iter_rows(min_row=2, values_only=True))
    assert {row[0] for row in rows} == {rule.id for rule in REGISTRY}
    election = read_folder(SMALL).election
    assert election is not None
    settings_read = read_workbook(file).facts.taken.settings
    assert sorted(s.rule for s in settings_read) == sorted(s.rule for s in election.rules.settings)


ODD_TEXTS = (
    "\ufffe",
    "\uffff",
    "_xFFFE_",
    "_x005F_xFFFE_",
    "_x0041_",
    "(blank)",
    "((blank))",
    "\x01",
    "a\r\nb",
)


@settings(max_examples=5, deadline=None)
@given(st.lists(TEXT, min_size=20, max_size=20))
def test_any_text_comes_back_from_the_file(texts: list[str]) -> None:
    """Texts that the file format or our own marks could be mistaken for come back as they were."""
    people = [Person(id=f"P{i:03d}", name=text) for i, text in enumerate((*texts, *ODD_TEXTS))]
    rows = TabRows(tab="people", rows=tuple(row_of(tab_named("people"), person) for person in people))
    with tempfile.TemporaryDirectory() as top:
        write_workbook([rows], Path(top) / "x.xlsx", Origin(facts="", made="", program=""))
        read = read_workbook(Path(top) / "x.xlsx")
    assert [record.value for record in read.facts.taken.records] == people


def test_empty_and_default_are_told_apart() -> None:
    """A text, list or value that is empty where the default is not comes back empty, not as the default."""
    kind = StationType(
        id="one",
        name="",
        step=VoterStep.NONE,
        data="",
        closures=(
            Closure(id="lid", name="(blank)", number=NumberPolicy.NO_SEAL, checked=()),
            Closure(id="bin", name="((blank))", seal_kind="wire", resealed=(Moment.CLOSING, Moment.OPENING)),
        ),
        clock=ClockCheck(reference="", lead_min=-5),
        memory_devices=MemoryDevices(count=2, travels=0),
        supplies=(SupplyUse(item="pen", unit=""), SupplyUse(item="", unit="(blank)")),
    )
    rows = [TabRows(tab="station_types", rows=(row_of(tab_named("station_types"), kind),))]
    for tab in tabs():
        if tab.parent == "station_types":
            inner = tuple(row_of(tab, item, kind.id) for item in getattr(kind, tab.field))
            rows.append(TabRows(tab=tab.name, rows=inner))
    read = read_tabs(as_grids(rows))
    assert read.faults == ()
    assert read.taken.station_types == (kind,)
    assert read.rows == tuple(rows)


@settings(max_examples=40)
@given(elections())
def test_rows_of_any_county_are_read_back_as_they_were(election: Election) -> None:
    """Facts to rows and back is the identity, and the rows of what was read are the rows again."""
    taken = taken_of(election)
    rows = rows_of(taken, election.assumptions)
    read = read_tabs(as_grids(rows))
    assert read.faults == ()
    assert read.rows == rows
    assert read.assumptions == election.assumptions
    assert read.taken.station_types == election.station_types


def test_dates_and_times_are_read_as_text_and_as_true_ones() -> None:
    """A cell that the spreadsheet turned into a date or a time of day says the same as the text."""
    assert text_of(dt.date(2026, 11, 3)) == "2026-11-03"
    assert text_of(dt.datetime(2026, 11, 3)) == "2026-11-03"  # noqa: DTZ001
    assert text_of(dt.time(7, 0)) == "07:00"
    assert text_of(dt.timedelta(hours=24, minutes=40)) == "24:40"
    assert text_of(12.0) == "12"
    assert text_of(0.00001) == "0.00001"
    assert text_of(True) == "yes"
    assert text_of("2026-11-03") == "2026-11-03"


def test_a_text_with_an_odd_code_point_survives_the_file() -> None:
    """U+FFFE and U+FFFF are no characters of XML 1.0 (section 2.2); their stand-ins are told from texts."""
    assert for_xml("a_xFFFE_b") == "a_x005F_xFFFE_b"
    assert text_of("_xFFFE_") == "\ufffe"
    assert text_of("_x005F_xFFFE_") == "_xFFFE_"
    assert text_of("_x0041_") == "_x0041_"


@pytest.mark.parametrize("lock", ["~$facts.xlsx", ".~lock.facts.xlsx#"])
def test_a_file_open_in_another_program_is_seen(tmp_path: Path, lock: str) -> None:
    """A lock file beside the workbook names it as open; without one nothing is said."""
    file = workbook_of(SMALL, tmp_path / "facts.xlsx")
    assert lock_beside(file) == ""
    (tmp_path / lock).write_bytes(b"")
    assert lock_beside(file) == lock
    assert read_workbook(file).open_elsewhere == lock


def test_every_fault_is_told_at_once_with_tab_row_and_column(tmp_path: Path) -> None:
    """Cells of different tabs that cannot be read are all named; nothing stops at the first."""
    file = workbook_of(SMALL, tmp_path / "facts.xlsx")
    book = openpyxl.load_workbook(file)
    sites, closures, parts = book["sites"], book["closures"], book["parts"]
    sites.cell(3, tab_named("sites").index("door_clear") + 1).value = "wide"
    closures.cell(4, tab_named("closures").index("number") + 1).value = "sealed"
    parts.cell(2, 1).value = "no-such-type"
    book["hours"].cell(2, 2).value = "soon"
    book["devices"].cell(5, 3).value = None
    book.save(file)
    faults = read_workbook(file).faults
    places = {(f.place.file, f.place.row, f.place.column) for f in faults if f.place}
    assert {
        ("tab sites", 3, "door_clear"),
        ("tab closures", 4, "number"),
        ("tab hours", 2, "date"),
        ("tab devices", 5, "kind"),
    } <= places
    assert all(f.remedy for f in faults)


def test_a_row_of_a_row_that_is_not_there_is_a_fault(tmp_path: Path) -> None:
    """A supply of a station type that nobody listed is named with its tab and row."""
    file = workbook_of(SMALL, tmp_path / "facts.xlsx")
    book = openpyxl.load_workbook(file)
    book["supplies"].cell(2, 1).value = "no-such-type"
    book.save(file)
    places = [(f.place.file, f.place.row, f.place.column) for f in read_workbook(file).faults if f.place]
    assert places == [("tab supplies", 2, "station_type")]


def test_a_cell_with_a_spreadsheet_error_is_a_fault_not_a_blank(tmp_path: Path) -> None:
    """#DIV/0! and a formula that nothing has computed would read as blank; both are named instead."""
    file = workbook_of(SMALL, tmp_path / "facts.xlsx")
    book = openpyxl.load_workbook(file)
    cell = book["precincts"]["C2"]
    cell.value = "#DIV/0!"
    cell.data_type = "e"
    book["precincts"]["C4"].value = "=C3+1"
    book.save(file)
    faults = read_workbook(file).faults
    assert [(f.rule, f.place.file, f.place.row) for f in faults if f.place] == [
        ("error-cell", "tab precincts", 2),
        ("error-cell", "tab precincts", 4),
    ]


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 not really", b"id,name\nS01,Hall\n"])
def test_what_is_no_workbook_is_told_without_a_traceback(tmp_path: Path, content: bytes) -> None:
    """An empty file, a broken package and a CSV file under a wrong name give one fault."""
    file = tmp_path / "facts.xlsx"
    file.write_bytes(content)
    assert [fault.rule for fault in read_workbook(file).faults] == ["workbook"]
    assert [fault.rule for fault in read_workbook(tmp_path / "none.xlsx").faults] == ["workbook"]


def test_a_new_workbook_appears_whole_or_not_at_all(tmp_path: Path) -> None:
    """A file that is there is not replaced unasked; nothing is left beside it."""
    file = workbook_of(SMALL, tmp_path / "facts.xlsx")
    before = file.read_bytes()
    with pytest.raises(FileExistsError, match="is there already"):
        write_workbook([], file, Origin(facts="", made="", program=""))
    assert file.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["facts.xlsx"]


def test_long_lists_of_choices_stand_in_a_sheet_of_their_own(tmp_path: Path) -> None:
    """A drop-down typed into its cell holds 255 characters at most; commas part its items."""
    book = openpyxl.load_workbook(workbook_of(SMALL, tmp_path / "facts.xlsx"))
    parts = book["parts"].data_validations.dataValidation
    order = column_letter(tab_named("parts").index("order"))
    rule = next(rule for rule in parts if str(rule.sqref).startswith(f"{order}2"))
    assert str(rule.formula1).startswith(f"'{LISTS}'!")
    assert book[LISTS].sheet_state == "hidden"
    for tab in tabs():
        for rule in book[tab.name].data_validations.dataValidation:
            assert len(str(rule.formula1)) <= 257


def test_dangerous_texts_keep_their_apostrophe_and_phones_do_not(tmp_path: Path) -> None:
    """A text that a spreadsheet would compute after an edit begins with an apostrophe; a phone does not."""
    folder = tmp_path / "county"
    election = read_folder(SMALL).election
    assert election is not None
    person = msgspec.structs.replace(election.people[0], name="=1+1", phone="+1 555-0100")
    write_folder(msgspec.structs.replace(election, people=(person, *election.people[1:])), folder)
    sheet = openpyxl.load_workbook(workbook_of(folder, tmp_path / "facts.xlsx"))["people"]
    values = [str(cell.value) for row in sheet.iter_rows(min_row=2) for cell in row if cell.value]
    assert "+1 555-0100" in values and "'=1+1" in values
    assert not [value for value in values if looks_like_formula(value)]


def test_rows_are_values() -> None:
    """What stands for a row of a flat tab is a frozen value like any other."""
    for tab in tabs():
        assert issubclass(tab.table.row_type, Value)
        assert tab.table.row_type.__struct_config__.frozen
