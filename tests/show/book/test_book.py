"""The office book: what a colleague finds in it, and that it looks right in grey."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest

from pollstead.cli.main import run
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.words import message
from pollstead.record.event import Means, Part, Person
from pollstead.record.kinds.offices import PlanApproved
from pollstead.record.write import Moment
from pollstead.show.book import chapters
from pollstead.show.book.book import office_book
from pollstead.show.book.content import Book, Lines, Said
from pollstead.show.book.setting import book_pdf
from pollstead.show.packet.setting import PrintFailed
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.words import PSEUDO, PSEUDO_RTL
from pollstead.store.copy_state import copy_place, set_copy_target
from pollstead.store.desk import begin_desk

pytestmark = pytest.mark.full

NOW = 1_857_724_800_000
ME = (Person(person="person/P010", means=Means.OWN_DEVICE, part=Part.AUTHOR),)
AT = Moment(utc_ms=NOW - 60_000, offset_min=-300, uncertainty_ms=0)
SMALL = Path(__file__).resolve().parents[3] / "small"


@pytest.fixture(scope="module")
def county(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A county folder with tables, a record, a decision in it, and a place for copies; no plan."""
    folder = tmp_path_factory.mktemp("book") / "county"
    folder.mkdir()
    for path in (*SMALL.glob("*.csv"), *SMALL.glob("*.toml")):
        shutil.copyfile(path, folder / path.name)
    desk = begin_desk(
        folder, county="Larkmoor County", election="General election", practice=False, people=ME, moment=AT
    )
    desk.recorder.record(PlanApproved(digest="0" * 64), subject="plan", people=ME, moment=AT)
    set_copy_target(desk.store, copy_place(folder, folder.parent))
    desk.close()
    return folder


@pytest.fixture
def folder(county: Path) -> Iterator[OpenFolder]:
    """The folder as pages see it, at a fixed moment."""
    opened = OpenFolder(county, clock=lambda: NOW)
    yield opened
    opened.close()


def text_of(made: bytes) -> str:
    """The text of all pages, line ends as blanks."""
    document = pypdfium2.PdfDocument(made)
    return " ".join(page.get_textpage().get_text_range() for page in document).replace("\r\n", " ")


def cells(book: Book, chapter: str) -> list[str]:
    """Every word of a chapter's paragraphs and tables."""
    found = next(one for one in book.chapters if one.title == chapter)
    words = [block.words for block in found.blocks if isinstance(block, Said)]
    return words + [
        cell for block in found.blocks if isinstance(block, Lines) for row in block.rows for cell in row
    ]


def test_the_book_tells_a_colleague_what_is_decided_open_and_where_everything_is(folder: OpenFolder) -> None:
    """Each question of a hand-over has its answer in the book of a real small county."""
    book = office_book(folder, language="en-US", phones=True)
    assert "Marit Ostrander" in cells(book, "Whom to call in the office")
    assert "555-0116" in cells(book, "Whom to call in the office")
    decides = cells(book, "Who decides what")
    assert "Longest wait that a voter should have" in decides and "30 min (policy)" in decides
    assert "5 % (assumed)" in decides and "nobody yet" in decides and "election official" in decides
    assert any("agreed with the library" in said for said in cells(book, "Decided by people, and why"))
    assert "Plan approved" in cells(book, "Changed lately")
    assert "Marit Ostrander" in cells(book, "Changed lately")
    keys = cells(book, "Copies and keys")
    assert str(folder.path.parent.resolve()) in keys and "desk/office" in keys
    assert "on this computer, in the folder keys" in keys


def test_phones_are_left_out_where_nobody_needs_them(folder: OpenFolder) -> None:
    """Not one number of people.csv is in the book then, and the book says so."""
    book = office_book(folder, language="en-US", phones=False)
    assert "555-" not in text_of(book_pdf(book))
    assert "Telephone numbers were left out of this print." in cells(book, "Whom to call in the office")


