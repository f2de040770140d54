"""What each role learns from a change: names, reasons, parties, openers and numbers by need."""

from __future__ import annotations

import csv
import re
from typing import Any

import pytest

from pollstead.plan.terms.part import NoWatch
from pollstead.show.packet.changed_printer import PacketPrinter
from pollstead.show.web.capabilities import HELD, Capability, Role
from pollstead.show.web.who import Who
from pollstead.work.changing_steps import carry_on

pytestmark = pytest.mark.full

REPLACE = "/change/replace-person/review?old=P001&new=P011"
SWAP = "/change/swap-device/review?old=device/scanner/0001&new=device/scanner/0007"
REASON = "Ida is in hospital"
STOCK = "/change/add-stock/review?seal_kind={kind}&series=ZQ&first=7700001&last=7700009"


def do(app: Any, address: str) -> None:
    """Make a change in the app and carry it out here."""
    with app.client(Role.COORDINATOR) as client:
        page = client.get(address).text
        form = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page))
        done = client.post(address.partition("?")[0], data={**form, "reason": REASON})
        assert done.status_code == 303, done.text
    desk = app.folder.desk(Who(person="person/P010", role=Role.COORDINATOR), "")
    assert carry_on(app.folder.path, desk, PacketPrinter(), watch=NoWatch()) is not None


def test_who_was_replaced_and_why_is_for_those_who_see_people(app: Any) -> None:
    """While the change is under way, in the list and on its page."""
    with app.client(Role.COORDINATOR) as client:
        form = dict(re.findall(r'name="(\w+)" value="([^"]*)"', client.get(REPLACE).text))
        client.post(REPLACE.partition("?")[0], data={**form, "reason": REASON})
    told = {role: words_of(app, role, "/changes/now") for role in Role}
    desk = app.folder.desk(Who(person="person/P010", role=Role.COORDINATOR), "")
    assert carry_on(app.folder.path, desk, PacketPrinter(), watch=NoWatch()) is not None
    for role in Role:
        sees = Capability.SEE_PEOPLE in HELD[role]
        done = words_of(app, role, "/changes/1")
        for page in (told[role], words_of(app, role, "/changes"), done):
            assert ("Ida Fenwright" in page) is sees, role
        assert (REASON in done) is sees, role


def test_the_serial_that_comes_is_for_those_who_see_expected_numbers(issued_app: Any) -> None:
    """Whoever enters readings reads the new serial at the device, not in a list of changes."""
    do(issued_app, SWAP)
    for role in Role:
        for address in ("/changes", "/changes/1"):
            sees = Capability.SEE_EXPECTED in HELD[role]
            assert ("LM-S-0007" in words_of(issued_app, role, address)) is sees, (role, address)


def words_of(app: Any, role: Role, address: str) -> str:
    """The page as one role sees it."""
    with app.client(role) as client:
        answer = client.get(address)
        assert answer.status_code == 200
        return str(answer.text)


def test_a_clerk_sees_neither_openers_nor_parties_in_a_review(county: Any, app_of: Any) -> None:
    """What is in other columns is counted; the line about parties is the same whatever they are."""
    people = county / "people.csv"
    rows = list(csv.reader(people.read_text("utf-8").splitlines()))
    rows[0].append("party")
    party = {"P001": "Lantern", "P011": "Orchard"}
    for row in rows[1:]:
        row.append(party.get(row[0], ""))
    with people.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)
    app = app_of(county)
    with app.client(Role.COORDINATOR) as client:
        page = client.get(REPLACE).text
        assert "openers" in page and "Lantern" in page
    with app.client(Role.CLERK) as client:
        page = client.get(REPLACE).text
        assert "openers" not in page and "Lantern" not in page and "Orchard" not in page
        assert "columns that your role does not see" in page and "does not see parties" in page
    people.write_text(people.read_text("utf-8").replace("Orchard", "Lantern"), "utf-8")
    with app_of(county).client(Role.CLERK) as client:
        assert "does not see parties" in client.get(REPLACE).text


def test_a_clerk_sees_no_range_of_seals_in_a_review(app: Any) -> None:
    """A range of numbers tells what seals to expect."""
    types = app.folder.election().station_types
    kind = next(c.seal_kind for t in types for c in t.closures if c.seal_kind)
    with app.client(Role.COORDINATOR) as client:
        assert "seal_ranges" in client.get(STOCK.format(kind=kind)).text
    with app.client(Role.CLERK) as client:
        page = client.get(STOCK.format(kind=kind)).text
        assert "seal_ranges" not in page and "columns that your role does not see" in page


def how_many(page: str) -> int:
    """How many people the page says are not told yet."""
    found = re.search(r"(\d+)(?:</\w+>)? (?:people are|person is) not told yet", page)
    assert found is not None
    return int(found[1])


def test_whoever_was_told_of_a_change_stands_there_with_name_and_minute(app: Any) -> None:
    """A call is kept; who was not reached is not told; who may not call has no button."""
    do(app, REPLACE)
    with app.client(Role.CLERK, person="person/P012") as client:
        page = client.get("/changes/1").text
        people = re.findall(r'name="person" value="(person/\w+)"', page)
        untold = how_many(page)
        assert untold >= len(people) >= 2  # a driver whose name is in no table is on paper alone
        assert client.post("/changes/1", data={"person": people[0], "result": "no_answer"}).status_code == 303
        assert "no answer" in client.get("/changes/1").text
        assert client.post("/changes/1", data={"person": people[0], "result": "told"}).status_code == 303
        page = client.get("/changes/1").text
        assert how_many(page) == untold - 1
        assert "Linnea Thackeray-Voss" in page and page.count('value="told"') == len(people) - 1
        assert client.post("/changes/1", data={"person": "person/P999", "result": "told"}).status_code == 404
    assert "Message left" not in words_of(app, Role.SITE_LEAD, "/changes/1")
    with app.client(Role.READER) as client:
        assert client.post("/changes/1", data={"person": people[0], "result": "told"}).status_code == 403
