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
