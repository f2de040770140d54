"""Change something: find it by what was scanned, see what follows, do it by name, by keyboard alone."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from pollstead.show.cautions import Place, for_place
from pollstead.show.packet.changed_printer import PacketPrinter
from pollstead.show.web.capabilities import Role
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.web.pages.expected import issue
from pollstead.show.web.pages.site import find_site
from pollstead.show.web.who import WHO_COOKIE, Who, to_cookie
from pollstead.store.sheets import Sheet
from pollstead.work.changing_kept import open_intent

pytestmark = pytest.mark.full

SWAP = "/change/swap-device/review?old=device/scanner/0001&new=device/scanner/0007"


@pytest.mark.parametrize(
    ("typed", "leads_to"),
    [
        ("LM-S-0001", "/change/swap-device?old=device%2Fscanner%2F0001"),
        ("lm-tag-s001", "/change/swap-device?old=device%2Fscanner%2F0001"),
        ("0048062", "/change/reseal?old=closure%2Fscanner%2F0001%2Flid"),
        ("P002", "/change/replace-person?old=P002"),
        ("S02", "/change/move-site?old=S02"),
    ],
)
def test_what_is_scanned_leads_on_at_once(app: Any, typed: str, leads_to: str) -> None:
    """A whole serial, tag, seal number or id needs no second click."""
    with app.client(Role.COORDINATOR) as client:
        answer = client.get("/change", params={"q": typed})
        assert (answer.status_code, answer.headers["location"]) == (303, leads_to)
        assert client.get(leads_to).status_code == 200


def test_a_seal_number_finds_nothing_for_whoever_may_not_see_it(app: Any) -> None:
    """A clerk changes facts, and learns no seal number by asking for it."""
    with app.client(Role.CLERK) as client:
        assert "Nothing here is called" in client.get("/change", params={"q": "0048062"}).text


@pytest.mark.parametrize("role", [Role.READER, Role.SITE_LEAD, Role.HELPER, Role.WAREHOUSE])
def test_other_roles_change_nothing(app: Any, role: Role) -> None:
    """Looking at the list is for all; finding, reviewing and doing are not."""
    with app.client(role) as client:
        assert client.get("/changes").status_code == 200
        for address in ("/change", SWAP):
            assert client.get(address).status_code == 403
        assert client.post(SWAP.partition("?")[0]).status_code == 403
        assert client.post("/changes/now").status_code == 403


def test_a_change_is_seen_then_done_by_name(issued_app: Any) -> None:
    """Review shows both sides and cautions; without a reason nothing begins; with one a job waits."""
    with issued_app.client(Role.COORDINATOR) as client:
        page = client.get(SWAP).text
        for part in ("LM-S-0001", "LM-S-0007", "Whom to call", "Sheets that are void", "555-0110"):
            assert part in page, part
        for caution in for_place(Place.CHANGE_PAGE):
            assert caution.words.replace("'", "&#39;") in page
        form = dict(re.findall(r'<input type="hidden" name="(old|new|basis)" value="([^"]*)"', page))
        refused = client.post(SWAP.partition("?")[0], data=form)
        assert refused.status_code == 422 and "Say in a few words why" in refused.text
        assert open_intent(issued_app.folder.store) is None
        stale = client.post(SWAP.partition("?")[0], data={**form, "basis": "old", "reason": "x"})
        assert stale.status_code == 422 and "changed meanwhile" in stale.text
        done = client.post(SWAP.partition("?")[0], data={**form, "reason": "It does not start"})
        assert (done.status_code, done.headers["location"]) == (303, "/changes/now")
        intent = open_intent(issued_app.folder.store)
        assert intent is not None and intent.by == "person/P010" and intent.approve is False
        now = client.get("/changes/now").text
        assert "Not done yet:" in now
        assert [job.kind for job in issued_app.folder.store.jobs.list()] == ["change"]
        # A second one waits for the first.
        again = client.post(SWAP.partition("?")[0], data={**form, "reason": "x"})
        assert again.status_code == 409


def test_a_clerk_sees_no_expected_number_in_a_review(issued_app: Any) -> None:
    """Old and new of what is read independently are hidden; that they change is told."""
    with issued_app.client(Role.CLERK) as client:
        page = client.get(SWAP).text
        assert "0048062" not in page and "0048077" not in page
        assert "Your role does not see numbers" in page


@pytest.mark.parametrize(
    "address", ["/change/none", "/change/none/review", "/changes/99", "/change/reseal?old=x"]
)
def test_what_is_not_there_is_said_plainly(app: Any, address: str) -> None:
    """A wrong address leads on, never to a broken page."""
    with app.client(Role.COORDINATOR) as client:
        answer = client.get(address)
        assert answer.status_code in (404, 409) and "<h1>" in answer.text


@pytest.fixture
def printed(county: Path) -> Iterator[str]:
    """The real server on a copy with the list of S01 issued and its sheets printed; gives its address."""
    folder = OpenFolder(county)
    version, digest = folder.current(), folder.current_digest()
    election = folder.election()
    assert version is not None and election is not None
    who = Who(person="person/P010", role=Role.COORDINATOR)
    issue(folder, who, find_site(folder, "S01"), election.election_day)
    printer = PacketPrinter()
    sheets = printer.planned(election, version, digest, ("S01",), "en-US")
    serials = printer.serials(election, digest, sheets)
    folder.store.sheets.add(
        Sheet(
            serial=serials[sheet.place],
            kind=sheet.kind.value,
            site=sheet.site,
            day=sheet.day,
            plan_digest=digest,
            list_digest="",
            printed_utc_ms=1,
            key=sheet.key,
            language=sheet.language,
            content=sheet.content,
        )
        for sheet in sheets
    )
    folder.close()
    process = subprocess.Popen(
        [sys.executable, "-m", "pollstead.cli.main", "serve", str(county), "--port", "0"],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    line = ""
    while "http://127.0.0.1:" not in line:
        line = process.stdout.readline()
        assert line, "the server ended"
    yield line.split()[-1].rstrip("/")
    process.terminate()
    assert process.wait(timeout=20) == 0


@pytest.mark.browser
@pytest.mark.begins_first
def test_a_scanner_is_swapped_by_keyboard_alone(printed: str, browser: Any) -> None:
    """Scan, take the first, type why, Enter: new sheets as PDF; each page passes axe and fits 320 px."""
    from axe_core_python.sync_playwright import Axe

    context = browser.new_context(viewport={"width": 320, "height": 700})
    who = to_cookie(Who(person="person/P010", role=Role.COORDINATOR))
    context.add_cookies([{"name": WHO_COOKIE, "value": who, "url": printed}])
    page = context.new_page()
    page.set_default_timeout(120_000)

    def check() -> None:
        found = Axe().run(page)["violations"]
        assert not found, [(v["id"], v["nodes"][0]["html"][:120]) for v in found]
        assert page.evaluate("document.documentElement.scrollWidth") <= 320

    page.goto(f"{printed}/change")
    check()
    page.keyboard.type("LM-S-0002")
    page.keyboard.press("Enter")
    page.wait_for_url("**/change/swap-device**")
    check()
    page.get_by_role("button", name=re.compile("show what follows")).first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/review**")
    check()
    page.get_by_label("Why, in a few words").focus()
    page.keyboard.type("It does not start")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/changes/[0-9]+$"))
    check()
    link = page.get_by_role("link", name="Open the new sheets (PDF)").get_attribute("href")
    pdf = context.request.get(f"{printed}{link or ''}")
    assert pdf.status == 200 and pdf.body().startswith(b"%PDF")
    page.goto(f"{printed}/changes")
    check()
    context.close()


def test_the_page_of_a_change_names_no_file_that_is_not_there(app: Any, county: Path) -> None:
    """The list is empty before the first change."""
    with app.client(Role.COORDINATOR) as client:
        assert "No change was made yet." in client.get("/changes").text
        assert client.get("/changes/now").headers["location"] == "/changes"
