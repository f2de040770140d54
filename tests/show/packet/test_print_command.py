"""``pollstead print``: loads a plan version, prints it, keeps serials and, by name, events."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pypdfium2
import pytest

from pollstead.cli import print as command
from pollstead.cli.main import run
from pollstead.plan.terms.part import Cancelled
from pollstead.plan.terms.version import SheetKind
from pollstead.record.event import Means, Part, Person
from pollstead.record.write import Moment
from pollstead.store.desk import begin_desk
from pollstead.store.opening import open_store

pytestmark = pytest.mark.full

SMALL = Path(__file__).resolve().parents[3] / "small"
PEOPLE = (Person(person="person/P001", means=Means.NAME_ONLY, part=Part.AUTHOR),)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The small invented county, planned once."""
    made = tmp_path_factory.mktemp("print") / "county"
    shutil.copytree(SMALL, made)
    assert run(["plan", str(made)]) == 0
    return made


def digest_said(said):
    """The digest of the plan version that the command named."""
    return re.search(r"digest ([0-9a-f]{16})", said)[1]


def test_print_makes_two_files_a_site_and_says_what_it_did(folder, capsys):
    """A packet and, apart from it, an expected list for each site; version, pages and time are said."""
    assert run(["print", str(folder)]) == 0
    said = capsys.readouterr().out
    names = {path.name for path in (folder / "packets").iterdir()}
    sites = {name.split("-")[0] for name in names}
    assert len(sites) == 3
    assert names == {f"{site}-{what}.pdf" for site in sites for what in ("packet", "expected")}
    pages = sum(len(pypdfium2.PdfDocument(path)) for path in (folder / "packets").iterdir())
    assert "not approved yet" in said
    assert f"3 sites, 6 files, {pages} pages in " in said
    with open_store(folder) as store:
        kept = [sheet for sheet in store.sheets.of() if sheet.plan_digest.startswith(digest_said(said))]
    found = re.search(r"(\d+) sheet serials are new", said)
    assert len(kept) >= int(found[1])
    assert len(kept) > 30
    wanted = {kind.value for kind in SheetKind if kind is not SheetKind.CHANGE}
    assert {sheet.kind for sheet in kept} == wanted
    assert all(sheet.key and sheet.content and sheet.language for sheet in kept)


def test_printing_again_makes_no_new_serials(folder, capsys):
    """The same plan printed twice has the same sheets, so that nothing is kept a second time."""
    run(["print", str(folder), "--what", "packing"])
    capsys.readouterr()
    assert run(["print", str(folder), "--what", "packing", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["format"] == "pollstead print 1"
    assert told["new_sheets"] == 0
    assert (told["sites"], told["files"], told["recorded"]) == (3, 3, 0)


def test_large_type_is_a_second_print_in_files_of_its_own(folder, capsys):
    """The usual files stay, the large ones stand beside them, and no sheet gets another serial."""
    run(["print", str(folder), "--what", "packing"])
    usual = (folder / "packets" / "S01-packet.pdf").read_bytes()
    capsys.readouterr()
    assert run(["print", str(folder), "--what", "packing", "--site", "S01", "--large", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [Path(path).name for path in told["paths"]] == ["S01-packet-large.pdf"]
    assert told["new_sheets"] == 0
    assert (folder / "packets" / "S01-packet.pdf").read_bytes() == usual
    page = pypdfium2.PdfDocument(folder / "packets" / "S01-packet-large.pdf")[0]
    assert "Large type" in page.get_textpage().get_text_range()
    for large in (folder / "packets").glob("*-large.pdf"):
        large.unlink()


def test_choices_of_site_sheets_and_paper(folder, tmp_path, capsys):
    """Only the sites and sheets asked for are printed, on the paper asked for."""
    copy = tmp_path / "county"
    shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("packets"))
    first = command.print_folder(copy, watch=Quiet(), kinds=(SheetKind.PACKING,))
    site = Path(first.paths[0]).name.split("-")[0]
    shutil.rmtree(copy / "packets")
    assert run(["print", str(copy), "--site", site, "--what", "opening,closing", "--paper", "a4"]) == 0
    [made] = (copy / "packets").iterdir()
    assert made.name == f"{site}-packet.pdf"
    document = pypdfium2.PdfDocument(made)
    assert round(document[0].get_size()[0] / 72 * 25.4) == 210
    assert "Opening sheet" in document[0].get_textpage().get_text_range()
    capsys.readouterr()


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (["--site", "nowhere"], 1, "no site nowhere"),
        (["--what", "opening,poster"], 2, "--what"),
        (["--paper", "legal"], 2, "--paper"),
        (["--version", "99999999"], 1, "names 0 plan versions"),
        (["--by", "P001"], 1, "not written into the record"),
    ],
)
def test_what_cannot_be_done_is_told(folder, tmp_path, capsys, options, code, words):
    """An unknown site or version ends with 1, a wrong option with 2, each with a sentence, no traceback."""
    copy = tmp_path / "county"
    shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("packets", "keys"))
    assert run(["print", str(copy), "--what", "packing", *options]) == code
    assert words in capsys.readouterr().err


