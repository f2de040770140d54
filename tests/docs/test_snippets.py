"""Every shell snippet of the documents runs, in order, and shows what the text says of it."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import json_fields
from pollstead.cli import main as command_line

ROOT = Path(__file__).resolve().parents[2]
SNIPPET = re.compile(r"^```sh\n(.*?)^```$((?:\n<!-- shows: .*? -->)*)", re.DOTALL | re.MULTILINE)
"""A snippet, and below it what its output must hold, since the text after it says so."""
SHOWS = re.compile(r"<!-- shows: (.*?) -->")
# Stands in for ./run: the environment is there already, so that only the commands themselves are tried.
RUN = """#!/bin/sh
set -e
case "$1" in
exec) shift ;;
demo) shift; exec "{python}" -m pollstead.cli.demo "$@" ;;
*) echo "no snippet may call ./run $1" >&2; exit 2 ;;
esac
case "$1" in
pollstead) shift; exec "{python}" -m pollstead.cli.main "$@" ;;
python) shift; exec "{python}" "$@" ;;
*) exec "$@" ;;
esac
"""


def documents() -> list[Path]:
    """The documents that hold snippets."""
    pages = sorted([*(ROOT / "docs").rglob("*.md"), ROOT / "README.md", ROOT / "CONTRIBUTING.md"])
    return [page for page in pages if SNIPPET.search(page.read_text(encoding="utf-8"))]


Teller = Callable[..., str]


@pytest.fixture
def told(capsys: pytest.CaptureFixture[str]) -> Teller:
    """What a command prints: in this process, since starting a new one takes longer than the command."""

    def run(*words: str) -> str:
        capsys.readouterr()
        code = command_line.run(list(words))
        said = capsys.readouterr()
        assert code == 0, said.err[-2000:]
        return said.out

    return run


@pytest.mark.full
@pytest.mark.parametrize(
    "page",
    [
        pytest.param(page, marks=pytest.mark.begins_first if page.name == "tutorial.md" else ())
        for page in documents()
    ],
    ids=lambda page: page.relative_to(ROOT).as_posix(),
)
def test_every_snippet_runs(
    page: Path, tmp_path: Path, told: Teller, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The snippets of one document run one after the other in a fresh folder, and none of them fails."""
    shutil.copytree(ROOT / "small", tmp_path / "small")
    run = tmp_path / "run"
    run.write_text(RUN.format(python=sys.executable), encoding="utf-8")
    run.chmod(0o755)
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "COLUMNS": "100"}
    for number, (snippet, shows) in enumerate(SNIPPET.findall(page.read_text(encoding="utf-8")), start=1):
        done = subprocess.run(
            ["sh", "-e", "-c", snippet],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, (
            f"snippet {number}:\n{snippet}\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}"
        )
        assert "Traceback" not in done.stderr, done.stderr
        said = " ".join(done.stdout.split())
        for phrase in SHOWS.findall(shows):
            assert phrase in said, f"snippet {number} does not show {phrase!r}:\n{done.stdout[-3000:]}"
    if page.name == "tutorial.md":
        monkeypatch.chdir(tmp_path)
        check_json(told)


def check_json(told: Teller) -> None:
    """What each command prints as JSON of the tutorial's county is what docs/formats/json.md says."""
    words = {"FOLDER": "demo/small", "SUBJECT": "site/S01", "BEFORE": "1", "AFTER": "2", "FILE": "facts.xlsx"}
    words["ACT"] = "swap-device LM-S-0001 LM-S-0007"  # seen only: no --by, so nothing is written
    told("facts", "workbook", "demo/small", "facts.xlsx")
    words["COUNTS"] = "counts.csv"
    for total in (("receiving",), ("canvass",), ("receiving", "--site", "S01")):  # else null, not fields
        told("counts", "total", "demo/small", total[0], "ballots_cast", "900", "--by", "P001", *total[1:])
    Path("counts.csv").write_text("Site,Ballots cast,Early ballots\nS01,5,\nTotal,6,\n", encoding="utf-8")
    # Tasks in a copy: a change of facts that adds rows would print other fields than one of cells.
    shutil.copytree(Path("demo", "small"), Path("demo", "dated"))
    told("calendar", "demo/dated", "--starter", "--by", "P001")
    more = {  # options that print less, or fields that are printed only when asked for
        "print": ("--site", "S01", "--what", "cover"),
        "calendar": ("--before", "demo/small", "--slip", "test-devices:6"),
    }
    differing = {}
    for command, fields in json_fields.documented().items():
        call = [part for word in command.split() for part in words.get(word, word).split()]
        if command.startswith("calendar"):
            call[1] = "demo/dated"
        if command.startswith("timings"):
            continue  # wants three files of voters' times: tests/cli/test_timings.py holds every field
        printed = json.loads(told(*call, *more.get(command.split()[0], ()), "--json"))
        differing[command] = json_fields.differences(printed, fields)
    assert not {command: found for command, found in differing.items() if found}


@pytest.mark.full
def test_tutorial_is_among_the_documents_that_run() -> None:
    """The tutorial holds snippets, so that the test above cannot pass for want of them."""
    assert ROOT / "docs" / "tutorial.md" in documents()
