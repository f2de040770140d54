"""Timings on their page: looked at in memory, answered, taken by a name; no row anywhere, at any time."""

from __future__ import annotations

import asyncio
import html
import os
import random
import re
import tempfile
from collections.abc import AsyncIterator, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import pytest
from multipart import MultipartError
from tests.web.in_this_process import ADDRESS, answered_here
from tests.web.test_browser import UNTRANSLATED
from tests.web.test_happening_browser import AXE, FAULTS, STICKING_OUT

from pollstead.election.timings import Answer
from pollstead.intake import read_folder
from pollstead.show.web.capabilities import Role
from pollstead.show.web.forms import BadForm
from pollstead.show.web.sent_files import Sent, read_parts
from pollstead.show.web.timings_held import MOST_HELD, Held, HeldTimings
from pollstead.show.web.who import LANGUAGE_COOKIE
from pollstead.show.words import ENGLISH, PSEUDO
from pollstead.work.timings import Said, taken_before

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.full

PLANTED = ("11:13:47", "17:41:09")
"""Times of two rows: they must be nowhere afterwards."""


def words(answered: Any) -> str:
    """The text of a page without its marks."""
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", answered.text)))


@pytest.fixture(scope="module")
def lists() -> dict[str, str]:
    """Check-in times of two sites, where each takes 110 s; 150 samples of a scanner; 20 of check-in."""
    draw = random.Random(12)
    times = []
    for site in ("S01", "S02"):
        at, rows = 7 * 3600.0, [(40_427, PLANTED[0]), (63_669, PLANTED[1])]
        while at < 20 * 3600:
            at += draw.gammavariate(4, 110 / 4)
            rows.append((int(at), f"{int(at) // 3600:02}:{int(at) // 60 % 60:02}:{int(at) % 60:02}"))
        times += [f"2028-11-07 {text},{site}" for _, text in sorted(rows)]
    samples = [f"scanning,S02,{draw.lognormvariate(3, 0.4):.1f}" for _ in range(150)]
    return {
        "times.csv": "\n".join(["time,site", *times]),
        "samples.csv": "\n".join(["step,site,seconds", *samples]),
        "few.csv": "\n".join(
            ["step,site,seconds", *(f"check-in,S01,{draw.gammavariate(4, 30):.1f}" for _ in range(6))]
        ),
    }


@pytest.fixture
def office(app: Any) -> Iterator[Any]:
    """A clerk's browser: a clerk keeps the county's lists."""
    with app.client(Role.CLERK) as client:
        yield client


def send(client: Any, files: dict[str, str], **fields: str) -> Any:
    """Send files as the page's form does."""
    parts = [("file", (name, text.encode(), "text/csv")) for name, text in files.items()]
    return client.post("/timings", files=parts, data={"day": "2028-11-07"} | fields)


def test_timings_are_looked_at_taken_and_told_and_no_row_is_kept(
    app: Any, office: Any, lists: dict[str, str]
) -> None:
    """Nothing changes before somebody confirms the columns and says why; the folder never holds a time."""
    before = read_folder(app.folder.path).election
    sent = send(office, {name: lists[name] for name in ("times.csv", "samples.csv")})
    assert sent.status_code == 303, words(sent)
    look = sent.headers["location"]
    page = office.get(look)
    text = words(page)
    assert "none held" in text and "When voters come: share of the day by hour" in text
    numbers = re.findall(r'name="take-(\d+)" value="yes" checked', page.text)
    assert numbers
    ticked = {f"take-{number}": "yes" for number in numbers}
    for lacking, fault in (
        ({"reason": "primary"} | ticked, "confirm it"),
        ({"confirmed": "yes"} | ticked, "Say in a few words why."),
        ({"confirmed": "yes", "reason": "primary"}, "Tick a value to take."),
    ):
        refused = office.post(look, data={"do": "take"} | lacking)
        assert refused.status_code == 422 and fault in words(refused)
    assert read_folder(app.folder.path).election == before
    taken = office.post(look, data={"do": "take", "confirmed": "yes", "reason": "timed in May"} | ticked)
    assert taken.headers["location"] == f"/timings?done=taken-{len(numbers)}"
    assert "taken into the facts" in words(office.get(taken.headers["location"]))
    after = read_folder(app.folder.path).election
    assert after is not None and before is not None
    service = after.station_type("tabletop-scanner").service
    assert service is not None and service.mean_ms == pytest.approx(21_800, rel=0.1)  # exp(3 + 0.4² / 2) s
    (one,) = taken_before(app.folder.fold())
    assert one.rows == sum(lists[name].count("\n") for name in ("times.csv", "samples.csv"))
    assert "tabletop-scanner" not in words(office.get("/timings"))  # by its name, not by its id
    assert office.get(look).status_code == 404
    held = b"".join(path.read_bytes() for path in app.folder.path.rglob("*") if path.is_file())
    for planted in PLANTED:
        assert planted.encode() not in held and planted.replace(":", "").encode() not in held


