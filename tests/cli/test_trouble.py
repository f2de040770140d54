"""What a command says and gives back when the disk, the output or the person stops it."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from pollstead.cli import check as check_command
from pollstead.cli import demo as demo_command
from pollstead.cli import main as command_line

pytestmark = pytest.mark.full

ROOT = Path(__file__).resolve().parents[2]
TABLES = {
    "county.toml": 'county = "Larkmoor"\nname = "Invented"\nelection_day = 2028-11-07\nzone = "EST5EDT"\n',
    "sites.csv": "id,name,expected_voters\nP1,Šárka’s Hall – 投票所,120\n",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A county folder with a name that old code pages cannot write."""
    place = tmp_path / "county"
    place.mkdir()
    for name, words in TABLES.items():
        (place / name).write_text(words, encoding="utf-8")
    return place


def started(
    *arguments: str | Path, stdout: int = subprocess.PIPE, encoding: str = "utf-8"
) -> tuple[int, str, str]:
    """A command in a process of its own: its code, output and errors."""
    done = subprocess.run(
        [sys.executable, "-m", "pollstead.cli.main", *map(str, arguments)],
        stdin=subprocess.DEVNULL,
        stdout=stdout,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src"), "PYTHONIOENCODING": encoding},
        check=False,
    )
    return done.returncode, (done.stdout or b"").decode(encoding), done.stderr.decode(encoding)


def run(*arguments: str | Path) -> int:
    """A command in this process; its exit code."""
    return command_line.run([str(a) for a in arguments])


@pytest.mark.parametrize("words", [("plan",), ("why", "P1"), ("print",), ("rebuild",), ("reconcile",)])
def test_no_command_ends_in_a_traceback_where_the_store_is_damaged(
    folder: Path, words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    """The words say that it is damaged and what to do; the file stays as it is."""
    (folder / "pollstead.db").write_bytes(b"no database " * 99)
    assert run(words[0], folder, *words[1:]) == 1
    assert "is damaged" in capsys.readouterr().err
    assert (folder / "pollstead.db").read_bytes() == b"no database " * 99


@pytest.mark.parametrize("words", [("verify",), ("head",), ("export", "out")])
def test_no_record_command_ends_in_a_traceback_where_the_store_is_damaged(
    folder: Path, words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    """The commands about the record say the same."""
    (folder / "pollstead.db").write_bytes(b"no database " * 99)
    assert run("record", words[0], folder, *(folder / word for word in words[1:])) == 1
    assert "is damaged" in capsys.readouterr().err


def test_an_import_of_what_is_no_export_makes_no_store(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong path is named with what was looked for; the folder stays empty."""
    (tmp_path / "empty").mkdir()
    for wrong in ("nothing", "empty"):
        assert run("record", "import", tmp_path / "empty", tmp_path / wrong) == 1
        assert "must be an exported record" in capsys.readouterr().err
    assert not list((tmp_path / "empty").iterdir())


def test_control_c_gives_the_code_that_shells_expect(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """128 and the signal's number, 2 (POSIX shells' way to say it), and one word."""

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(check_command, "print_report", stopped)
    assert run("check", folder) == 128 + 2
    assert capsys.readouterr().err == "Stopped.\n"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full is Linux's own")
def test_output_to_a_full_disk_is_told_in_words(folder: Path) -> None:
    """A list sent to a file on a full disk ends with the reason and 1, never with a traceback."""
    with Path("/dev/full").open("wb") as full:
        code, _, errors = started("check", folder, stdout=full.fileno())
    assert (code, errors.count("\n")) == (1, 1)
    assert "No space left on device" in errors


def test_a_terminal_of_an_old_code_page_stops_no_command(folder: Path) -> None:
    """What cp1252 (Windows' western page) cannot write is written as its code point, and JSON stays JSON."""
    code, output, errors = started("check", folder, "--json", encoding="cp1252")
    assert not errors
    found = json.loads(output)
    assert (code, found["format"]) == (1 if found["counts"]["cannot_read"] else 0, "pollstead check 1")


def test_a_letter_that_cannot_be_written_becomes_its_code_units() -> None:
    """Letters beyond the basic plane become two units, as JSON writes them (RFC 8259, section 7)."""
    command_line._write_any_letter()
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii", errors=command_line.ESCAPED)
    stream.write('"é–𝄞"')
    stream.flush()
    written = stream.buffer.getvalue()
    assert written == b'"\\u00e9\\u2013\\ud834\\udd1e"'
    assert json.loads(written) == "é–𝄞"


def test_new_without_an_input_says_which_questions_are_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Started by a scheduler there is no input at all; that is as if nobody could answer."""
    monkeypatch.setattr(sys, "stdin", None)
    assert run("new", tmp_path / "county") == 1
    assert "these questions are open" in capsys.readouterr().err


def test_new_in_a_folder_that_holds_something_says_that_alone(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What this program refuses in its own words gets no advice about disks."""
    answers = ("--county", "X", "--name", "Y", "--election-day", "2028-11-07", "--zone", "EST5EDT")
    assert run("new", folder, *answers, "--kind", "D", "--yes") == 1
    errors = capsys.readouterr().err
    assert "already holds something" in errors
    assert "disk" not in errors


def test_fresh_removes_only_what_the_demo_began(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A person's own copy of the invented tables is no demo folder; nor is the place they come from."""
    own, source = tmp_path / "own", tmp_path / "source"
    for place in (own, source):
        place.mkdir()
        for table in ("county.toml", "sites.csv"):
            (place / table).write_bytes((demo_command.SMALL / table).read_bytes())
    (source / demo_command.MARK_BEGUN).write_text("begun", encoding="utf-8")
    monkeypatch.setattr(demo_command, "SMALL", source)
    for place in (own, source):
        assert run("demo", "--folder", place, "--fresh", "--no-serve") == 1
        assert "is not a demo folder and stays as it is" in capsys.readouterr().err
        assert (place / "sites.csv").is_file()
    begun = tmp_path / "begun"
    begun.mkdir()
    (begun / demo_command.MARK_BEGUN).write_text("begun", encoding="utf-8")
    demo_command._remove(begun)
    assert not begun.exists()
