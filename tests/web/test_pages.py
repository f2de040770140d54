"""What each page shows to whom, and what it does when something is not there."""

from __future__ import annotations

import datetime as dt
import html
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pollstead.plan.terms.version import CARRIED_OVER
from pollstead.show.web.capabilities import Role
from pollstead.show.web.navigation import links_for
from pollstead.show.web.pages.expected import expected_list

pytestmark = pytest.mark.full

SMALL = Path(__file__).resolve().parents[2] / "small"
DAY = dt.date(2028, 11, 7)


def seal_numbers(app: Any, site: str) -> set[str]:
    """The seal numbers that the plan expects at a site."""
    election, version = app.folder.election(), app.folder.current()
    items = expected_list(election, version, site, DAY).items
    numbers = {item.value for item in items if item.what == "seal" and item.private} - {"", CARRIED_OVER}
    assert numbers
    return numbers


@pytest.mark.parametrize("role", Role)
def test_every_linked_page_opens_for_every_role(issued_app: Any, role: Role) -> None:
    """Each page of the top row is there for whoever has chosen a name."""
    with issued_app.client(role) as client:
        for address in links_for(role):
            assert client.get(address).status_code == 200, address


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("page", ["", "/expected", "/opening", "/closing"])
def test_seal_numbers_are_hidden_before_opening(issued_app: Any, role: Role, page: str) -> None:
    """Before the doors open a seal number stands on no page of a role that does not need it."""
    numbers = seal_numbers(issued_app, "S01")
    with issued_app.client(role) as client:
        text = client.get(f"/site/S01{page}").text
    shown = {number for number in numbers if number in text}
    needs = role in (Role.COORDINATOR, Role.WAREHOUSE) and page in ("", "/expected")
    assert shown == (numbers if needs else set())


@pytest.mark.parametrize(
    ("role", "person", "phones"),
    [
        (Role.COORDINATOR, "person/P010", True),
        (Role.HELPER, "person/P012", True),
        (Role.CLERK, "person/P012", True),
        (Role.WAREHOUSE, "person/P010", False),
        (Role.READER, "person/P001", False),
        (Role.SITE_LEAD, "person/P003", True),
        (Role.SITE_LEAD, "person/P001", False),
        (Role.READER, "person/P003", False),
    ],
)
def test_phones_are_for_roles_that_need_them(app: Any, role: Role, person: str, phones: bool) -> None:
    """Office roles that call see a worker's phone; a site lead that of the own site, nobody else any."""
    with app.client(role, person) as client:
        text = client.get("/site/S02").text
    assert ("555-0113" in text) is phones
    assert ("Odell Briarly" in text) is (role not in (Role.WAREHOUSE, Role.READER))


def test_who_opens_a_building_is_told_to_those_who_need_it(app: Any) -> None:
    """The warehouse sees a building's openers with their phones, a clerk does not see that they open."""
    opener = app.folder.election().site("S01").openers[0]
    with app.client(Role.WAREHOUSE) as client:
        assert "can open the building" in client.get("/site/S01").text, opener
    for role in (Role.CLERK, Role.READER):
        with app.client(role, "person/P012") as client:
            text = client.get("/site/S01").text
        assert "can open the building" not in text and "does not see who opens" in text


def test_site_page_shows_everything_of_one_site(app: Any) -> None:
    """Voters, stations with serials, waits with days and interval, packing, steps, seals and people."""
    plan = app.folder.current().site("S01")
    with app.client(Role.COORDINATOR) as client:
        text = html.unescape(client.get("/site/S01").text)
    for wanted in (
        f"{plan.demand[0].voters.p50:,}",
        f"{plan.waits.days_used:,}",
        *[part.serial for station in plan.stations for part in station.parts if part.serial],
        *[line.item for line in plan.packing],
        *[step.words for step in plan.run_sheet],
        *[seal.number for station in plan.stations for seal in station.seals if seal.number],
        "07:00",
        "19:45",
    ):
        assert wanted in text, wanted


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/site/nowhere", 404),
        ("/site/%00", 404),
        ("/site/S01/opening?day=2028-13-01", 404),
        ("/site/S01/opening?day=2028-11-05", 404),
        ("/site/S01/expected?day=x", 404),
        ("/ready?day=1999-01-01", 404),
        ("/versions/abc", 404),
        ("/entry/abc", 404),
        ("/open/resolve?key=no|such|key", 404),
        ("/open?site=nowhere", 200),
        ("/who?next=https://evil.example", 200),
    ],
)
def test_what_is_not_there_is_said_in_words(app: Any, address: str, status: int) -> None:
    """A wrong address gives a page with words and a next step, never a traceback."""
    with app.client(Role.HELPER) as client:
        answer = client.get(address)
    assert answer.status_code == status
    assert "<h1>" in answer.text and "Traceback" not in answer.text