def test_a_file_that_says_more_of_a_voter_is_kept_out_with_words(app: Any, office: Any) -> None:
    """The column is named, its cells are not; a heading of the office's own can be told instead."""
    about = "time,site,voter\n2028-11-07 07:00:01,S01,Quince Fellowes\n"
    sent = send(office, {"list.csv": about})
    text = words(sent)
    assert sent.status_code == 422 and "kept out" in text
    assert "has the column voter, which may not come in" in text and "Quince" not in sent.text
    own = "Scan,site\n" + "".join(f"2028-11-07 07:{n % 60:02}:01,S01\n" for n in range(60))
    refused = send(office, {"own.csv": own})
    assert refused.status_code == 422 and "<details open><summary>Headings of your own" in refused.text
    told = send(office, {"own.csv": own}, **{"heading-1": "Scan", "holds-1": "time"})
    assert told.status_code == 303
    assert "own.csv" in words(office.get(told.headers["location"]))
    assert taken_before(app.folder.fold()) == ()


def test_names_and_clocks_wait_for_an_answer_and_a_thin_value_is_not_ticked(
    app: Any, office: Any, lists: dict[str, str]
) -> None:
    """A name nobody knows, a clock an hour off: nothing can be taken before both are answered."""
    moved = []
    for line in lists["times.csv"].splitlines():
        if line.endswith(",S02"):
            line = f"{line[:11]}{int(line[11:13]) - 1:02}{line[13:]}".replace(",S02", ",The old mill")
        moved.append(line)
    look = send(office, {"times.csv": "\n".join(moved)}).headers["location"]
    name = look.rsplit("/", 1)[1]
    assert "First say what is asked below" in words(office.get(look))
    assert (
        office.post(look, data={"do": "take", "take-1": "yes", "confirmed": "yes", "reason": "x"}).status_code
        == 409
    )
    office.post(look, data={"do": "say", "name-0": "S02"})
    page = office.get(look)
    assert "The old mill means" not in words(page) and "S02 on 2028-11-07" in words(page)
    office.post(look, data={"do": "say", "fault-0": "shift"})
    held = app.folder.timings.get(name)
    assert held.said.same == (("The old mill", "S02"),)
    assert [answer for _, answer in held.said.answers] == [Answer.SHIFT]
    assert "can be taken." in words(office.get(look))
    office.post(look, data={"do": "say", "fault-0": ""})  # taken back
    assert "First say what is asked below" in words(office.get(look))
    added = send(office, {"few.csv": lists["few.csv"]}, look=name)
    assert added.headers["location"] == look
    assert "too thin" in words(office.get(look)).casefold()
    assert office.post(look, data={"do": "forget"}).headers["location"] == "/timings?done=forgotten"
    assert app.folder.timings.get(name) is None and taken_before(app.folder.fold()) == ()


@pytest.mark.parametrize(
    ("files", "fields", "said"),
    [
        ({}, {}, "Choose a file first."),
        ({"times.csv": "time,site\n2028-11-07 07:00:01,S01\n"}, {"day": "soon"}, "Type a date such as"),
        ({"times.pdf": "%PDF"}, {}, "kept out"),
        ({f"{n}.csv": "time,site\n2028-11-07 07:00:01,S01\n" for n in range(13)}, {}, "at most 12 files"),
    ],
)
def test_what_cannot_be_read_is_said_and_nothing_is_held(
    app: Any, office: Any, files: dict[str, str], fields: dict[str, str], said: str
) -> None:
    """422 with words; no look is there afterwards."""
    if files:
        sent = send(office, files, **fields)
    else:
        sent = office.post("/timings", files={"file": ("", b"", "application/octet-stream")})
    assert sent.status_code == 422 and said in words(sent)
    assert not app.folder.timings._held


def test_who_may_not_change_facts_reads_the_page_alone(app: Any, lists: dict[str, str]) -> None:
    """A reader sees which files can be read and what was taken; a helper sends none."""
    with app.client(Role.READER) as reader:
        page = reader.get("/timings")
        assert "Which files can be read?" in words(page) and 'type="file"' not in page.text
        assert send(reader, {"times.csv": lists["times.csv"]}).status_code == 403
        assert reader.get("/timings/anything").status_code == 403
        sheet = reader.get("/timings/sheet")
        assert sheet.headers["content-type"] == "application/pdf" and sheet.content.startswith(b"%PDF-")


