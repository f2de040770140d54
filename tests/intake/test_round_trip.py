"""What is written as a county folder is read back as the very same facts."""

from __future__ import annotations

import csv
import datetime as dt
import os
import shutil
import tempfile
import unicodedata
from pathlib import Path

import msgspec
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.cli.main import run
from pollstead.election.county import (
    ArrivalShare,
    Assumption,
    Device,
    Election,
    FixedValue,
    FleetTotal,
    Hours,
    PastCount,
    Person,
    Precinct,
    Site,
)
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.station_type import (
    ClockCheck,
    Footprint,
    Power,
    Service,
    StationType,
    SupplyUse,
    VoterStep,
)
from pollstead.election.words import message
from pollstead.intake import export, read_folder, whole_files, write_folder
from pollstead.intake.cells import CellKind, escape, looks_like_formula, read_cell, unescape, write_cell
from pollstead.intake.export import folder_texts
from pollstead.intake.order import in_order
from pollstead.intake.shipped import LETTERS, shipped_types

SMALL = Path(__file__).resolve().parents[2] / "small"


def is_nfc(text: str) -> bool:
    """Whether the text is in the one form in which a folder keeps it."""
    return unicodedata.is_normalized("NFC", text)


TEXT = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\x00\ufffd")
    | st.sampled_from("=+-@';\\\"\n\r\t é"),
    min_size=1,
    max_size=12,
).filter(lambda text: is_nfc(text) and bool(text.strip()))
ID = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,8}", fullmatch=True)
COUNT = st.integers(0, 2**40)
LENGTH = st.integers(1, 10**9)
PPM = st.integers(0, 3_000_000)


@st.composite
def elections(draw: st.DrawFn) -> Election:
    """A county with awkward texts: formulas, quotes, accents, white space, zeros in front."""
    ids = draw(st.lists(ID, min_size=1, max_size=4, unique=True))
    day = dt.date(2026, 11, 3)
    hours = st.just(()) | st.builds(
        lambda opens, length: (Hours(date=day, opens_min=opens, closes_min=opens + length),),
        st.integers(180, 700),
        st.integers(30, 700),
    )
    sites = tuple(
        Site(
            id=site,
            name=draw(TEXT),
            address=draw(TEXT | st.just("")),
            registered=draw(st.none() | COUNT),
            door_clear_um=draw(st.none() | LENGTH),
            outlets=draw(st.none() | COUNT),
            access_from_min=draw(st.none() | st.integers(0, 2879)),
            openers=tuple(draw(st.lists(TEXT | st.just(""), max_size=3))),
            hours=draw(hours),
            notes=draw(TEXT | st.just("")),
        )
        for site in ids
    )
    station_type = StationType(
        id="one",
        name=draw(TEXT),
        step=VoterStep.CAST,
        service=Service(mean_ms=draw(st.integers(1, 10**7)), cv_ppm=draw(PPM)),
        footprint=Footprint(
            width_um=draw(LENGTH), depth_um=draw(LENGTH), clear_front_um=draw(st.integers(0, 10**9))
        ),
        power=Power(idle_w=3, peak_w=9, cord_um=draw(LENGTH)),
        clock=ClockCheck(reference=draw(TEXT), lead_min=draw(st.integers(-60, 60))),
        supplies=(SupplyUse(item=draw(TEXT), per_voter_ppm=draw(PPM), spare_ppm=draw(PPM)),),
    )
    return in_order(
        Election(
            county=draw(TEXT),
            name=draw(TEXT),
            election_day=day,
            zone_name="America/Denver",
            station_types=(station_type,),
            rules=CountyRules(
                settings=(RuleSetting(rule="wait-limit", value=draw(COUNT), source=draw(TEXT)),)
            ),
            sites=sites,
            precincts=(Precinct(id="00123", site=ids[0], styles=tuple(draw(st.lists(TEXT, max_size=2)))),),
            history=(
                PastCount(
                    election=draw(TEXT), date=dt.date(2024, 11, 5), unit="00123", mode=draw(TEXT), ballots=0
                ),
            ),
            arrivals=(ArrivalShare(hour=7, share_ppm=333_333), ArrivalShare(hour=8, share_ppm=666_667)),
            devices=(
                Device(
                    id="device/x/0007",
                    serial=draw(TEXT),
                    kind=draw(TEXT),
                    memory_devices=tuple(draw(st.lists(TEXT | st.just(""), max_size=3, unique=True))),
                    lifetime_counter=draw(st.none() | COUNT),
                ),
            ),
            fleet_totals=(FleetTotal(kind=draw(TEXT), count=draw(COUNT), source=draw(TEXT)),),
            people=(Person(id="P1", name=draw(TEXT), phone="+1 555-0100"),),
            fixed=(
                FixedValue(table="stations", row=draw(TEXT), field="count", value="007", reason=draw(TEXT)),
            ),
            assumptions=(
                Assumption(
                    subject=draw(TEXT),
                    field="f",
                    value=draw(TEXT),
                    why=message("{a} of {b}", a=draw(COUNT), b=draw(TEXT)),
                ),
            ),
            practice=draw(st.booleans()),
        )
    )


