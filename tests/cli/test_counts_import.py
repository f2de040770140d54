"""``pollstead counts import`` from the first look to undo, as a clerk types it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from tests.intake.counts.report import SECRET_COUNT, USUAL, as_xml

from pollstead.cli.main import run

SMALL = Path(__file__).resolve().parents[2] / "small"
NIGHT = (
    "Larkmoor canvass worksheet,,,\n"
    "Polling Place,Election day ballots,Early ballots,Chek-ins\n"
    'Ansel Civic Hal,"1,204",310,1514\n'
    "Harbor Lane Library,820,,822\n"
    "Total,2024,310,2336\n"
)


@pytest.fixture
def county(tmp_path: Path) -> str:
    """A copy of the small county without plan or record."""
    ignore = shutil.ignore_patterns("*.db*", "keys", "packets", "*.py", "day")
    return str(shutil.copytree(SMALL, tmp_path / "county", ignore=ignore))


def test_a_clerk_takes_a_file_in_and_back(
    county: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Look, say a name, confirm the columns, record; the next file needs neither; undo leaves nothing."""
    monkeypatch.syspath_prepend(str(SMALL.parent / "docs" / "tools"))
    import json_fields

    night = tmp_path / "night.csv"
    night.write_text(NIGHT, encoding="utf-8")
    command = ["counts", "import", county, str(night)]
    assert run(command) == 1
    assert (
        "Row 3, Polling Place: Ansel Civic Hal is not known (1 rows). Nearest: S01" in capsys.readouterr().out
    )
    said = [*command, "--same", "Ansel Civic Hal=S01", "--by", "P010"]
    assert run(said) == 1, "a guess of columns is nobody's word"
    assert run([*said, "--yes"]) == 0
    night.write_text(NIGHT.replace("820,,", "821,0,"), encoding="utf-8")
    capsys.readouterr()
    assert run([*command, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["confirmed"] is True
    assert json_fields.differences(told, json_fields.documented()["counts import FOLDER COUNTS"]) == []
    assert {(n["of"], n["mode"], n["total"]): n["standing"] for n in told["numbers"] if n["of"] == "S02"} == {
        ("S02", "all", 822): "same as recorded",
        ("S02", "election_day", 821): "differs from what is recorded",
        ("S02", "early", 0): "new",
    }
    (difference,) = told["differences"]
    assert (difference["row"], difference["found"], difference["wanted"]) == (5, "2025", "2024")
    assert run([*command, "--by", "P010"]) == 0
    assert run(["counts", "undo", county, told["digest"][:8], "--by", "P010", "--reason", "wrong file"]) == 0
    capsys.readouterr()
    assert run(["counts", "imports", county]) == 0
    later, first = capsys.readouterr().out.splitlines()
    assert later.endswith("0 of 2 numbers stand") and first.endswith("5 of 5 numbers stand")


def test_a_results_report_needs_no_columns_and_leaves_no_vote(county: str, tmp_path: Path) -> None:
    """The open format: one unit is named by a person; no number of votes is in the folder afterwards."""
    report = tmp_path / "report.xml"
    report.write_bytes(as_xml(USUAL))
    assert run(["counts", "import", county, str(report), "--by", "P010"]) == 0
    held = b"".join(path.read_bytes() for path in Path(county).rglob("*") if path.is_file())
    assert str(SECRET_COUNT).encode() not in held
    assert b"312" in held


@pytest.mark.parametrize(
    ("more", "code"),
    [
        (["--column", "Nowhere=site"], 2),
        (["--column", "Chek-ins=votes"], 2),
        (["--same", "Ansel Civic Hal"], 2),
        (["--same", "Ansel Civic Hal=S99"], 2),
        (["--what", "results"], 2),
        (["--mode", "never"], 2),
    ],
)
def test_a_word_that_means_nothing_is_refused(
    county: str, tmp_path: Path, more: list[str], code: int
) -> None:
    """Each such word ends in one sentence, and nothing is written."""
    night = tmp_path / "night.csv"
    night.write_text(NIGHT, encoding="utf-8")
    assert run(["counts", "import", county, str(night), "--by", "P010", *more]) == code
    assert not (Path(county) / "pollstead.db").exists()
