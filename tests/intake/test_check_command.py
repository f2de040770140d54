"""``pollstead check``: exit codes, and a JSON form that others can rely on."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from pollstead.cli.main import run

SMALL = Path(__file__).resolve().parents[2] / "small"
TOP = ["format", "folder", "snapshot", "tables", "not_planned", "counts", "notices"]
NOTICE = ["key", "kind", "grade", "rule", "subject", "day", "text", "file", "row", "column"]
NOTICE += ["found", "wanted", "remedy", "owner", "due"]


@pytest.fixture
def bad(tmp_path: Path) -> Path:
    """The small county with a cell that cannot be read and a site that stands twice."""
    folder = tmp_path / "bad"
    shutil.copytree(SMALL, folder, ignore=shutil.ignore_patterns("*.db*", "packets", "*.py"))
    with (folder / "sites.csv").open("a", encoding="utf-8") as stream:
        stream.write((folder / "sites.csv").read_text(encoding="utf-8").splitlines()[1] + "\n")
    people = (folder / "people.csv").read_text(encoding="utf-8").splitlines()
    people[1] = people[1].replace("P001", "P/ 001", 1)
    (folder / "people.csv").write_text("\n".join(people), encoding="utf-8")
    return folder


def test_open_items_alone_end_with_0(capsys: pytest.CaptureFixture[str]) -> None:
    """The small county has open items only: they are printed, and the code is 0."""
    assert run(["check", str(SMALL)]) == 0
    said = capsys.readouterr().out
    assert "Open items" in said
    assert "Cannot read" not in said


def test_faults_end_with_1_and_stand_first(bad: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """All grades are printed in one run, worst first, each with file, row and column."""
    assert run(["check", str(bad)]) == 1
    said = capsys.readouterr().out
    order = [said.index(title) for title in ("Cannot read", "Contradicts itself", "Open items")]
    assert order == sorted(order)
    assert "people.csv, row 2, column id" in said
    assert "Site S01 stands in rows 2 and 5" in said
    assert "Not planned: 1 site (S01)" in said


def test_usage_ends_with_2(capsys: pytest.CaptureFixture[str]) -> None:
    """A command without a folder is a usage error."""
    assert run(["check"]) == 2
    assert run(["check", str(SMALL), "--no-such-option"]) == 2


def test_a_folder_that_is_not_there_ends_with_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A path that leads nowhere is named, without a traceback."""
    assert run(["check", str(tmp_path / "nowhere")]) == 1
    assert "is not a county folder" in capsys.readouterr().out


def test_json_form_is_stable(bad: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Names and order of the fields do not change; counts agree with the notices; keys are unique."""
    assert run(["check", str(bad), "--json"]) == 1
    said = json.loads(capsys.readouterr().out)
    assert list(said) == TOP
    assert said["format"] == "pollstead check 1"
    assert all(list(notice) == NOTICE for notice in said["notices"])
    grades = [notice["grade"] or notice["kind"] for notice in said["notices"]]
    assert said["counts"] == {
        "cannot_read": grades.count("cannot read"),
        "contradicts_itself": grades.count("contradicts itself"),
        "open_item": grades.count("open item"),
        "rule_not_met": grades.count("rule not met"),
    }
    assert len({n["key"] for n in said["notices"]}) == len(said["notices"])
    assert said["not_planned"] == ["S01"]