@pytest.mark.full
@settings(max_examples=40)
@given(elections())
def test_any_county_comes_back_the_same(election: Election) -> None:
    """Zeros in front, accents, quotes, formula-like texts, lengths to the micrometer: nothing is lost."""
    with tempfile.TemporaryDirectory() as top:
        folder = Path(top) / "county"
        write_folder(election, folder)
        intake = read_folder(folder)
        assert intake.faults == ()
        assert intake.election == election
        assert folder_texts(election) == folder_texts(intake.election)


def test_the_small_county_comes_back_the_same(tmp_path: Path) -> None:
    """Reading, writing and reading the county that ships for tests gives one digest."""
    first = read_folder(SMALL)
    assert first.election is not None
    write_folder(first.election, tmp_path / "out")
    second = read_folder(tmp_path / "out")
    assert second.digest == first.digest
    assert second.election == first.election


@pytest.mark.parametrize("letter", LETTERS)
def test_shipped_station_types_come_back_the_same(tmp_path: Path, letter: str) -> None:
    """The station types of each kind of site survive writing and reading."""
    first = read_folder(SMALL).election
    assert first is not None
    types, kinds = shipped_types(letter)
    sites = tuple(msgspec.structs.replace(site, kind=kinds[0].id) for site in first.sites)
    changed = in_order(
        msgspec.structs.replace(
            first, station_types=types, site_kinds=kinds, sites=sites, closure_seals=(), devices=()
        )
    )
    write_folder(changed, tmp_path / "out")
    assert read_folder(tmp_path / "out").election == changed


@given(TEXT)
def test_no_written_cell_is_computed_by_a_spreadsheet(text: str) -> None:
    """A written text never begins with a sign that starts a formula, and comes back as it was.

    Signs: = + - @ and tab or line break (OWASP, CSV Injection; from memory).
    """
    cell = escape(text)
    assert cell[0] not in "=+-@\t\r\n"
    assert unescape(cell) == text


def test_a_spreadsheet_library_sees_text_where_a_formula_was(tmp_path: Path) -> None:
    """openpyxl, which takes a leading = for a formula, keeps the written cell as text."""
    sheet = openpyxl.Workbook().active
    assert sheet is not None
    sheet["A1"] = "=1+1"
    sheet["A2"] = escape("=1+1")
    assert (sheet["A1"].data_type, sheet["A2"].data_type) == ("f", "s")


@pytest.mark.parametrize(
    ("text", "is_formula"),
    [
        *(("=1+1", True), ("@SUM(A1)", True), ("+cmd|' /C calc'!A0", True), ("-2+3+cmd()", True)),
        *(("+1 555-0100", False), ("-", False), ("-5", False), ("a=b", False), ("", False)),
    ],
)
def test_formulas_are_told_from_phones_and_dashes(text: str, is_formula: bool) -> None:
    """A phone number, a negative number and a lone dash raise no question."""
    assert looks_like_formula(text) is is_formula


@pytest.mark.parametrize(
    ("kind", "cell", "unit", "value"),
    [
        (CellKind.LENGTH, "36", "", 914_400),
        (CellKind.LENGTH, "3' 0\"", "", 914_400),
        (CellKind.LENGTH, "36 in", "in", 914_400),
        (CellKind.LENGTH, "3", "ft", 914_400),
        (CellKind.LENGTH, "915", "mm", 915_000),
        (CellKind.LENGTH, "915 mm", "", 915_000),
        (CellKind.LENGTH, "91.5 cm", "in", 915_000),
        (CellKind.LENGTH, "30 1/2", "", 774_700),
        (CellKind.PERCENT, "12.5", "", 125_000),
        (CellKind.PERCENT, "12.5 %", "", 125_000),
        (CellKind.PER_VOTER, "0.002", "", 2_000),
        (CellKind.SECONDS, "75", "", 75_000),
        (CellKind.CLOCK, "07:00", "", 420),
        (CellKind.CLOCK, "24:40", "", 1_480),
        (CellKind.DATE, "2026-11-03", "", dt.date(2026, 11, 3)),
        (CellKind.DATE, "11/3/2026", "", dt.date(2026, 11, 3)),
        (CellKind.WHOLE, "1,234", "", 1_234),
        (CellKind.WHOLE, "12.0", "", 12),
        (CellKind.ID, "00123", "", "00123"),
        (CellKind.YES_NO, "Yes", "", True),
        (CellKind.LIST, "03 04", "", ("03", "04")),
        (CellKind.LIST, "two words; more", "", ("two words", "more")),
        (CellKind.TEXT, " spaces around ", "", "spaces around"),
    ],
)
def test_cells_are_read_as_people_type_them(kind: CellKind, cell: str, unit: str, value: object) -> None:
    """One inch is 25.4 mm exactly (international yard and pound agreement of 1959)."""
    assert read_cell(kind, cell, unit) == value
    assert read_cell(kind, write_cell(kind, value, unit), unit) == value