def test_a_sent_file_of_many_megabytes_touches_no_disk(
    app: Any, office: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every way to a temporary file fails meanwhile; the look comes all the same, for each file route."""

    def never(*_: object, **__: object) -> None:
        raise AssertionError("a temporary file was made")

    for name in ("SpooledTemporaryFile", "TemporaryFile", "NamedTemporaryFile", "mkstemp"):
        monkeypatch.setattr(tempfile, name, never)
    monkeypatch.setattr(tempfile, "_mkstemp_inner", never)
    rows = "".join(f"2028-11-07 {7 + n % 12:02}:{n % 60:02}:00,S{1 + n % 30:02}\n" for n in range(110_000))
    large = "time,site\n" + rows
    assert len(large) > 2_000_000
    assert send(office, {"large.csv": large}).status_code in (303, 422)
    counts = {"file": ("large.csv", large.encode(), "text/csv")}
    assert office.post("/counts/import", files=counts).status_code == 303


def test_a_look_is_held_for_a_while_and_the_oldest_gives_way() -> None:
    """So many and no more; one that is used again stays."""
    timings, empty = HeldTimings(), Held((), Said())
    names = [timings.keep(empty) for _ in range(MOST_HELD)]
    assert len(set(names)) == MOST_HELD
    assert timings.keep(empty, names[0]) == names[0]
    timings.keep(empty)
    assert timings.get(names[0]) is not None and timings.get(names[1]) is None
    timings.drop(names[0])
    assert timings.get(names[0]) is None


def body(parts: list[tuple[str, str, bytes]], boundary: str = "b") -> bytes:
    """A form's body as RFC 7578, section 4, writes it: name, file name ("" for a field), bytes."""
    made = b""
    for name, file, data in parts:
        named = f'; filename="{file}"' if file else ""
        made += f'--{boundary}\r\nContent-Disposition: form-data; name="{name}"{named}\r\n\r\n'.encode()
        made += data + b"\r\n"
    return made + f"--{boundary}--\r\n".encode()


async def in_pieces(data: bytes, size: int) -> AsyncIterator[bytes]:
    """A body as it comes over the wire."""
    for at in range(0, len(data), size):
        yield data[at : at + size]


def read_apart(made: bytes, size: int) -> Sent:
    """The form read in a thread of its own: a browser's loop may be running in this one."""
    with ThreadPoolExecutor(1) as apart:
        return apart.submit(lambda: asyncio.run(read_parts(in_pieces(made, size), "b"))).result()


@pytest.mark.parametrize("size", [1, 7, 4096])
def test_a_forms_parts_are_read_to_the_byte_however_they_are_cut(size: int) -> None:
    """Bytes like line ends and boundaries inside a file stay; a path before a name goes."""
    data = bytes(range(256)) + b"\r\n--c\r\n\n\r" + "é".encode()
    made = body(
        [("day", "", b" 2028-11-07 "), ("file", "C:\\lists\\times.csv", data), ("file", "b.csv", b"")]
    )
    sent = read_apart(made, size)
    assert sent.fields == {"day": "2028-11-07"}
    assert [(one.name, one.data) for one in sent.files] == [("times.csv", data), ("b.csv", b"")]
    assert sent.file.name == "times.csv"


@pytest.mark.parametrize(
    "made",
    [
        body([("day", "", b"1"), ("day", "", b"2")]),
        body([("day", "", b"x" * 9000)]),
        body([("day", "", b"1")])[:-9],
        body([(f"f{n}", "", b"1") for n in range(201)]),
        b"no form at all",
    ],
)
def test_a_form_that_none_of_ours_sends_is_refused(made: bytes) -> None:
    """A field twice or too long, a body that ends half-way, too many parts, no boundary."""
    with pytest.raises((BadForm, MultipartError)):
        read_apart(made, 64)


@pytest.mark.browser
def test_timings_are_sent_and_taken_by_keyboard(
    app: Any, office: Any, browser: Browser, lists: dict[str, str]
) -> None:
    """No access rule broken, nothing sticks out at 320 px; from the file to the values by keys alone."""
    page = browser.new_page(viewport={"width": 320, "height": 640})
    answered_here(page, office)
    look = send(office, {"times.csv": lists["times.csv"], "samples.csv": lists["samples.csv"]})
    page.goto(f"{ADDRESS}{look.headers['location']}")
    page.evaluate(AXE)
    assert (page.evaluate(STICKING_OUT), page.evaluate(FAULTS)) == ([], [])
    if os.environ.get("POLLSTEAD_LOOK"):
        page.screenshot(path=f"{os.environ['POLLSTEAD_LOOK']}/timings-320.png", full_page=True)
    page.emulate_media(media="print")
    assert page.locator("details.more li").first.is_visible(), "what is folded stands open on paper"
    assert page.locator(".copies").is_hidden() and page.locator(".caution").first.is_visible()
    page.emulate_media(media="screen")
    office.cookies.set(LANGUAGE_COOKIE, PSEUDO)
    page.goto(f"{ADDRESS}{look.headers['location']}")
    assert (page.evaluate(UNTRANSLATED), page.evaluate(STICKING_OUT)) == ([], [])
    office.cookies.set(LANGUAGE_COOKIE, ENGLISH)
    page.goto(f"{ADDRESS}{look.headers['location']}")
    page.locator("#confirmed").focus()
    page.keyboard.press("Space")
    page.keyboard.press("Tab")
    page.keyboard.type("timed at the primary")
    page.keyboard.press("Enter")
    page.get_by_text("taken into the facts").wait_for()
    assert len(taken_before(app.folder.fold())) == 1
    page.close()