def test_a_site_with_letters_that_no_font_has_is_named_and_the_others_are_printed(tmp_path, capsys):
    """Plan and print both say it; print ends with 1 and has made the files of all other sites."""
    copy = tmp_path / "county"
    shutil.copytree(SMALL, copy)
    sites = (copy / "sites.csv").read_text(encoding="utf-8")
    name = re.search(r"^S01,([^,]+),", sites, re.MULTILINE)[1]
    (copy / "sites.csv").write_text(sites.replace(f"S01,{name},", "S01,قاعة,"), encoding="utf-8")
    assert run(["plan", str(copy)]) == 0
    assert "Letters that the print fonts lack, in sites/S01" in capsys.readouterr().out
    assert run(["print", str(copy), "--what", "packing"]) == 1
    told = capsys.readouterr()
    assert "Site S01 was not printed: no font here has the letters" in told.err
    assert "ق (U+0642)" in told.err
    assert "2 sites, 2 files" in told.out
    assert not list((copy / "packets").glob("S01*"))
    assert len(list((copy / "packets").glob("*.pdf"))) == 2


def test_a_folder_without_a_plan_is_told_what_to_do(tmp_path, capsys):
    """Before there is a plan version, print names the command that makes one."""
    copy = tmp_path / "county"
    shutil.copytree(SMALL, copy)
    assert run(["print", str(copy)]) == 1
    assert "pollstead plan" in capsys.readouterr().err


def test_printing_by_a_person_is_an_event_for_each_site(folder, tmp_path):
    """With a person's id, packet.printed events name plan and sheet serials, and no number of any seal."""
    copy = tmp_path / "county"
    shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("packets"))
    begin_desk(
        copy,
        county="Larkmoor County",
        election="General election",
        practice=False,
        people=PEOPLE,
        moment=Moment(utc_ms=1_856_000_000_000, offset_min=-300, uncertainty_ms=0),
    ).close()
    made = command.print_folder(copy, watch=Quiet(), kinds=(SheetKind.PACKING, SheetKind.SEALS), by="P001")
    assert made.recorded == 3
    with open_store(copy) as store:
        events = [signed.event for signed in store.events.all() if signed.event.kind == "packet.printed"]
        kept = {f"sheet/{sheet.serial}" for sheet in store.sheets.of()}
    assert len(events) == 3
    for event in events:
        assert event.body["plan"] == made.digest
        assert set(event.body["sheets"]) <= kept
        assert event.people[0].person == "person/P001"


def test_language_of_the_command_is_the_language_of_the_packets(folder, tmp_path, capsys):
    """``--language`` chooses the words of the sheets too, with serials of their own."""
    copy = tmp_path / "county"
    shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("packets"))
    assert run(["print", str(copy), "--what", "packing", "--language", "en-XA"]) == 0
    text = pypdfium2.PdfDocument(min((copy / "packets").iterdir()))[0].get_textpage().get_text_range()
    assert "Páçķîñg".replace("ķ", "k") in text or "[Páçkîñg" in text
    assert run(["print", str(copy), "--what", "packing"]) == 0
    with open_store(copy) as store:
        serials = [sheet.serial for sheet in store.sheets.of() if sheet.kind == "packing list"]
    assert len(set(serials)) == len(serials) >= 6
    capsys.readouterr()


def test_a_watch_can_stop_the_print(folder):
    """A job that is cancelled stops between files and leaves whole ones."""

    class Stop(Quiet):
        def step(self, part: str, done: int, total: int) -> None:
            raise Cancelled

    with pytest.raises(Cancelled):
        command.print_folder(folder, watch=Stop(), kinds=(SheetKind.PACKING,))
    assert not list((folder / "packets").glob("*.part"))


class Quiet:
    """A watch that nobody looks at."""

    def step(self, part: str, done: int, total: int) -> None:
        """Do nothing."""
