"""Export, edit, import: nothing is taken unseen, nothing is half written, and an import can be undone."""

from __future__ import annotations

import importlib
import json
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from pollstead.cli import fact_lines
from pollstead.cli.main import run
from pollstead.intake import kept_tables, read_folder
from pollstead.intake.fact_import import look
from pollstead.intake.fact_writing import folder_facts
from pollstead.intake.tabs import tab_named
from pollstead.intake.workbook_out import README
from pollstead.store.opening import open_store

pytestmark = pytest.mark.full

SMALL = Path(__file__).resolve().parents[2] / "small"
WHO = ("--by", "P001", "--reason", "Corrected by the sites.")


@pytest.fixture
def county(tmp_path: Path) -> Path:
    """A copy of the small county."""
    shutil.copytree(SMALL, tmp_path / "county")
    return tmp_path / "county"


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The small county's workbook, written once."""
    out = tmp_path_factory.mktemp("exported") / "facts.xlsx"
    assert run(["facts", "workbook", str(SMALL), str(out)]) == 0
    return out.read_bytes()


@pytest.fixture
def file(exported: bytes, tmp_path: Path) -> Path:
    """The county's workbook."""
    (tmp_path / "facts.xlsx").write_bytes(exported)
    return tmp_path / "facts.xlsx"


def edit(file: Path, change: Callable[[Any], None]) -> None:
    """Change a workbook as another program would: with another library."""
    book = openpyxl.load_workbook(file)
    change(book)
    book.save(file)


def at(book: Any, tab: str, row: int, column: str) -> Any:
    """A cell by the name of its column."""
    return book[tab].cell(row, tab_named(tab).index(column) + 1)


def rename(book: Any) -> None:
    """Two edits: a name with an accent, and one site's door."""
    at(book, "sites", 2, "name").value = "Bibliothèque"
    at(book, "sites", 3, "door_clear").value = "2' 9\""


def tables(folder: Path) -> dict[str, bytes]:
    """The bytes of every table."""
    return {name: (folder / name).read_bytes() for name in kept_tables.table_files(folder)}


