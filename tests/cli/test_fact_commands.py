"""A county from a workbook alone, its changes on the command line, and an earlier plan approved again."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from pollstead.cli.main import run
from pollstead.election.canonical import canonical_bytes
from pollstead.intake.folder import read_folder
from pollstead.record.kinds.offices import PlanApproved
from pollstead.store.opening import open_store
from pollstead.store.versions import PlanVersion

pytestmark = pytest.mark.full

WHO = ("--by", "P001", "--reason", "Told by the sites.")


def put(book: Any, tab: str, **cells: object) -> None:
    """Write a row below those that are there, as a person would."""
    sheet = book[tab]
    names = [cell.value for cell in sheet[1]]
    row = next(n for n in range(2, 500) if not any(cell.value for cell in sheet[n][: len(names)]))
    for name, value in cells.items():
        sheet.cell(row, names.index(name) + 1).value = value


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A county that began with a workbook: two sites, one person, no file written by hand."""
    top = tmp_path_factory.mktemp("begun")
    file, county = top / "first.xlsx", top / "county"
    assert run(["facts", "workbook", str(county), str(file)]) == 1
    assert run(["facts", "workbook", str(county), str(file), "--kind", "A"]) == 0
    book = openpyxl.load_workbook(file)
    put(
        book,
        "county",
        county="Larkmoor County",
        name="General Election",
        election_day=dt.date(2028, 11, 7),
        zone="America/New_York",
        invented="yes",
    )
    put(book, "sites", id="007", name="École", kind="hand-marked", registered=900)
    put(book, "sites", id="S02", name="Hall", kind="hand-marked", registered=1800)
    put(book, "hours", site="*", date=dt.date(2028, 11, 7), opens="07:00", closes="20:00")
    put(book, "people", id="P001", name="Zoë Brandt", phone="0555 0142")
    book.save(file)
    assert run(["new", str(county), "--from", str(file)]) == 2
    assert not county.exists()
    assert run(["new", str(county), "--from", str(file), "--by", "P001"]) == 0
    assert run(["new", str(county), "--from", str(file), "--by", "P001"]) == 1
    return county


def test_a_county_begins_with_a_workbook_and_no_toml(begun: Path) -> None:
    """Zeros in front, accents and dates are there; who made it is in the record."""
    election = read_folder(begun).election
    assert election is not None
    assert [site.id for site in election.sites] == ["007", "S02"]
    assert election.sites[0].name == "École"
    assert election.people[0].phone == "0555 0142"
    assert election.station_types


def test_changes_are_listed_without_what_stands_in_columns_about_people(
    begun: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A new phone is "changed"; asked for, it is shown. The change that made the county stays."""
    file = tmp_path / "facts.xlsx"
    assert run(["facts", "workbook", str(begun), str(file)]) == 0
    book = openpyxl.load_workbook(file)
    sheet = book["people"]
    sheet.cell(2, [cell.value for cell in sheet[1]].index("phone") + 1).value = "0555 0177"
    book.save(file)
    assert run(["facts", "import", str(begun), str(file), "--accept", "all"]) == 2
    assert run(["facts", "import", str(begun), str(file), "--accept", "all", *WHO]) == 0
    capsys.readouterr()
    assert run(["facts", "changes", str(begun)]) == 0
    told = capsys.readouterr().out
    assert "people, P001, phone: changed" in told and "0555 0177" not in told
    assert "people: row added: P001" in told and "Zoë" not in told
    assert run(["facts", "changes", str(begun), "--json"]) == 0
    assert "0555 0177" not in capsys.readouterr().out
    assert run(["facts", "changes", str(begun), "--values", "--json"]) == 0
    cells = json.loads(capsys.readouterr().out)["changes"][-1]["cells"]
    assert [(cell["before"], cell["after"]) for cell in cells] == [("0555 0142", "0555 0177")]
    assert run(["facts", "undo", str(begun), "1", *WHO]) == 1
    assert run(["facts", "undo", str(begun), "99", *WHO]) == 1
    assert run(["facts", "undo", str(begun)]) == 2
    assert run(["facts", "undo", str(begun), *WHO]) == 0
    assert run(["facts", "pending", str(begun)]) == 0


def test_an_earlier_plan_is_approved_again(begun: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Approving version 1 after version 2 is the undo of an approval: one approval stands, none is erased."""
    election = read_folder(begun).election
    assert election is not None
    with open_store(begun) as store:
        snapshot = store.snapshots.save(canonical_bytes(election), label="facts", created_utc_ms=1)
        for number in (1, 2):
            line = PlanVersion(
                digest=f"{number}" * 64,
                parent="",
                snapshot=snapshot,
                label="",
                effort="quick",
                seed="1",
                stopped_early=False,
                created_utc_ms=number,
            )
            store.plans.save(line, b"{}")
    assert run(["approve", str(begun), "1"]) == 2
    assert run(["approve", str(begun), "9", "--by", "P001"]) == 1
    for version in ("1", "2", "1", "1"):
        assert run(["approve", str(begun), version, "--by", "P001"]) == 0
    told = capsys.readouterr().out
    assert "print again" in told and "approved already" in told
    with open_store(begun) as store:
        approvals = [signed.event.body["digest"][0] for signed in store.events.of_kinds(PlanApproved.kind)]
    assert approvals == ["1", "2", "1"]
