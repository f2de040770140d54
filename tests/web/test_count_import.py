"""Counts from a file in the app: sent, confirmed, recorded, taken back; by role; by keyboard alone."""

from __future__ import annotations

import html
import re
import tempfile
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser
from tests.intake.counts.report import SECRET_COUNT, USUAL, as_json

from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import LANGUAGE_COOKIE, WHO_COOKIE, Who, to_cookie
from pollstead.show.words import ENGLISH, PSEUDO

AXE = (Path(__file__).resolve().parents[1] / "vendor" / "axe" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
NIGHT = (
    "Polling Place,Election day ballots,Chek-ins\n"
    "Ansel Civic Hal,1204,1514\nHarbor Lane Library,820,822\nTotal,2024,2337\n"
)


def send(client: Any, text: str | bytes, name: str = "night.csv") -> str:
    """Send a file as the page's form does; where the app leads on to."""
    data = text.encode() if isinstance(text, str) else text
    answer = client.post("/counts/import", files={"file": (name, data, "text/plain")}, data={"what": ""})
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def fields_of(page: str) -> dict[str, str]:
    """The fields of the form that keeps columns and names, as the page proposes them."""
    part = page[page.index('value="confirm"') : page.index("Keep these columns")]
    fields = {"do": "confirm"}
    for name, inside in re.findall(r'<select id="[^"]*" name="([^"]*)"[^>]*>(.*?)</select>', part, re.S):
        chosen = re.search(r'<option value="([^"]*)"[^>]* selected', inside)
        fields[name] = html.unescape(chosen[1]) if chosen else ""
    for name, value in re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)"', part):
        fields[name] = html.unescape(value)
    return fields


def count(app: Any, kind: str = "canvass.total") -> int:
    """How many numbers of a kind stand."""
    return sum(len(fact.current) for fact in app.folder.fold().named(kind))


@pytest.mark.full
def test_a_file_is_confirmed_recorded_and_taken_back(app: Any) -> None:
    """Nothing is recorded before columns and names are said; then all of it, and undo puts it back."""
    client = app.client(Role.CLERK)
    at = send(client, NIGHT)
    page = client.get(at).text
    assert "1 name is not known" in page and "Nobody has confirmed its columns yet" in page
    assert "the rows add up to" in page, "the row of totals says 2,337 and the rows 2,336"
    assert client.post(at, data={"do": "take"}).status_code == 422
    fields = fields_of(page)
    assert fields["column-0"] == "site" and fields["column-1"] == "ballots_cast/election_day"
    no_site = client.post(at, data=fields | {"column-0": "unused"})
    assert no_site.status_code == 422 and "which column holds the site" in no_site.text
    assert client.post(at, data=fields).status_code == 303, "columns may be kept before names"
    assert client.post(at, data={"do": "take"}).status_code == 409
    assert count(app) == 0
    assert client.post(at, data=fields | {"name-0": "S01"}).status_code == 303
    assert "Record" in client.get(at).text
    taken = client.post(at, data={"do": "take"})
    assert taken.headers["location"] == "/counts/import?done=taken-4"
    assert count(app) == 4
    digest = at.rpartition("/")[2]
    assert client.get(at).status_code == 404, "the file is held no longer"
    again = client.get(send(client, NIGHT.replace("820", "821"))).text
    assert "1 new" not in again and "differs from what is recorded" in again and "Record 1 number" in again
    refused = client.post("/counts/import/back", data={"file": digest, "reason": ""})
    assert refused.status_code == 422 and "Say why" in refused.text
    assert client.post("/counts/import/back", data={"file": digest, "reason": "old"}).status_code == 303
    assert count(app) == 0
    assert client.post("/counts/import/back", data={"file": digest, "reason": "old"}).status_code == 409


@pytest.mark.full
def test_a_file_of_counts_is_read_in_memory_alone(
    app: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Whatever somebody sends by mistake, such as a list of voters, lies in no file of this computer."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "nowhere"))
    client = app.client(Role.COORDINATOR)
    at = send(client, NIGHT)
    assert "820" in client.get(at).text
    kept = [path for path in app.folder.path.rglob("*") if path.is_file()]
    assert not [path for path in kept if NIGHT.encode() in path.read_bytes()]


@pytest.mark.full
def test_a_results_report_is_read_and_no_vote_is_shown(app: Any) -> None:
    """The open format needs no columns; what another role may do with the page is nothing."""
    client = app.client(Role.COORDINATOR)
    at = send(client, as_json(USUAL), "report.json")
    page = client.get(at).text
    assert "votes are passed over" in page and str(SECRET_COUNT) not in page
    assert client.post(at, data={"do": "take"}).status_code == 303
    assert count(app) == 3
    for role, code in ((Role.READER, 200), (Role.SITE_LEAD, 403), (Role.HELPER, 403), (Role.WAREHOUSE, 403)):
        other = app.client(role)
        assert other.get("/counts/import").status_code == code
        assert other.post(at, data={"do": "take"}).status_code == 403
    assert "Ada Quill" not in app.client(Role.READER).get("/counts/import").text


@pytest.mark.full
@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("night.pdf", b"%PDF", "CSV or XLSX"),
        ("night.csv", b"", "Choose a file"),
    ],
)
def test_a_file_that_is_no_table_is_refused_on_the_page(app: Any, name: str, data: bytes, says: str) -> None:
    """The page says what to send instead."""
    answer = app.client(Role.CLERK).post(
        "/counts/import", files={"file": (name, data, "text/plain")}, data={"what": ""}
    )
    assert answer.status_code == 422 and says in answer.text


@pytest.mark.full
def test_xml_with_entities_is_refused_in_words(app: Any) -> None:
    """The page names what was found, and nothing was expanded."""
    client = app.client(Role.CLERK)
    bad = b'<!DOCTYPE x [<!ENTITY a "ha">]><ElectionReport>&a;</ElectionReport>'
    page = client.get(send(client, bad, "r.xml")).text
    assert "cannot be taken yet" in page and "a document type or an entity" in page


@pytest.mark.browser
def test_a_file_of_counts_is_confirmed_and_recorded_by_keyboard(browser: Browser, serving: str) -> None:
    """Send, name, keep, record with the keyboard; axe finds nothing; 320 px; every word is translated."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, base_url=serving)
    who = to_cookie(Who(person="person/P010", role=Role.CLERK))
    context.add_cookies([{"name": WHO_COOKIE, "value": who, "url": serving}])
    page = context.new_page()
    page.goto("/counts/import")
    page.set_input_files(
        "#file", files=[{"name": "night.csv", "mimeType": "text/csv", "buffer": NIGHT.encode()}]
    )
    page.focus("text=Show what it says")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    page.evaluate(AXE)
    assert [v["id"] for v in page.evaluate("(r) => axe.run({runOnly: r})", RULES)["violations"]] == []
    page.set_viewport_size({"width": 320, "height": 640})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    for language in (PSEUDO, ENGLISH):
        context.add_cookies([{"name": LANGUAGE_COOKIE, "value": language, "url": serving}])
        page.reload()
        words = page.locator("main h2, main summary, main label, main button").all_inner_texts()
        own = {"Polling Place", "Election day ballots", "Chek-ins"}
        assert all(
            (word.startswith("[") or word in own) == (language == PSEUDO) or word in own for word in words
        )
    page.focus("#name-0")
    page.keyboard.press("ArrowDown")
    page.focus("text=Keep these columns")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    page.focus("text=Record 4 numbers")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert "4 numbers are recorded" in page.locator("[role=status]").inner_text()
    context.close()
