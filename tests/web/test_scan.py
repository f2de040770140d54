"""The scan station: counting against the book, packing carts, command cards, a third list."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

from pollstead.record.kinds.warehouse import CartChecked, ThingPacked, ThingScanned
from pollstead.show.commands import Command, command_of
from pollstead.show.web.capabilities import Role
from pollstead.show.web.typed import SERIAL

ONE = "person/P011"


def devices(folder: Path) -> list[dict[str, str]]:
    """The rows of devices.csv."""
    with (folder / "devices.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture
def carted(county: Path, app_of: Any) -> Any:
    """The app around a county whose first three devices stand in cart C1 and the next two in C2."""
    rows = devices(county)
    heads = list(dict.fromkeys((*rows[0], "cart")))
    for number, row in enumerate(rows):
        row["cart"] = "C1" if number < 3 else "C2" if number < 5 else row.get("cart", "")
    with (county / "devices.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, heads)
        writer.writeheader()
        writer.writerows(rows)
    (county / "carts.csv").write_text("id,tag,site\nC1,CART-1,S01\nC2,CART-2,S02\n", encoding="utf-8")
    return app_of(county)


def scan(client: Any, page: str, address: str, code: str) -> tuple[str, str]:
    """Scan one code on the page at `address`; where the browser goes, and the words it finds there."""
    told = {key: found[0] for key, found in parse_qs(urlsplit(address).query).items()}
    data = {"do": "scan", "code": code} | {k: told[k] for k in ("count", "place", "into") if k in told}
    answer = client.post(f"/scan/{page}", data=data)
    assert answer.status_code == 303, answer.text
    there = answer.headers["location"]
    return there, client.get(there).text


def bare(html: str) -> str:
    """The words without their tags."""
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def said(text: str) -> str:
    """The large words of a page, without its tags."""
    return bare(text.split('class="scan-said')[1].split("</div>", maxsplit=1)[0].partition(">")[2])


def test_each_scan_of_a_count_is_answered_and_kept(carted: Any, county: Path) -> None:
    """Present, again, look-alike, unknown, wrong place; undo takes one back; the end is told as notices."""
    first, second = devices(county)[0], devices(county)[4]
    client = carted.client(Role.WAREHOUSE, ONE)
    at = client.post("/scan/inventory", data={"do": "begin"}).headers["location"]
    at, page = scan(client, "inventory", at, first["serial"])
    assert said(page).startswith("Here, as in the book") and first["serial"] in said(page)
    at, page = scan(client, "inventory", at, first["tag"] or first["serial"])
    assert said(page).startswith("Counted already")
    at, page = scan(client, "inventory", at, first["serial"][:-1])
    assert said(page).startswith("Read it again") and first["serial"] in said(page)
    at, page = scan(client, "inventory", at, "QQ-77777777")
    assert said(page).startswith("Not in the book")
    at, page = scan(client, "inventory", at, "CART-1")
    assert "Now counting in this cart" in page and "place=C1" in at
    at, page = scan(client, "inventory", at, second["serial"])
    assert said(page).startswith("Belongs in another cart") and "CART-2" in said(page)
    at, page = scan(client, "inventory", at, Command.UNDO.value)
    assert said(page) == "Taken back"
    at, page = scan(client, "inventory", at, "*")
    assert said(page).startswith("No serial can look like this")
    assert len(carted.folder.store.events.of_kinds(ThingScanned.kind)) == 5
    serials = [row["serial"] for row in devices(county)]
    third = "serial,maker\n" + "\n".join(f"{s},x" for s in (*serials[1:], "LM-X-9")) + "\n"
    form = {"count": "I-1"}
    files = {"file": ("list.csv", third.encode(), "text/csv")}
    assert client.post("/scan/inventory/list", data=form, files=files).status_code == 303
    bad = {"file": ("list.csv", b"a,b\n1,2\n", "text/csv")}
    assert "No column is headed serial" in client.post("/scan/inventory/list", data=form, files=bad).text
    client.post("/scan/inventory", data={"do": "end", "count": "I-1"})
    page = client.get("/scan/inventory?count=I-1").text
    assert "LM-X-9" in page and "On the third list alone" in page and "QQ-77777777" in page
    told = carted.client(Role.READER).get("/open").text
    assert f"Count I-1 : {len(serials) - 1} devices of the book were not scanned" in bare(told)
    assert client.post("/scan/inventory", data={"do": "scan", "count": "I-1", "code": "x"}).status_code == 409
    at = client.post("/scan/inventory", data={"do": "reopen", "count": "I-1"}).headers["location"]
    assert "were not scanned" not in carted.client(Role.READER).get("/open").text


def test_a_cart_is_complete_when_each_device_is_scanned_or_named(carted: Any, county: Path) -> None:
    """A device of another cart names that cart and is not packed; out of order is said, never refused."""
    rows = devices(county)
    order = sorted(row["serial"] for row in rows[:3])
    client = carted.client(Role.WAREHOUSE, ONE)
    at, page = scan(client, "pack", "/scan/pack", rows[0]["serial"])
    assert said(page).startswith("Scan the label of a cart")
    at, page = scan(client, "pack", at, "CART-1")
    at, page = scan(client, "pack", at, rows[4]["serial"])
    assert said(page).startswith("Not this cart") and "CART-2" in said(page)
    at, page = scan(client, "pack", at, order[2])
    assert "earlier place is still empty" in said(page) or "stands at another site" in said(page)
    at, page = scan(client, "pack", at, order[2])
    assert said(page).startswith("Packed already")
    at, page = scan(client, "pack", at, Command.UNDO.value)
    assert said(page).startswith("Taken back") and "3 devices are missing" in bare(page)
    for serial in order[:2]:
        at, page = scan(client, "pack", at, serial)
    left = next(row["id"] for row in rows if row["serial"] == order[2])
    form = {"do": "leave", "into": "C1", "device": left, "reason": ""}
    assert client.post("/scan/pack", data=form).status_code == 422
    assert client.post("/scan/pack", data=form | {"reason": "at repair"}).status_code == 303
    page = client.get("/scan/pack?into=C1").text
    assert "Complete: every device is in or named." in page and "at repair" in page
    opened = '<details class="slip" open>'
    assert "Now the last look, below." in page and opened in page, "the next step is named and open"
    look = {"do": "look", "into": "C1", "in_order": "yes", "panels": "ten"}
    assert client.post("/scan/pack", data=look).status_code == 422
    client.post("/scan/pack", data=look | {"panels": "10"})
    page = client.get("/scan/pack?into=C1").text
    assert "Now the last look" not in page and opened not in page
    [event] = carted.folder.store.events.of_kinds(CartChecked.kind)
    assert event.event.body["panels"] == 10 and event.event.body["in_order"] == "yes"
    assert len(carted.folder.store.events.of_kinds(ThingPacked.kind)) == 4


def test_a_command_is_no_serial_and_one_character_does_nothing(app: Any) -> None:
    """Every payload is long and begins with a sign that no serial may hold; a part of it is no command."""
    for command in Command:
        assert len(command.value) >= 14 and SERIAL.fullmatch(command.value) is None
        assert command_of(command.value[:-1]) is None and command_of(command.value[0]) is None
    reader = app.client(Role.READER)
    assert reader.get("/scan").status_code == 200
    assert reader.post("/scan/inventory", data={"do": "begin"}).status_code == 403


def test_the_last_look_asks_for_what_the_station_types_put_into_a_cart(app: Any) -> None:
    """A cart of ballot-marking devices has panels by its type; a cart of scanners has no such box."""
    client = app.client(Role.WAREHOUSE, ONE)
    page = client.get("/scan/pack?into=cart-S02-V").text
    told = re.search(r"([0-9]+) privacy panel", bare(page))
    field = re.search(r'<label for="(thing-[0-9])">(?:<[^>]+>)?privacy panel', page)
    assert told is not None and field is not None
    wanted = int(told[1])
    assert wanted > 0 and wanted % 2 == 0 and "serial, low to high" in page
    assert "privacy panel" not in client.get("/scan/pack?into=cart-S01-S").text
    look = {"do": "look", "into": "cart-S02-V", "in_order": "yes"}
    assert client.post("/scan/pack", data=look | {field[1]: "ten"}).status_code == 422
    client.post("/scan/pack", data=look | {field[1]: str(wanted - 1)})
    [event] = app.folder.store.events.of_kinds(CartChecked.kind)
    assert event.event.body["items"] == ("privacy panel",) and event.event.body["counts"] == (wanted - 1,)
    assert f"{wanted - 1} found" in bare(client.get("/scan/pack?into=cart-S02-V").text)


def test_a_device_of_another_site_names_both_leads_by_role(app: Any) -> None:
    """The true cart and site stand in large words with both leads; ids where names are hidden."""
    coordinator, keeper = app.client(Role.COORDINATOR, ONE), app.client(Role.WAREHOUSE, ONE)
    _, page = scan(coordinator, "pack", "/scan/pack?into=cart-S01-S", "LM-S-0003")
    assert said(page).startswith("Not this cart") and "S02 Harbor Lane Library" in said(page)
    assert "Wren Castellan" in page and "Ida Fenwright" in page
    _, page = scan(keeper, "pack", "/scan/pack?into=cart-S01-S", "LM-S-0003")
    assert "Wren Castellan" not in page and "P003" in page
