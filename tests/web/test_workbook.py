"""The workbook in the app: out, edited, back in line by line, and undone; by role."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from playwright.sync_api import Browser, Page

from pollstead.intake.folder import read_folder
from pollstead.intake.tabs import tab_named
from pollstead.show.web.capabilities import Role
from pollstead.show.web.uploads import MOST_HELD, Upload, Uploads
from pollstead.show.web.who import LANGUAGE_COOKIE, WHO_COOKIE, Who, to_cookie
from pollstead.show.words import PSEUDO

pytestmark = pytest.mark.full

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
WHY = "Told by the sites."
AXE = (Path(__file__).resolve().parents[1] / "vendor" / "axe" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def edited(data: bytes, change: Callable[[Any], None]) -> bytes:
    """A workbook changed with another library."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    change(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def at(book: Any, tab: str, row: int, column: str) -> Any:
    """A cell by the name of its column."""
    return book[tab].cell(row, tab_named(tab).index(column) + 1)


def rename(book: Any) -> None:
    """A site, a person and a seal."""
    at(book, "sites", 2, "name").value = "Bibliothèque"
    at(book, "people", 2, "phone").value = "555-0199"
    at(book, "closure_seals", 2, "number").value = "0099999"


def send(client: Any, data: bytes, name: str = "facts.xlsx") -> Any:
    """Send a file as the page's form does."""
    return client.post("/workbook", files={"file": (name, data, XLSX)})


def test_lines_are_taken_by_one_event_and_undone(app: Any) -> None:
    """Download, edit, send, tick one tab, say why; the event is listed and its undo gives the facts back."""
    client, folder = app.client(Role.COORDINATOR), app.folder
    before = read_folder(folder.path).digest
    data = client.get("/workbook/file")
    assert data.headers["content-disposition"].endswith('.xlsx"')
    sent = send(client, edited(data.content, rename))
    assert sent.status_code == 303
    page = client.get(sent.headers["location"])
    assert "Bibliothèque" in page.text and "555-0199" in page.text and "0099999" in page.text
    unsaid = client.post(sent.headers["location"], data={"tab-sites": "yes"})
    assert unsaid.status_code == 422 and "Say why" in unsaid.text
    assert 'name="tab-sites" value="yes" checked' in unsaid.text
    assert client.post(sent.headers["location"], data={"reason": WHY}).status_code == 422
    assert read_folder(folder.path).digest == before
    taken = client.post(sent.headers["location"], data={"tab-sites": "yes", "line-2": "yes", "reason": WHY})
    assert taken.status_code == 303
    listed = client.get(taken.headers["location"]).text
    assert "workbook taken in" in listed and WHY in listed
    assert "Plan version" in listed and "made from other facts" in listed
    after = read_folder(folder.path)
    assert after.election is not None and after.election.sites[0].name == "Bibliothèque"
    event = taken.headers["location"].partition("done=")[2]
    address = f"/facts/changes/{event}"
    assert client.post(address, data={"act": "undo"}).status_code == 422
    assert client.post(address, data={"act": "undo", "reason": "Wrong file."}).status_code == 303
    assert read_folder(folder.path).digest == before
    assert client.post(address, data={"act": "undo", "reason": "Again."}).status_code == 409
    assert client.post("/facts/changes/" + "0" * 64, data={"act": "undo", "reason": "x"}).status_code == 404


def test_a_role_sees_and_takes_what_it_needs(app: Any) -> None:
    """A clerk's workbook has no seals and no parties, and seal lines of another file are not for clerks."""
    whole = app.client(Role.COORDINATOR).get("/workbook/file").content
    clerk = app.client(Role.CLERK)
    book = openpyxl.load_workbook(io.BytesIO(clerk.get("/workbook/file").content))
    assert "closure_seals" not in book.sheetnames and "seal_ranges" not in book.sheetnames
    headings = [cell.value for cell in book["people"][1]]
    assert "phone" in headings and "party" not in headings
    untouched = send(clerk, clerk.get("/workbook/file").content).headers["location"]
    assert "Nothing differs" in clerk.get(untouched).text
    address = send(clerk, edited(whole, rename)).headers["location"]
    page = clerk.get(address).text
    assert "Bibliothèque" in page and "0099999" not in page
    taken = clerk.post(address, data={"side-workbook": "yes", "reason": WHY})
    reader = app.client(Role.READER).get(taken.headers["location"]).text
    assert "Bibliothèque" in reader and "555-0199" not in reader and WHY not in reader
    assert "0099999" not in (app.folder.path / "closure_seals.csv").read_text(encoding="utf-8")
    for role in (Role.READER, Role.WAREHOUSE, Role.HELPER, Role.SITE_LEAD):
        assert app.client(role).get("/workbook/file").status_code == 403
        assert send(app.client(role), whole).status_code == 403