def test_a_fault_of_ours_says_nothing_was_changed(app: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """An error in a page gives 500 in plain words; details stay in the terminal."""

    def broken(_: Any) -> Any:
        raise RuntimeError("secret detail")

    monkeypatch.setattr("pollstead.show.web.pages.county.county_page", broken)
    with app.client(Role.HELPER) as client:
        answer = client.get("/")
    assert answer.status_code == 500
    assert "Nothing was changed" in answer.text and "secret detail" not in answer.text


@pytest.mark.parametrize("page", ["/", "/day", "/site/S01", "/versions"])
def test_a_damaged_store_is_told_in_the_stores_own_words(app: Any, county: Path, page: str) -> None:
    """503 with what to do: keep the file, put back a copy; it is no fault of the program."""
    with app.client(Role.HELPER) as client:
        assert client.get(page).status_code == 200
        app.folder.store.database.close()
        for beside in county.glob("pollstead.db-*"):
            beside.unlink()
        (county / "pollstead.db").write_bytes(b"no database " * 9_999)
        answer = client.get(page)
    assert answer.status_code == 503
    assert "is damaged" in answer.text and "put back your last copy" in html.unescape(answer.text)
    assert "fault is in this program" not in answer.text


def test_without_a_plan_the_first_page_offers_one(tmp_path: Path, app_of: Callable[[Path], Any]) -> None:
    """A folder that was never planned opens, names its county and says what to do first."""
    folder = tmp_path / "fresh"
    shutil.copytree(SMALL, folder)
    app = app_of(folder)
    with app.client(Role.HELPER) as client:
        text = client.get("/").text
        assert "There is no plan yet" in text and "Larkmoor County" in text
        for address in ("/ready", "/day", "/site/S01"):
            assert client.get(address).status_code == 409
        for address in ("/open", "/versions", "/jobs", "/help", "/who"):
            assert client.get(address).status_code == 200


def test_a_name_can_be_typed_before_there_is_a_plan(tmp_path: Path, app_of: Callable[[Path], Any]) -> None:
    """The record begins with the first entry; a folder whose county changed since takes nothing, in words."""
    folder = tmp_path / "fresh"
    shutil.copytree(SMALL, folder)
    with app_of(folder).client(None) as client:
        assert client.post("/who", data={"name": "Quill Ashdown", "role": "helper"}).status_code == 303
    table = folder / "county.toml"
    table.write_text(table.read_text("utf-8").replace("Larkmoor County", "Elsewhere County"), "utf-8")
    with app_of(folder).client(None) as client:
        answer = client.post("/who", data={"name": "Another Name", "role": "helper"})
    assert answer.status_code == 409 and "Larkmoor County" in answer.text and "Elsewhere" in answer.text


def test_a_practice_election_says_so_on_every_page(app: Any) -> None:
    """PRACTICE stands on each page of a practice election and on none of a real one."""
    with app.client(Role.READER) as client:
        assert "PRACTICE" not in client.get("/").text
        app.folder.practice = lambda: True
        for address in links_for(Role.READER):
            assert "PRACTICE" in client.get(address).text


def test_choosing_a_name_that_is_in_no_table_keeps_it_out_of_signed_fields(app: Any) -> None:
    """A typed name gets an id; the name itself stands in a private part alone, and is shown."""
    with app.client(None) as client:
        answer = client.post("/who", data={"name": "Quill Ashdown", "role": "helper", "next": "/help"})
        assert answer.status_code == 303 and answer.headers["location"] == "/help"
        client.cookies.update(answer.cookies)
        assert "Quill Ashdown" in client.get("/help").text
        again = client.post("/who", data={"name": "Quill Ashdown", "role": "helper"})
    assert again.cookies == answer.cookies
    assert all(b"Quill" not in signed.data for signed in app.folder.store.events.all())


def test_an_empty_choice_of_name_names_each_field(app: Any) -> None:
    """The summary counts the faults and links to each field; what was typed is kept."""
    with app.client(None) as client:
        answer = client.post("/who", data={"name": "N" * 100, "role": ""})
    assert answer.status_code == 422
    assert 'href="#name"' in answer.text and 'href="#role-first"' in answer.text
    assert "2 things need another look" in answer.text.replace('<bdi translate="no" dir="ltr">2</bdi>', "2")
    assert "N" * 100 in answer.text
