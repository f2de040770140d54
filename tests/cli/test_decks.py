"""``pollstead decks``: sizes and reasons, the form, the chart, a ballot definition, what it refuses."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from tests.intake.test_ballot_definition import definition_of

from pollstead.cli.main import run
from pollstead.intake.folder import read_folder
from pollstead.work.decks import decks_of, results_of

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "docs" / "tools"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The small county's tables, without a plan."""
    ignore = shutil.ignore_patterns("*.db*", "keys", "packets", "*.py", "day")
    return Path(shutil.copytree(ROOT / "small", tmp_path / "county", ignore=ignore))


def test_the_json_is_what_the_page_says(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Fields and types of docs/formats/json.md; each deck is as small as any can be."""
    import json_fields

    assert run(["decks", str(folder), "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert printed["format"] == "pollstead decks 1"
    assert json_fields.differences(printed, json_fields.documented()["decks FOLDER"]) == []
    assert {(deck["ballots"], deck["fewest"]) for deck in printed["decks"]} == {(17, 17), (15, 15)}
    assert all(deck["mistakes_unseen"] == 0 for deck in printed["decks"])


def test_the_form_has_a_row_for_each_number_and_none_of_the_numbers(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What a report over the deck shows, in its order, the count left empty."""
    form = tmp_path / "form.csv"
    assert run(["decks", str(folder), "--style", "06", "--form", str(form)]) == 0
    with form.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    election = read_folder(folder).election
    assert election is not None
    totals = results_of(decks_of(election).decks.only(("06",))).totals
    assert [(r["contest"], r["choice"]) for r in rows] == [(t.cell.contest, t.cell.choice) for t in totals]
    assert {row["count"] for row in rows} == {""} and "Zelda Coldwell" in rows[2]["words"]
    assert "fill in the column count" in capsys.readouterr().out


def test_the_chart_says_test_on_every_page(folder: Path, tmp_path: Path) -> None:
    """Read back by another program: TEST, the style and unofficial use on each page with words."""
    chart = tmp_path / "chart.pdf"
    assert run(["decks", str(folder), "--style", "04/002", "--style", "41", "--print", str(chart)]) == 0
    pages = subprocess.run(
        ["pdftotext", "-layout", str(chart), "-"], capture_output=True, text=True, check=True
    ).stdout.split("\f")[:-1]
    worded = [page for page in pages if "This page is blank" not in page]
    assert len(worded) >= 4
    for page in worded:
        assert "TEST: no votes of an election" in page and "Unofficial, staff use" in page
    assert "ballot style 04, precinct 002" in pages[0] and "ballot style 41" in pages[2]


def test_a_ballot_definition_fills_the_tables_of_a_folder_that_has_none(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Refused while tables are there; then read, and the decks are those of the same ballots."""
    before = read_folder(folder).election
    assert before is not None
    file = tmp_path / "ballots.json"
    file.write_text(json.dumps(definition_of(before)), "utf-8")
    assert run(["decks", str(folder), "--from", str(file)]) == 1
    assert "has contests.csv, choices.csv, ballot_contests.csv already" in capsys.readouterr().err
    for name in ("contests", "choices", "ballot_contests"):
        (folder / f"{name}.csv").unlink()
    assert run(["decks", str(folder)]) == 1
    assert "No ballot is described yet" in capsys.readouterr().err
    assert run(["decks", str(folder), "--from", str(file)]) == 0
    after = read_folder(folder)
    assert after.election is not None and not after.faults
    sizes = {len(deck.ballots) for deck in decks_of(after.election).decks.decks}
    assert sizes == {len(deck.ballots) for deck in decks_of(before).decks.decks}
    file.write_text("{}", "utf-8")
    for name in ("contests", "choices", "ballot_contests"):
        (folder / f"{name}.csv").unlink()
    assert run(["decks", str(folder), "--from", str(file)]) == 1
    assert "ballots.json" in capsys.readouterr().err


def test_a_style_that_is_not_there_and_a_device_without_a_plan_are_refused_by_name(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What was found, and what to give instead."""
    assert run(["decks", str(folder), "--style", "99"]) == 1
    assert "No ballot style is called 99" in capsys.readouterr().err
    report = tmp_path / "report.csv"
    report.write_text("contest,line,choice,count\n", "utf-8")
    assert run(["decks", str(folder), "--report", str(report), "--device", "LM-S-0001"]) == 1
    assert "no counting device LM-S-0001" in capsys.readouterr().err
