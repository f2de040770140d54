"""Tests recorded by scanner: device, memory devices, counter, card; look-alikes told; undo; two people."""

from __future__ import annotations

import re
from html import unescape
from typing import Any
from urllib.parse import parse_qs, urlsplit

from pollstead.reconcile.custody.pairs import warehouse
from pollstead.record.kinds.stocks import DeviceTested
from pollstead.show.commands import Command
from pollstead.show.web.capabilities import Role

SCANNER = "device/scanner/0003"


def scan(client: Any, at: str, code: str) -> tuple[str, str]:
    """Scan one code on the page at `at`; where the browser goes and the large words there."""
    told = {key: found[0] for key, found in parse_qs(urlsplit(at).query).items()}
    kept = {key: told[key] for key in ("second", "into", "place") if key in told}
    answer = client.post("/scan/test", data=kept | {"code": code})
    assert answer.status_code == 303, answer.text
    there = answer.headers["location"]
    if not there.startswith("/scan/test"):
        return there, ""
    said = client.get(there).text.split('class="scan-word">')[1].split("</p>")[0]
    return there, " ".join(unescape(re.sub(r"<[^>]+>", " ", said)).split())


def test_a_test_is_recorded_by_scanning_alone(app: Any) -> None:
    """Serial, memory device, counter, card: one event with two people; the card Undo withdraws it."""
    client = app.client(Role.WAREHOUSE, "person/P011")
    at = "/scan/test?second=P012"
    assert scan(client, at, Command.PASSED.value)[1] == "Scan the device first"
    at, said = scan(client, at, "LM-S-OOO3")
    assert said == "Read it again: not in the book" and "LM-S-0003" in client.get(at).text
    at, said = scan(client, at, "LM-S-0003")
    assert said.startswith("Device chosen")
    at, said = scan(client, at, "LM-M-S004A")
    assert said == "This memory device is another machine's in the book"
    at, said = scan(client, at, Command.UNDO.value)
    at, said = scan(client, at, "LM-M-S003A")
    assert said == "Memory device noted"
    at, said = scan(client, at, "1071")
    assert said == "Lifetime counter noted"
    at, said = scan(client, at, Command.PASSED.value)
    assert said == "Test recorded: passed, shows zero"
    [event] = [e.event for e in app.folder.store.events.of_kinds(DeviceTested.kind)]
    assert event.subject == SCANNER and event.body["lifetime_counter"] == 1071
    assert event.body["memory_devices"] == ("LM-M-S003A",)
    assert [p.person for p in event.people] == ["person/P011", "person/P012"]
    assert scan(client, at, Command.NEXT.value)[0] == f"/tests/S02?device={SCANNER}#device"
    assert scan(client, at, Command.NOT_PASSED.value)[0] == f"/tests/S02?device={SCANNER}#test-title"
    at, said = scan(client, at, Command.UNDO.value)
    assert said == "Taken back" and warehouse(app.folder.fold()).test(SCANNER) is None


def test_one_person_alone_records_no_test(app: Any) -> None:
    """Without a second person, or with oneself as one, nothing is kept; a reader may not scan."""
    client = app.client(Role.WAREHOUSE, "person/P011")
    for second in ("", "P011", "Nobody At All"):
        data = {"second": second, "into": SCANNER, "code": Command.PASSED.value}
        assert client.post("/scan/test", data=data).status_code == 422
    assert app.folder.store.events.of_kinds(DeviceTested.kind) == ()
    assert app.client(Role.READER).post("/scan/test", data={"code": "x"}).status_code == 403