def test_what_is_no_workbook_is_told_and_what_changed_on_both_sides_is_shown(app: Any) -> None:
    """No file, another file, a file with a fault; then one cell that both sides changed."""
    client, folder = app.client(Role.COORDINATOR), app.folder
    assert "Choose a file first" in send(client, b"").text
    assert "save it as XLSX" in send(client, b"id,name").text
    assert client.get("/workbook/" + "0" * 64).status_code == 404
    data = client.get("/workbook/file").content
    spoiled = send(
        client, edited(data, lambda book: setattr(at(book, "sites", 2, "door_clear"), "value", "wide"))
    )
    page = client.get(spoiled.headers["location"]).text
    assert "cannot be taken yet" in page and "tab sites, row 2, column door_clear" in page
    sites = folder.path / "sites.csv"
    sites.write_text(
        sites.read_text(encoding="utf-8").replace("Ansel Civic Hall", "Ansel Hall"), encoding="utf-8"
    )
    both = client.get(send(client, edited(data, rename)).headers["location"]).text
    assert "older than the last change" in both and "changed on both sides" in both
    assert "Ansel Civic Hall" in both and "Ansel Hall" in both and "Bibliothèque" in both


def test_uploads_are_held_in_memory_and_few() -> None:
    """The oldest gives way; nothing reaches the disk."""
    uploads = Uploads()
    digests = [uploads.keep(Upload("x.xlsx", bytes([n]))) for n in range(MOST_HELD + 1)]
    assert uploads.get(digests[0]) is None
    assert uploads.get(digests[-1]) == Upload("x.xlsx", bytes([MOST_HELD]))
    uploads.drop(digests[-1])
    assert uploads.get(digests[-1]) is None


def test_no_workbook_lies_in_a_file_while_it_is_made_or_read(
    app: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It holds names and phones: a computer that stops meanwhile leaves none of them behind."""
    written: list[bytes] = []
    write = Path.write_bytes

    def keep(path: Path, data: bytes) -> int:
        written.append(data)
        return write(path, data)

    monkeypatch.setattr(Path, "write_bytes", keep)
    client = app.client(Role.COORDINATOR)
    with monkeypatch.context() as nowhere:
        nowhere.setattr(tempfile, "tempdir", str(tmp_path / "nowhere"))
        data = client.get("/workbook/file").content
    assert data.startswith(b"PK")
    at = send(client, edited(data, rename)).headers["location"]
    assert "Bibliothèque" in client.get(at).text
    assert not [one for one in written if one.startswith(b"PK")]


@pytest.fixture
def narrow(serving: str, browser: Browser) -> Iterator[Page]:
    """A window of 320 px (WCAG 2.2, 1.4.10) as coordinator, in the pseudo-language."""
    context = browser.new_context(viewport={"width": 320, "height": 640}, base_url=serving)
    who = to_cookie(Who(person="person/P010", role=Role.COORDINATOR))
    cookies = {WHO_COOKIE: who, LANGUAGE_COOKIE: PSEUDO}
    context.add_cookies([{"name": n, "value": v, "url": serving} for n, v in cookies.items()])
    yield context.new_page()
    context.close()


@pytest.mark.browser
def test_pages_pass_the_access_rules_and_work_by_keyboard(narrow: Page, tmp_path: Path) -> None:
    """axe-core finds nothing at 320 px, nothing sticks out; a line is taken and undone with keys alone."""
    said: list[str] = []
    narrow.on("console", lambda message: said.append(message.text))
    narrow.on("pageerror", lambda error: said.append(str(error)))
    narrow.goto("/workbook")
    check(narrow)
    with narrow.expect_download() as saved:
        narrow.locator("a.button").press("Enter")
    (tmp_path / "facts.xlsx").write_bytes(edited(Path(saved.value.path()).read_bytes(), rename))
    narrow.set_input_files("#file", tmp_path / "facts.xlsx")
    narrow.locator("form.slip button").press("Enter")
    narrow.wait_for_url("**/workbook/*")
    check(narrow)
    narrow.locator("input[name=tab-sites]").press("Space")
    narrow.locator("#reason").fill(WHY)
    narrow.locator(".slip button").press("Enter")
    narrow.wait_for_url("**/facts/changes?done=*")
    undo = narrow.locator(".slip").first.locator("details").last
    undo.locator("summary").press("Enter")
    check(narrow)
    undo.locator("textarea").fill(WHY)
    undo.locator("button").press("Enter")
    narrow.wait_for_load_state()
    check(narrow)
    assert said == []


def check(page: Page) -> None:
    """Access rules, width, and that every word is translated or marked as data."""
    page.evaluate(AXE)
    found = page.evaluate("(rules) => axe.run({runOnly: rules})", RULES)
    assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found["violations"]] == []
    out = "(e) => e.getBoundingClientRect().right > innerWidth + 1"
    wide = f"[...document.querySelectorAll('body *')].filter({out}).map((e) => e.outerHTML.slice(0, 120))"
    assert page.evaluate(wide) == []
    root = "document.documentElement"
    assert page.evaluate(f"{root}.scrollWidth - {root}.clientWidth") == 0
    bare = page.evaluate(
        """() => [...document.querySelectorAll("main p, main label, main button, main h1, main h2, main h3")]
        .map((element) => [...element.childNodes].filter((node) => node.nodeType === 3)
        .map((node) => node.data).join("").replace(/\\[[^\\[\\]]*\\]/gs, ""))
        .filter((text) => /[A-Za-z]/.test(text))"""
    )
    assert bare == []