def test_open_items_stand_under_their_owner_by_due_date_and_none_is_dropped_in_silence(
    folder: OpenFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twenty items of one rule: twelve written out, eight counted; dated ones first; no owner is said."""

    def notice(number: int, owner: str, due: str) -> Notice:
        return Notice(
            kind=NoticeKind.OPEN_ITEM,
            rule="door-width",
            subject=f"site/S{number:02d}",
            text=message("Door {n} is not measured.", n=number),
            owner=owner,
            due=due,
        )

    made = (
        *(notice(n, "site coordinator", "") for n in range(1, 20)),
        notice(20, "site coordinator", "2028-10-01"),
        notice(21, "", ""),
    )
    monkeypatch.setattr(chapters, "all_notices", lambda *_, **__: made)
    found = cells(office_book(folder, language="en-US", phones=False), "What is open, by who sees to it")
    assert (
        "21 things are open." in found and "site coordinator: 20" in found and "Nobody named yet: 1" in found
    )
    assert found.index("2028-10-01") < found.index("Door 1 is not measured.")
    assert any(said.startswith("and 8 more of this sort: door-width") for said in found)


def test_late_and_due_tasks_stand_with_whoever_sees_to_them(
    folder: OpenFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On Nov 13, 2028: a task of six days before is late, one for that week due; none is done by itself."""
    from msgspec.structs import replace

    from pollstead.election.calendar import Task

    tasks = (
        Task(id="return-vans", words="Vans back", owner_role="warehouse manager", offset_days=1),
        Task(id="canvass-papers", words="Papers laid out", owner="P010", offset_days=8),
        Task(id="thank-owners", words="Letters to owners", offset_days=60),
    )
    election = folder.election()
    assert election is not None
    monkeypatch.setattr(folder, "election", lambda: replace(election, tasks=tasks))
    found = cells(office_book(folder, language="en-US", phones=False), "Dates that are due")
    assert found.index("2028-11-08") < found.index("late") < found.index("Vans back")
    assert "due this week" in found and "Marit Ostrander" in found and "warehouse manager" in found
    assert "Letters to owners" not in found and "Done: 0. Later: 1." in found


def test_the_pages_are_large_enough_and_look_right_in_grey(folder: OpenFolder) -> None:
    """No text below 11 pt; nothing runs out of the page; ink is black on white when drawn in grey."""
    made = book_pdf(office_book(folder, language="en-US", phones=True))
    assert made == book_pdf(office_book(folder, language="en-US", phones=True)), "the same bytes again"
    document = pypdfium2.PdfDocument(made)
    assert 3 <= len(document) <= 12
    for page in document:
        text = page.get_textpage()
        for index in range(0, text.count_chars(), 25):
            left, _, right, _ = text.get_charbox(index, loose=True)
            assert right <= page.get_width() - 30 and left >= 30, "inside the margins"
            if text.get_text_range(index, 1).strip():
                assert pypdfium2.raw.FPDFText_GetFontSize(text.raw, index) >= 10.99
        grey = page.render(scale=0.5, grayscale=True).to_numpy()
        assert (grey < 128).mean() < 0.35 and (grey < 128).any()


@pytest.mark.parametrize("language", [PSEUDO, PSEUDO_RTL])
def test_the_book_can_be_set_in_longer_words_and_from_right_to_left(
    folder: OpenFolder, language: str
) -> None:
    """Every sentence of it goes through the catalogue: the pseudo-language brackets each one."""
    book = office_book(folder, language=language, phones=False)
    assert book_pdf(book).startswith(b"%PDF")
    assert all(chapter.title.startswith("[") for chapter in book.chapters)


def test_the_command_writes_one_file_and_says_where(
    county: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One PDF, whole; a paper that is none and a folder that is none are said."""
    out = tmp_path / "book.pdf"
    assert run(["book", str(county), str(out), "--no-phones"]) == 0
    assert str(out) in capsys.readouterr().out and out.read_bytes().startswith(b"%PDF")
    assert run(["book", str(county), str(out), "--paper", "a3"]) == 2
    assert run(["book", str(tmp_path / "absent")]) == 1


def test_letters_that_no_font_here_has_are_named(folder: OpenFolder) -> None:
    """Told in words before the typesetter is asked."""
    from msgspec.structs import replace

    book = replace(office_book(folder, language="en-US", phones=False), county="Larkmoor \U00012000")
    with pytest.raises(PrintFailed, match="no font here has the letters"):
        book_pdf(book)