@pytest.mark.full
def test_a_new_folder_appears_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk fails at any file, nothing is left; when it fails while replacing, all is as it was."""
    election = read_folder(SMALL).election
    assert election is not None
    files = len(folder_texts(election))
    honest = whole_files.write_synced
    for failing in range(files):
        count = iter(range(files))

        def write(path: Path, data: bytes, count: object = count, failing: int = failing) -> None:
            if next(count) == failing:  # type: ignore[call-overload]
                path.write_bytes(data[:10])
                raise OSError(28, "No space left on device")
            honest(path, data)

        monkeypatch.setattr(whole_files, "write_synced", write)
        with pytest.raises(OSError, match="No space left"):
            write_folder(election, tmp_path / "county")
        assert list(tmp_path.iterdir()) == []
    monkeypatch.setattr(whole_files, "write_synced", honest)
    write_folder(election, tmp_path / "county")
    before = {p.name: p.read_bytes() for p in (tmp_path / "county").iterdir()}
    count = iter(range(files))
    failing = files - 1
    monkeypatch.setattr(export, "write_synced", lambda path, data: write(path, data, count, failing))
    with pytest.raises(OSError, match="No space left"):
        write_folder(msgspec.structs.replace(election, name="Another"), tmp_path / "county", overwrite=True)
    assert {p.name: p.read_bytes() for p in (tmp_path / "county").iterdir()} == before


def test_overwriting_is_asked_for_and_leaves_what_is_no_table(tmp_path: Path) -> None:
    """A folder that holds something is refused; with overwrite its tables are replaced, the rest stays."""
    election = read_folder(SMALL).election
    assert election is not None
    folder = tmp_path / "county"
    write_folder(election, folder)
    (folder / "pollstead.db").write_bytes(b"store")
    with pytest.raises(FileExistsError, match="already holds something"):
        write_folder(election, folder)
    smaller = msgspec.structs.replace(election, people=(), seal_ranges=())
    write_folder(smaller, folder, overwrite=True)
    assert (folder / "pollstead.db").read_bytes() == b"store"
    assert not (folder / "people.csv").exists()
    assert read_folder(folder).election == smaller


def test_facts_are_exported_by_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`facts export` writes a folder with the same snapshot, refuses a full one and a faulty one."""
    out = tmp_path / "out"
    assert run(["facts", "export", str(SMALL), str(out)]) == 0
    assert read_folder(out).digest == read_folder(SMALL).digest
    assert run(["facts", "export", str(SMALL), str(out)]) == 1
    assert run(["facts", "export", str(SMALL), str(out), "--overwrite"]) == 0
    shutil.copytree(out, tmp_path / "bad")
    rows = (tmp_path / "bad" / "sites.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "bad" / "sites.csv").write_text("\r\n".join([*rows, rows[1]]) + "\r\n", encoding="utf-8")
    capsys.readouterr()
    assert run(["facts", "export", str(tmp_path / "bad"), str(tmp_path / "none")]) == 1
    assert not (tmp_path / "none").exists()


def test_written_tables_are_plain_csv(tmp_path: Path) -> None:
    """Written tables are RFC 4180: CRLF, quotes doubled, one header, as many cells in each row."""
    election = read_folder(SMALL).election
    assert election is not None
    write_folder(election, tmp_path / "out")
    for path in (tmp_path / "out").glob("*.csv"):
        data = path.read_bytes()
        assert data.endswith(b"\r\n")
        rows = list(csv.reader(data.decode("utf-8").splitlines(), strict=True))
        assert {len(row) for row in rows} == {len(rows[0])}
    assert not any(name.startswith(".") for name in os.listdir(tmp_path / "out"))
