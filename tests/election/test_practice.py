"""Facts of a practice election: everything to rehearse with, nothing that could be taken for the real one."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import msgspec
import pytest

from pollstead.cli.main import run
from pollstead.election.county import ClosureSeal, Device, Election, Person, SealRange, Site
from pollstead.election.practice import MARK, is_practice_serial, of_the_other_kind, practice_of
from pollstead.intake.folder import read_folder
from pollstead.record.event import Means, Part
from pollstead.record.event import Person as Author
from pollstead.record.write import Moment
from pollstead.show.packet.wording import sheet_serial
from pollstead.store.desk import begin_desk
from pollstead.store.exchange import export_record, import_record

ME = (Author(person="person/P001", means=Means.NAME_ONLY, part=Part.AUTHOR),)
AT = Moment(utc_ms=1_857_200_000_000, offset_min=-300, uncertainty_ms=0)


def county() -> Election:
    """A tiny county."""
    return Election(
        county="Larkmoor County",
        name="General election",
        election_day=dt.date(2028, 11, 7),
        zone_name="EST5EDT",
        sites=(Site(id="S01", name="Ash Hall"),),
        devices=(Device(id="device/scanner/0012", serial="LM-S-0012", kind="scanner"),),
        people=(Person(id="P001", name="Ida Fenwright", role="site lead", site="S01", phone="555-0110"),),
        seal_ranges=(SealRange(seal_kind="wire seal", series="LM-W", first="0310001", last="0310120"),),
        closure_seals=(ClosureSeal(device="device/scanner/0012", closure="lid", number="0310007"),),
        invented=True,
    )


def test_seal_numbers_are_marked_phones_go_out_and_the_rest_stays() -> None:
    """No real seal number is left anywhere; sites, serials and people are the same."""
    real, made = county(), practice_of(county())
    assert made.practice and made.name == "PRACTICE General election"
    assert [s.number for s in made.closure_seals] == [f"{MARK}0310007"]
    assert [(r.first, r.last) for r in made.seal_ranges] == [(f"{MARK}0310001", f"{MARK}0310120")]
    assert made.people[0].phone == "" and made.people[0].name == "Ida Fenwright"
    assert (made.sites, made.devices) == (real.sites, real.devices)
    assert practice_of(county(), phones=True).people == real.people
    assert json.dumps(msgspec.to_builtins(made)).count('"0310') == 0
    with pytest.raises(ValueError, match="practice election already"):
        practice_of(made)


def test_a_practice_sheet_serial_is_never_a_real_one() -> None:
    """Told by its beginning, by eye and by scanner, whatever the plan, the site and the sheet."""
    for number in range(300):
        of = (f"{number:064x}", "S01", "COVER", "en-US")
        real, practice = sheet_serial(*of, False), sheet_serial(*of, True)
        assert is_practice_serial(practice) and is_practice_serial(f" {practice.lower()} ")
        assert not is_practice_serial(real)
        # A QR code of version 1 at level Q holds 16 letters (ISO/IEC 18004, table 7, from memory).
        assert len(real) == 14 and len(practice) == 16


def test_a_sheet_of_the_other_kind_is_named_when_it_is_scanned() -> None:
    """Practice sheet in the real app, real sheet in the practice app; a serial of a device is neither."""
    of = ("0" * 64, "S01", "COVER", "en-US")
    real, practice = sheet_serial(*of, False), sheet_serial(*of, True)
    told = of_the_other_kind(practice.lower(), False)
    assert told is not None and "is a sheet of a practice election" in told.english()
    told = of_the_other_kind(real, True)
    assert told is not None and "is a sheet of a real election" in told.english()
    assert of_the_other_kind(real, False) is None and of_the_other_kind(practice, True) is None
    for other in ("LM-S-0012", "P-0310007", "", "P-"):
        assert of_the_other_kind(other, False) is None and of_the_other_kind(other, True) is None


def test_the_command_makes_a_folder_without_record_key_or_paper(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Tables alone; never over something, never from a practice folder; PRACTICE is said by every command."""
    real, made = tmp_path / "real", tmp_path / "practice"
    real.mkdir()
    (real / "county.toml").write_text(
        'county = "Larkmoor County"\nname = "General"\nelection_day = 2028-11-07\nzone = "EST5EDT"\n',
        encoding="utf-8",
    )
    (real / "sites.csv").write_text("id,name\nS01,Ash Hall\n", encoding="utf-8")
    (real / "people.csv").write_text("id,name,phone\nP001,Ida Fenwright,555-0110\n", encoding="utf-8")
    (real / "keys").mkdir()
    (real / "keys" / "office.pem").write_text("invented", encoding="utf-8")
    assert run(["practice", str(real), str(made)]) == 0
    names = {path.name for path in made.iterdir()}
    assert {"county.toml", "people.csv", "sites.csv"} <= names and not {"keys", "pollstead.db"} & names
    read = read_folder(made).election
    assert read is not None and read.practice and read.name == "PRACTICE General"
    assert "555-0110" not in (made / "people.csv").read_text(encoding="utf-8")
    assert run(["practice", str(real), str(made)]) == 1, "nothing is replaced"
    assert run(["practice", str(made), str(tmp_path / "again")]) == 1
    capsys.readouterr()
    run(["check", str(made)])
    assert "PRACTICE: nothing of this folder reaches the real record." in capsys.readouterr().err
    run(["check", str(real)])
    assert "PRACTICE" not in capsys.readouterr().err


def test_practice_and_real_records_refuse_one_another_both_ways(tmp_path: Path) -> None:
    """Other keys, another record id, and a word for it, whichever is brought into which."""
    desks = []
    for name, practice in (("real", False), ("practice", True)):
        (tmp_path / name).mkdir()
        desks.append(
            begin_desk(
                tmp_path / name,
                county="Larkmoor County",
                election="General",
                practice=practice,
                people=ME,
                moment=AT,
            )
        )
        export_record(desks[-1].store, tmp_path / f"{name}-out")
    real, practice = desks
    assert real.header.office_key != practice.header.office_key
    for desk, export in ((real, "practice-out"), (practice, "real-out")):
        with pytest.raises(ValueError, match="a practice record and a real one never mix"):
            import_record(desk.store, tmp_path / export)
    assert "(PRACTICE)" in (tmp_path / "practice-out" / "README.txt").read_text(encoding="utf-8")
    for desk in desks:
        desk.close()
