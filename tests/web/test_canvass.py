"""The canvass at the office: table, worklist, versions, files; by role, at the command line, by keyboard."""

from __future__ import annotations

import csv
import hashlib
import html
import io
import json
import re
from pathlib import Path
from typing import Any

import openpyxl
import pypdf
import pytest
from playwright.sync_api import Browser

from pollstead.cli.main import run
from pollstead.record.event import Means, Part, Person
from pollstead.record.kinds.canvass import CanvassTotal, MemoryUploaded
from pollstead.record.kinds.days import CountRead
from pollstead.record.kinds.explanations import ExplanationSaved, RowOf, SavedWords
from pollstead.record.write import ToRecord
from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import LANGUAGE_COOKIE, WHO_COOKIE, Who, to_cookie
from pollstead.show.words import ENGLISH, PSEUDO
from pollstead.work.canvass import frozen_versions

AXE = (Path(__file__).resolve().parents[1] / "vendor" / "axe" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
DAY = "2028-11-07"
OWN_WORDS = "Line 4 copied into line 5"
NEVER = ("audit", "official result", "lost vote", "certified", "missing vote", "fraud", "tamper", "illegal")
PEOPLE = (
    Person(person="person/P010", means=Means.NAME_ONLY, part=Part.AUTHOR),
    Person(person="person/P011", means=Means.NAME_ONLY, part=Part.SECOND),
)


def write(app: Any, *entries: ToRecord) -> None:
    """Write events as two people of the office."""
    with app.folder.at_desk(Who(person="person/P010", role=Role.COORDINATOR)) as (desk, _, moment):
        desk.recorder.record_run(entries, people=PEOPLE, moment=moment)


def read(term: str, value: int, source: str = "screen", subject: str = "site/S01") -> ToRecord:
    """A number of the site S01."""
    body = CountRead(term=term, value=value, source=source)
    return ToRecord(body=body, subject=subject, site="site/S01", day=DAY)


def total(quantity: str, value: int, site: str = "S01") -> ToRecord:
    """A total of the canvass."""
    body = CanvassTotal(mode="election_day", quantity=quantity, source="report", total=value)
    return ToRecord(body=body, subject=f"site/{site}", site=f"site/{site}")


@pytest.fixture
def counted(issued_app: Any) -> Any:
    """S01 has 501 envelopes, the canvass 510; a memory device was read twice, one of no list once."""
    app = issued_app
    memory = app.folder.election().devices
    own = next(
        m for device in memory if device.id.startswith("device/scanner/") for m in device.memory_devices
    )
    upload = ToRecord(body=MemoryUploaded(count=40), subject=f"memory/{own}")
    saved = ExplanationSaved(
        digest="a" * 64, rows=(RowOf(equation="I2", subject="site", difference=9),), explanation="b" * 16
    )
    write(
        app,
        read("provisional_envelopes", 501, "hand"),
        total("provisional_envelopes", 510),
        upload,
        upload,
        ToRecord(body=MemoryUploaded(count=7), subject="memory/LM-M-OTHER"),
        ToRecord(
            body=saved,
            subject="site/S01",
            site="site/S01",
            private=SavedWords(words="A digit was misread", own=OWN_WORDS),
        ),
    )
    return app


def form_of(page: str, key: str) -> dict[str, str]:
    """The hidden fields of the form of a row."""
    part = page[page.index(f'name="row" value="{key}"') :]
    numbers = re.search(r'name="numbers" value="([0-9a-f]{64})"', part)
    assert numbers
    return {"do": "work", "row": key, "numbers": numbers[1]}


@pytest.mark.full
def test_a_difference_is_given_to_somebody_and_opens_again_when_a_number_changes(counted: Any) -> None:
    """Who has it and how far it is; explained needs a word; a changed number opens it again."""
    client = counted.client(Role.CLERK)
    page = client.get("/canvass").text
    text = html.unescape(re.sub(r"<[^>]+>", "", page))
    assert "canvass: Difference of 9; one explanation fits." in " ".join(text.split())
    assert "Read the canvass's number again where it was typed from." in text
    assert "/site/S01/explanations" not in page, "the site's own numbers do not differ"
    notes = page[page.index('<h3 id="totals"') : page.index('<h2 id="sites"')]
    notes = " ".join(html.unescape(re.sub(r"<[^>]+>", "", notes)).split())
    assert "510 stands there, 501 was counted. Two digits may be swapped." in notes and "%" not in notes
    assert "the authority that your state's law names (assumed" in notes
    assert "taken more than once" in text and "LM-M-OTHER" in text and OWN_WORDS in text
    assert not [word for word in NEVER if word in text.replace("Unofficial", "").lower()]
    form = form_of(page, "S01/election_day/provisional_envelopes")
    assert (
        client.post("/canvass", data=form | {"who": "person/P010", "state": "explained"}).status_code == 422
    )
    explanation = re.search(r'<option value="([0-9a-f]{16})">510 stands there', page)
    assert explanation
    form |= {"who": "person/P010", "state": "explained", "explanation": explanation[1]}
    assert client.post("/canvass", data=form | {"explanation": "0" * 16}).status_code == 422
    assert client.post("/canvass", data=form | {"note": "Line 4 misread"}).status_code == 303
    page = client.get("/canvass").text
    assert "Two digits may be swapped. Line 4 misread" in page
    assert "1 of 1 are done" in re.sub(r"<[^>]+>", "", page)
    write(counted, total("provisional_envelopes", 511), total("ballots_cast", 499))
    again = client.post("/canvass", data=form | {"who": "", "state": "looking", "explanation": ""})
    assert again.status_code == 422 and "changed meanwhile" in again.text
    assert "a number changed since" in client.get("/canvass").text


@pytest.mark.full
def test_roles_read_write_and_see_no_names_or_nothing_at_all(counted: Any) -> None:
    """Coordinator and clerk write, a reader reads without names or people's words, site roles see nothing."""
    form = {"do": "freeze", "reason": "Before the meeting"}
    for role, read_code, write_code in (
        (Role.COORDINATOR, 200, 303),
        (Role.CLERK, 200, 409),
        (Role.READER, 200, 403),
        (Role.HELPER, 403, 403),
        (Role.SITE_LEAD, 403, 403),
        (Role.WAREHOUSE, 403, 403),
    ):
        client = counted.client(role)
        assert client.get("/canvass").status_code == read_code, role
        assert client.get("/canvass/file/table.csv").status_code == read_code, role
        assert client.post("/canvass", data=form).status_code == write_code, role
    reader = counted.client(Role.READER, "person/P001")
    at = f"/canvass/version/{frozen_versions(counted.folder.fold())[0].digest[:16]}"
    for page in (reader.get("/canvass").text, reader.get(at).text):
        assert OWN_WORDS not in page and "Before the meeting" not in page and "Ostrander" not in page
        assert 'name="do"' not in page


@pytest.mark.full
def test_a_version_is_kept_compared_and_never_written_over(
    counted: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two versions by digest: what changed is shown, files of the first stay as they were, all unofficial."""
    client = counted.client(Role.COORDINATOR)
    assert client.post("/canvass", data={"do": "freeze", "reason": ""}).status_code == 422
    first = client.post("/canvass", data={"do": "freeze", "reason": "Before"}).headers["location"]
    again = client.post("/canvass", data={"do": "freeze", "reason": "Again"})
    assert again.status_code == 409 and "nothing new was kept" in again.text
    write(counted, total("ballots_cast", 499, "S02"))
    assert "changed since the last version" in client.get("/canvass").text
    second = client.post("/canvass", data={"do": "freeze", "reason": "After"}).headers["location"]
    digests = [one.digest for one in frozen_versions(counted.folder.fold())]
    assert [second.split("/")[3][:16], first.split("/")[3][:16]] == [
        f"{digests[0][:16]}?done=kept"[:16],
        digests[1][:16],
    ]
    shown = html.unescape(re.sub(r"<[^>]+>", "", client.get(second).text))
    assert "What did this version change?" in shown and "499" in shown
    assert hashlib.sha256(counted.folder.store.snapshots.load(digests[1])).hexdigest() == digests[1]
    old = client.get(f"/canvass/file/table.csv?version={digests[1][:16]}").content.decode("utf-8-sig")
    assert "499" not in old and digests[1][:16] in old
    title, heads, *rows = csv.reader(io.StringIO(old))
    assert title[0].startswith("Unofficial")
    line = next(row for row in rows if row[:4] == ["S01", rows[0][1], "election day", rows[0][3]])
    assert dict(zip(heads, line, strict=True))["State"]
    book = openpyxl.load_workbook(io.BytesIO(client.get("/canvass/file/table.xlsx").content))
    sheet = book.worksheets[0]
    assert str(sheet["A1"].value).startswith("Unofficial")
    numbers = {(r[0], r[2], r[3]): r[6:11] for r in sheet.iter_rows(min_row=3, values_only=True)}
    checked = next(
        value for key, value in numbers.items() if key[0] == "S01" and str(key[2]) == "Provisional envelopes"
    )
    assert checked == (501, None, 510, None, -9), "numbers are numbers; a number that nobody has is blank"
    pdf = pypdf.PdfReader(io.BytesIO(client.get("/canvass/file/report.pdf").content))
    pages = [page.extract_text() for page in pdf.pages]
    assert all("Unofficial" in page for page in pages)
    whole = " ".join("".join(pages).split())
    assert OWN_WORDS in whole and "canvassing body decides" in whole and "-9" in whole
    assert not [word for word in NEVER if word in whole.replace("Unofficial", "").lower()]
    # The same version as files of the command line, and by its number.
    folder, out = str(counted.folder.path), str(tmp_path / "table.csv")
    assert run(["counts", "table", folder, out, "--version", "1"]) == 0
    assert Path(out).read_bytes().decode("utf-8-sig") == old
    assert run(["counts", "table", folder, out]) == 1, "a file is never written over unasked"
    assert run(["counts", "table", folder, str(tmp_path / "table.ods")]) == 2
    assert run(["counts", "table", folder, out, "--version", "9", "--overwrite"]) == 1
    assert run(["counts", "table", folder, out, "--overwrite"]) == 0
    assert not [one for one in tmp_path.iterdir() if "part" in one.name], "nothing half written is left"
    now = list(csv.reader(io.StringIO(Path(out).read_bytes().decode("utf-8-sig"))))
    capsys.readouterr()
    assert run(["counts", "show", folder, "--json"]) == 0
    shown = json.loads(capsys.readouterr().out)
    of_table = [row for row in now if re.fullmatch(r"S\d+", row[0])]
    assert sorted(row[0] for row in of_table) == sorted(row["site"] for row in shown["rows"])
    assert run(["counts", "report", folder, str(tmp_path / "report.pdf")]) == 0
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")
    assert run(["counts", "freeze", folder, "--by", "P010", "--reason", "Again"]) == 1
    assert client.get("/canvass/version/0000000000000000").status_code == 404


@pytest.mark.browser
def test_a_version_is_kept_by_keyboard_and_compared(browser: Browser, serving: str) -> None:
    """Keep a version with the keyboard; axe finds nothing there; 320 px; every word is translated."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, base_url=serving)
    who = to_cookie(Who(person="person/P010", role=Role.COORDINATOR))
    context.add_cookies([{"name": WHO_COOKIE, "value": who, "url": serving}])
    page = context.new_page()
    page.goto("/canvass")
    why = page.get_by_text("510 stands there, 501 was counted. Two digits may be swapped.").last
    assert not why.is_visible()
    place = why.locator("xpath=ancestor::div[starts-with(@id, 'total-')]").get_attribute("id")
    page.locator(f"#open-rows a[href='#{place}']").press("Enter")
    assert why.is_visible(), "the link of the row unfolds what may explain its total"
    page.focus("#reason")
    page.keyboard.type("Before the meeting\n")
    page.wait_for_url("**/canvass/version/**")
    assert "kept" in page.locator("[role=status]").inner_text()
    page.evaluate(AXE)
    assert [v["id"] for v in page.evaluate("(r) => axe.run({runOnly: r})", RULES)["violations"]] == []
    page.set_viewport_size({"width": 320, "height": 640})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    for language in (PSEUDO, ENGLISH):
        context.add_cookies([{"name": LANGUAGE_COOKIE, "value": language, "url": serving}])
        page.reload()
        words = page.locator("main h2, main th[scope=col], main a").all_inner_texts()
        assert all(word.startswith("[") == (language == PSEUDO) for word in words if word.strip())
    context.close()