def test_an_untouched_workbook_differs_in_nothing(
    county: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Saved again by another library, the workbook still says just what the folder says."""
    edit(file, lambda book: None)
    capsys.readouterr()
    assert run(["facts", "import", str(county), str(file)]) == 0
    told = capsys.readouterr()
    assert "Nothing differs." in told.out
    assert told.err == ""


def test_lines_are_shown_and_only_those_accepted_are_taken(
    county: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without an answer nothing is written; line 1 alone changes one cell of one file and keeps the rest."""
    edit(file, rename)
    before = tables(county)
    assert run(["facts", "import", str(county), str(file)]) == 1
    told = capsys.readouterr()
    assert "name: Ansel Civic Hall → Bibliothèque" in told.out
    assert "door_clear: " in told.out and "→ 33" in told.out
    assert "--accept" in told.err
    assert tables(county) == before
    assert run(["facts", "import", str(county), str(file), "--accept", "1", *WHO]) == 0
    after = tables(county)
    assert {name for name in after if after[name] != before[name]} == {"sites.csv"}
    election = read_folder(county).election
    assert election is not None
    assert election.sites[0].name == "Bibliothèque"
    old = read_folder(SMALL).election
    assert old is not None and election.sites[1] == old.sites[1]


def test_an_import_is_undone_byte_by_byte_and_the_undo_as_well(county: Path, file: Path) -> None:
    """Undo brings back the bytes of every table; undo of the undo takes the import again."""
    before = tables(county)
    edit(file, rename)
    assert run(["facts", "import", str(county), str(file), "--accept", "all", *WHO]) == 0
    after = tables(county)
    assert after != before
    assert run(["facts", "undo", str(county), *WHO]) == 0
    assert tables(county) == before
    assert run(["facts", "undo", str(county), *WHO]) == 1
    assert run(["facts", "undo", str(county), "2", *WHO]) == 0
    assert tables(county) == after
    assert len(kept_tables.kept(county)) == 3


def test_undo_does_not_lose_what_was_changed_since(
    county: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Other cells that were edited since stay; one that the import changed too is asked about first."""
    edit(file, rename)
    assert run(["facts", "import", str(county), str(file), "--accept", "all", *WHO]) == 0
    imported = tables(county)
    for name, old, new in (("people.csv", "Ida Fenwright", "Ida Fen"), ("sites.csv", "Bibliothèque", "Bib")):
        text = (county / name).read_text(encoding="utf-8")
        (county / name).write_text(text.replace(old, new), encoding="utf-8")
    changed = tables(county)
    capsys.readouterr()
    assert run(["facts", "undo", str(county), *WHO]) == 1
    assert "name was changed since" in capsys.readouterr().err
    assert tables(county) == changed
    assert run(["facts", "undo", str(county), "--changed-too", *WHO]) == 0
    now = read_folder(county).election
    assert now is not None
    assert now.sites[0].name == "Ansel Civic Hall"
    assert "Ida Fen" in {person.name for person in now.people}
    newest = kept_tables.kept(county)[0]
    assert run(["facts", "undo", str(county), "--copy", newest.name, *WHO]) == 0
    assert tables(county) == changed != imported
    assert run(["facts", "undo", str(county), "--copy", "19990101T000000Z", *WHO]) == 1
    assert run(["facts", "undo", str(county), "--list"]) == 0
    assert newest.name in capsys.readouterr().out


def test_nothing_is_half_written_when_the_disk_fails(
    county: Path, file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """At whichever rename the disk fails, tables are as before, no copy is left, and the change is told."""
    edit(
        file,
        lambda book: (
            rename(book),
            setattr(at(book, "people", 2, "phone"), "value", "555-0199"),
            setattr(at(book, "reports", 2, "name"), "value", "zero paper"),
        ),
    )
    before = tables(county)
    honest = Path.replace
    for failing in range(3):
        calls = iter(range(100))

        def fail(self: Path, target: Path, calls: Any = calls, failing: int = failing) -> Path:
            if self.name.endswith(".new") and next(calls) == failing:
                raise OSError(28, "No space left on device")
            return honest(self, target)

        monkeypatch.setattr(Path, "replace", fail)
        if failing:
            assert run(["facts", "finish", str(county), "1"]) == 1
        else:
            assert run(["facts", "import", str(county), str(file), "--accept", "all", *WHO]) == 1
            assert "facts finish" in capsys.readouterr().err
        assert tables(county) == before
        assert not [p for p in county.rglob("*") if p.name.endswith((".new", ".back"))]
        assert kept_tables.kept(county) == ()
    monkeypatch.setattr(Path, "replace", honest)
    assert run(["facts", "pending", str(county)]) == 1
    assert run(["facts", "finish", str(county), "1"]) == 0
    assert run(["facts", "pending", str(county)]) == 0
    assert {n for n, data in tables(county).items() if data != before.get(n)} == {
        "sites.csv",
        "people.csv",
        "station_types.toml",
    }


def test_an_older_workbook_says_so_and_changes_back_nothing(
    county: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The folder changed after the export: with the facts of then at hand, each change has its side."""
    with open_store(county):
        pass
    assert run(["facts", "workbook", str(county), str(file), "--overwrite"]) == 0
    people = (county / "people.csv").read_text(encoding="utf-8")
    (county / "people.csv").write_text(people.replace("555-0110", "555-0170"), encoding="utf-8")
    edit(file, rename)
    capsys.readouterr()
    assert run(["facts", "import", str(county), str(file), "--accept", "all", *WHO]) == 0
    told = capsys.readouterr()
    assert "older than the last change" in told.err
    assert "[changed in the folder since; before: 555-0110]" in told.out
    election = read_folder(county).election
    assert election is not None
    assert election.sites[0].name == "Bibliothèque"
    assert {"555-0170"} <= {person.phone for person in election.people}


def test_hours_said_once_for_every_site_are_no_difference_of_an_older_workbook(
    county: Path, file: Path
) -> None:
    """A snapshot holds the hours of each site, the table one row for all: that alone is no change."""
    election = read_folder(county).election
    people = (county / "people.csv").read_text(encoding="utf-8")
    (county / "people.csv").write_text(people.replace("555-0110", "555-0170"), encoding="utf-8")
    edit(file, rename)
    found = look(county, file, lambda digest: election)
    assert found.base_known and found.older
    assert {line.tab for line in found.difference.lines} == {"sites", "people"}
    sides = {line.side.value for line in found.difference.lines if line.tab == "sites"}
    assert sides == {"changed in the workbook"}


def test_an_older_workbook_of_unknown_origin_is_not_taken_whole_unasked(
    county: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without the facts it was made from, all lines need a word more; by number they can be taken."""
    edit(file, lambda book: (rename(book), setattr(book[README]["B4"], "value", "")))
    before = tables(county)
    assert run(["facts", "import", str(county), str(file), "--accept", "all", *WHO]) == 1
    assert tables(county) == before
    assert "does not say which facts" in capsys.readouterr().err
    assert run(["facts", "import", str(county), str(file), "--accept", "2", *WHO]) == 0
    assert run(["facts", "import", str(county), str(file), "--accept", "all", "--older-too", *WHO]) == 0


@pytest.mark.parametrize("lock", ["~$facts.xlsx", ".~lock.facts.xlsx#"])
def test_a_workbook_open_elsewhere_is_told(
    county: Path, file: Path, capsys: pytest.CaptureFixture[str], lock: str
) -> None:
    """A lock file beside it warns on import, and keeps an export from replacing the file."""
    (file.parent / lock).write_bytes(b"")
    capsys.readouterr()
    assert run(["facts", "import", str(county), str(file)]) == 0
    assert "open in another program" in capsys.readouterr().err
    assert run(["facts", "workbook", str(county), str(file), "--overwrite"]) == 1


def test_every_fault_of_the_workbook_is_told_with_its_tab(
    county: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Cells that cannot be read keep the whole workbook out; all of them are named at once."""
    before = tables(county)

    def spoil(book: Any) -> None:
        at(book, "sites", 2, "door_clear").value = "wide"
        at(book, "counters", 2, "opening").value = "nothing"

    edit(file, spoil)
    assert run(["facts", "import", str(county), str(file), "--accept", "all", *WHO]) == 1
    told = capsys.readouterr().err
    assert "tab sites, row 2, column door_clear" in told
    assert "tab counters, row 2, column opening" in told
    assert tables(county) == before


def test_a_contradiction_is_told_by_tab_and_row_of_the_workbook(
    county: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two sites with one id contradict one another; the row told is the sheet's, blank rows counted."""

    def twice(book: Any) -> None:
        sheet = book["sites"]
        for column in range(1, len(tab_named("sites").cells) + 1):
            sheet.cell(7, column).value = sheet.cell(2, column).value

    edit(file, twice)
    assert run(["facts", "import", str(county), str(file), "--accept", "all", "--json", *WHO]) == 1
    report = json.loads(capsys.readouterr().out)
    assert {(fault["tab"], fault["row"]) for fault in report["faults"]} & {("sites", 2), ("sites", 7)}
    assert report["accepted"] == []


def test_lines_that_do_not_fit_one_another_are_refused_together(
    county: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A part renamed in one tab and in the lines that name it: half of it is refused, all of it is taken."""

    def rename_part(book: Any) -> None:
        for tab in ("parts", "closures", "opening", "closing", "pack_away"):
            column = {"parts": "id", "closures": "part"}.get(tab, "ref")
            kind = tab_named(tab).index("kind") if column == "ref" else None
            for row in range(2, book[tab].max_row + 1):
                cells = book[tab][row]
                own = cells[tab_named(tab).index(column)]
                named = cells[0].value == "check-in-desk" and own.value == "computer"
                if named and (kind is None or cells[kind].value == "serial"):
                    own.value = "laptop"

    edit(file, rename_part)
    before = tables(county)
    capsys.readouterr()
    assert run(["facts", "import", str(county), str(file), "--accept", "1", *WHO]) == 1
    assert "do not fit one another" in capsys.readouterr().err
    assert tables(county) == before
    assert run(["facts", "import", str(county), str(file), "--accept", "all", *WHO]) == 0


def test_a_new_county_is_made_from_a_workbook_alone(county: Path, file: Path, tmp_path: Path) -> None:
    """A folder that is not there is made whole, and its facts are the workbook's; no TOML was written."""
    assert run(["facts", "import", str(tmp_path / "new"), str(file), "--accept", "all", *WHO]) == 0
    assert read_folder(tmp_path / "new").digest == read_folder(county).digest
    assert run(["facts", "import", str(tmp_path / "none"), str(file), "--accept", "none", *WHO]) == 0
    assert not (tmp_path / "none").exists()


def test_files_without_a_change_keep_their_bytes(county: Path, file: Path) -> None:
    """Comments in TOML and the order of rows stay in every file that no accepted line touches."""
    (county / "rules.toml").write_text(
        "# a remark of ours\n" + (county / "rules.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    edit(file, rename)
    assert run(["facts", "import", str(county), str(file), "--accept", "all", *WHO]) == 0
    assert (county / "rules.toml").read_text(encoding="utf-8").startswith("# a remark of ours")


def test_json_names_every_difference_and_what_was_taken(
    county: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The preview writes nothing; with --accept it names lines, files, snapshot and kept tables."""
    edit(file, rename)
    capsys.readouterr()
    assert run(["facts", "import", str(county), str(file), "--json"]) == 0
    preview = json.loads(capsys.readouterr().out)
    assert preview["format"] == fact_lines.FORMAT
    assert [d["field"] for d in preview["differences"]] == ["name", "door_clear"]
    assert (preview["accepted"], preview["files"], preview["kept"]) == ([], [], "")
    assert run(["facts", "import", str(county), str(file), "--json", "--accept", "1-2", *WHO]) == 0
    taken = json.loads(capsys.readouterr().out)
    assert (taken["accepted"], taken["files"]) == ([1, 2], ["sites.csv"])
    assert taken["snapshot_after"] == read_folder(county).digest
    assert taken["kept"] == kept_tables.kept(county)[0].name


def test_the_page_about_json_names_every_field_that_is_printed(
    county: Path, file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """docs/formats/json.md and the command agree, for a list of differences and for a list of faults."""
    monkeypatch.syspath_prepend(str(SMALL.parent / "docs" / "tools"))
    page = importlib.import_module("json_fields")
    fields = page.documented()["facts import FOLDER FILE"]
    edit(file, rename)
    capsys.readouterr()
    assert run(["facts", "import", str(county), str(file), "--json", "--accept", "1", *WHO]) == 0
    assert page.differences(json.loads(capsys.readouterr().out), fields) == []
    edit(file, lambda book: (setattr(book["sites"]["B3"], "value", None), book.create_sheet("more")))
    assert run(["facts", "import", str(county), str(file), "--json"]) == 1
    report = json.loads(capsys.readouterr().out)
    assert report["faults"] and report["items"]
    assert page.differences(report, fields) == []


@pytest.mark.parametrize("accept", ["1,x", "0", "3", "1-9", "-", "1--2"])
def test_a_list_of_lines_that_cannot_be_read_is_a_usage_fault(county: Path, file: Path, accept: str) -> None:
    """Numbers that are no lines, and words that are no numbers, end with code 2 and write nothing."""
    edit(file, rename)
    before = tables(county)
    assert run(["facts", "import", str(county), str(file), f"--accept={accept}"]) == 2
    assert tables(county) == before


@pytest.mark.parametrize(
    ("answers", "names"),
    [(["y", "n"], ("name",)), (["?", "n", "a"], ("door",)), (["a"], ("name", "door")), (["y", "q"], ())],
)
def test_lines_are_asked_about_one_by_one(
    county: Path, file: Path, monkeypatch: pytest.MonkeyPatch, answers: list[str], names: tuple[str, ...]
) -> None:
    """y takes a line, n leaves it, a takes all that follow, q takes nothing; another key asks again."""
    edit(file, rename)
    given = iter([*answers, "P001", "Told by the sites."])
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda prompt: next(given))
    assert run(["facts", "import", str(county), str(file)]) == 0
    election = read_folder(county).election
    old = read_folder(SMALL).election
    assert election is not None and old is not None
    assert (election.sites[0].name != old.sites[0].name) is ("name" in names)
    assert (election.sites[1].door_clear_um != old.sites[1].door_clear_um) is ("door" in names)


def test_a_folder_with_an_unreadable_table_gives_no_workbook(
    county: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Rows that could not be read would be lost; the fault is named instead."""
    (county / "people.csv").write_text('id,name\nP1,"x', encoding="utf-8")
    assert run(["facts", "workbook", str(county), str(tmp_path / "x.xlsx")]) == 1
    assert "people.csv" in capsys.readouterr().err
    assert not (tmp_path / "x.xlsx").exists()
    assert run(["facts", "workbook", str(tmp_path / "none"), str(tmp_path / "x.xlsx")]) == 1
    assert folder_facts(county).unread
