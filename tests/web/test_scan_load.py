"""Load-out and return as pages: right and wrong vehicle, right and wrong door, people, undo, roles, paper."""

from __future__ import annotations

import itertools
import re
import subprocess
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from tests.once import copied
from tests.web.conftest import App

from pollstead.election.door_words import door_words
from pollstead.record.kinds.custody import DoorRead, ThingSent
from pollstead.record.kinds.days import ThingReceived
from pollstead.show.commands import Command
from pollstead.show.web.capabilities import Role

DRIVE = "2028-11-06/V1"
MONDAY_MS = 1_857_124_800_000  # 2028-11-06, 07:00 in the county
PAIR = {"drive": DRIVE, "first": "P010", "second": "P012"}
WORDS = door_words(["S01", "S02", "S36"])


@pytest.fixture(scope="module")
def yard(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The small county on the Monday before election day; each test uses a cart of its own."""

    app = App(copied(planned, tmp_path_factory.mktemp("yard") / "county"))
    ticks = itertools.count(MONDAY_MS, 1000)
    app.folder.clock = lambda: next(ticks)
    yield app
    app.folder.close()


def scan(client: Any, code: str, mode: str, into: str = "", **more: str) -> tuple[str, str, str]:
    """One scan; the large words, the whole page, and the stop that the page stands at then."""
    data = {**PAIR, "mode": mode, "into": into, "do": "scan", "code": code, **more}
    answer = client.post("/scan/load", data=data)
    assert answer.status_code == 303, answer.text
    there = answer.headers["location"]
    page = client.get(there).text
    said = page.split('class="scan-word">')[1].split("</p>")[0]
    found = parse_qs(urlsplit(there).query).get("into", [""])[0]
    return bare(said), bare(page), found


def bare(html: str) -> str:
    """The words without their tags."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def people_of(app: App, kind: str, thing: str) -> dict[str, list[str]]:
    """The people of the newest event of a kind about a thing, by part."""
    event = [e.event for e in app.folder.store.events.of_kinds(kind) if e.event.subject == thing][-1]
    found: dict[str, list[str]] = {}
    for one in event.people:
        found.setdefault(one.part.value, []).append(one.person)
    return found


def test_out_to_the_right_door_and_home_again(yard: App) -> None:
    """Each hand-off names both sides; the leg is due at the stop's time; the return scan closes it."""
    client = yard.client(Role.WAREHOUSE, "person/P011")
    said, page, _ = scan(client, "cart-S01-S", "load")
    assert said == "On the vehicle" and "2 devices were not scanned into it" in page
    [sent] = [e.event for e in yard.folder.store.events.of_kinds(ThingSent.kind)]
    assert sent.body["vehicle"] == "V1" and sent.body["to_place"] == "site/S01"
    # 09:05 on the Monday, Eastern Standard Time: 14:05 UTC.
    assert sent.body["expected_utc_ms"] == MONDAY_MS + (2 * 60 + 5) * 60_000
    hands = people_of(yard, ThingSent.kind, "cart/cart-S01-S")
    assert hands["giver"] == ["person/P011"] and hands["receiver"] == ["person/P010", "person/P012"]
    assert scan(client, "cart-S01-S", "load")[0] == "Scanned already"
    assert scan(client, "cart-S01-S", "door")[0] == "Read the word on the door first"
    said, page, into = scan(client, WORDS["S01"].lower().replace("-", " "), "door")
    assert said in ("The right door", "The door of a later stop") and into == "S01"
    said, _, _ = scan(client, "cart-S01-S", "door", into, other="P001")
    assert said == "Handed over"
    hands = people_of(yard, ThingReceived.kind, "cart/cart-S01-S")
    assert hands["giver"] == ["person/P010", "person/P012"] and hands["receiver"] == ["person/P001"]
    assert scan(client, "cart-S01-S", "fetch", "S01", other="P002")[0] == "Back on the vehicle"
    home = {**PAIR, "mode": "home"}
    assert "1 thing is not back" in bare(client.get("/scan/load", params=home).text)
    assert scan(client, "cart-S01-S", "home")[0] == "Back in the warehouse"
    assert "Nothing of this drive is out" in bare(
        client.get("/scan/load", params={**PAIR, "mode": "home"}).text
    )


def test_who_stands_on_the_other_side_is_asked_by_what_is_done(yard: App) -> None:
    """What is done is chosen first, so that the right names are asked for, and a door asks its word."""
    client = yard.client(Role.WAREHOUSE, "person/P011")
    asked = {"load": "Who hands it out: name", "door": "Who receives at the site: name"}
    for mode, words in asked.items():
        page = client.get("/scan/load", params={"drive": PAIR["drive"], "mode": mode}).text
        assert words in page and f'name="mode" value="{mode}"' in page
        assert ("the hand-off then has one side only" in page) is (mode == "door")
    page = bare(client.get("/scan/load", params={**PAIR, "mode": "door"}).text)
    assert "Ready: scan or type the word on the door" in page


def test_another_vehicle_s_thing_names_its_site_and_lead(yard: App) -> None:
    """Wrong vehicle: nothing is written; its true site, vehicle and lead are named, phones by role."""
    before = len(yard.folder.store.events.of_kinds(ThingSent.kind))
    said, page, _ = scan(yard.client(Role.CLERK, "person/P011"), "case-S36-C", "load")
    assert said == "Not this vehicle" and "S36 Southgate Library · V2 van" in page
    assert "Sunniva Hale" in page and "555-0114" in page
    _, page, _ = scan(yard.client(Role.WAREHOUSE, "person/P011"), "case-S36-C", "load")
    assert "Sunniva Hale" not in page and "555-0114" not in page and "P005" in page
    assert scan(yard.client(Role.CLERK), "QQ-1", "load")[0].startswith("No thing of these drives")
    assert len(yard.folder.store.events.of_kinds(ThingSent.kind)) == before


def test_another_site_s_door_is_told_and_kept(yard: App) -> None:
    """The word of a site that this vehicle does not go to: nothing is handed over, both leads are named."""
    client = yard.client(Role.CLERK, "person/P011")
    said, page, into = scan(client, WORDS["S36"], "door")
    assert said == "Another site's door: hand nothing over" and "Southgate" in page and into == ""
    last = yard.folder.store.events.of_kinds(DoorRead.kind)[-1].event
    assert last.body["result"] == "other" and last.body["other"] == "site/S36"
    said, _, into = scan(client, "S02", "door")
    assert said == "No word was read at this door" and into == "S02"
    assert yard.folder.store.events.of_kinds(DoorRead.kind)[-1].event.body["result"] == "no_card"
    said, page, _ = scan(client, "cart-S01-V", "door", "S02")
    assert said == "Not for this door" and "Ida Fenwright" in page and "Wren Castellan" in page


def test_two_people_drive_and_undo_takes_back_one_s_own(yard: App) -> None:
    """One name, one person twice, or nobody known is refused; the card takes the last scan back."""
    client = yard.client(Role.WAREHOUSE, "person/P011")
    for first, second in (("P010", ""), ("P010", "P010"), ("P010", "Nobody At All")):
        data = {"drive": DRIVE, "first": first, "second": second, "do": "scan", "code": "box-S02"}
        answer = client.post("/scan/load", data=data)
        assert answer.status_code == 422 and "needs another look" in answer.text
    assert scan(client, "BOX-S02", "load")[0] == "On the vehicle, before things of a later stop"
    said, _, _ = scan(client, Command.UNDO.value, "load")
    assert said == "Taken back" and "box" not in said
    thing = next(f for f in yard.folder.fold().of_subject("box/S02") if f.name == ThingSent.kind)
    assert thing.current == ()
    reader = yard.client(Role.READER)
    assert reader.get("/scan/load").status_code == 200
    assert reader.post("/scan/load", data={**PAIR, "do": "scan", "code": "x"}).status_code == 403


@pytest.mark.full
def test_the_driver_page_has_stops_boxes_and_contacts_but_no_door_word(yard: App) -> None:
    """Stops in order with what goes to each door; phones only for a role that sees them; no word to copy."""

    def words(role: Role) -> str:
        answer = yard.client(role).get("/scan/load/paper", params={"drive": DRIVE})
        assert answer.status_code == 200 and answer.content.startswith(b"%PDF")
        done = subprocess.run(
            ["pdftotext", "-layout", "-", "-"], input=answer.content, capture_output=True, check=True
        )
        return done.stdout.decode()

    page = words(Role.CLERK)
    assert page.index("S02 Harbor Lane Library") < page.index("S01 Ansel Civic Hall")
    assert "cart-S01-S" in page and "555-0110" in page and "Word on the door card" in page
    assert not any(word in page for word in WORDS.values())
    assert "555-0110" not in words(Role.WAREHOUSE)
