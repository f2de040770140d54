"""Receiving tables and Not back yet as pages: scans, words, two tables, other sites, receipt, roles."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
from tests.once import copied
from tests.web.conftest import App, issue_all

from pollstead.show.web.capabilities import Role
from pollstead.show.web.day import issued
from pollstead.show.web.pages import receiving_acts

DAY = "2028-11-07"
NIGHT_MS = 1_857_790_000_000  # 2028-11-07 some time after closing
TABLE = {"table": "1", "day": DAY, "second": "P012"}


@pytest.fixture(scope="module")
def night(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The small county on closing night, lists issued; shared, so each test uses things of its own."""

    app = App(copied(planned, tmp_path_factory.mktemp("night") / "county"))
    app.folder.clock = lambda: NIGHT_MS
    issue_all(app.folder)
    yield app
    app.folder.close()


def memory_ids(app: App, site: str) -> list[str]:
    """The memory devices of a site that must travel, as the page names them."""
    page = app.client(Role.HELPER).get(f"/receiving?table=1&site={site}&day={DAY}").text
    return list(dict.fromkeys(re.findall(r'name="thing" value="memory/([^"]+)"', page)))


def scan(client: Any, code: str, **more: str) -> Any:
    """One scan at a table."""
    return client.post("/receiving", data={**TABLE, "do": "scan", "code": code, **more})


def received(app: App, thing: str) -> list[str]:
    """The places that a thing was received at, as the record stands."""
    return [
        str(reading.value["place"])
        for fact in app.folder.fold().of_subject(thing)
        if fact.name == "thing.received"
        for reading in fact.current
    ]


def test_a_scan_takes_a_thing_in_and_undo_takes_it_back(night: App) -> None:
    """One code and Enter: received with two people; the same scan again writes nothing; undo withdraws."""
    client = night.client(Role.HELPER)
    memory = memory_ids(night, "S01")[0]
    taken = scan(client, memory, giver="P001", seals="intact")
    assert taken.status_code == 200 and "is taken in for" in taken.text
    assert received(night, f"memory/{memory}") == ["receiving/1"]
    fact = next(f for f in night.folder.fold().of_subject(f"memory/{memory}") if f.name == "thing.received")
    parts = {(p.person, p.part.value) for p in fact.current[0].people}
    assert parts == {
        ("person/P010", "author"),
        ("person/P010", "receiver"),
        ("person/P012", "second"),
        ("person/P001", "giver"),
    }
    assert "here already" in scan(client, memory).text
    assert received(night, f"memory/{memory}") == ["receiving/1"]
    event = re.search(r'name="event" value="([0-9a-f]{16})"', taken.text)
    assert event
    undone = client.post("/receiving", data={**TABLE, "do": "undo", "event": event[1]})
    assert undone.status_code == 303 and "Taken back" in client.get(undone.headers["location"]).text
    assert received(night, f"memory/{memory}") == []


def test_a_thing_of_another_site_is_taken_in_and_its_true_site_named(night: App) -> None:
    """At a table that has S02 open, a memory device of S01 is never refused: it goes to S01 and is told."""
    memory = memory_ids(night, "S01")[-1]
    page = scan(night.client(Role.HELPER), memory, site="S02").text
    assert "It is taken in for that site; tell both leads:" in page and "Ansel Civic Hall" in page
    assert "Ida Fenwright" in page and "Wren Castellan" in page
    assert received(night, f"memory/{memory}") == ["receiving/1"]


def test_who_brought_one_site_does_not_bring_the_next(night: App) -> None:
    """The giver stays while a site is open and goes with it, by a card or by another site's code."""
    client = night.client(Role.HELPER)
    field = 'name="giver" value="P001"'
    assert field in scan(client, "S01", giver="P001").text
    assert field in scan(client, "S01", site="S01", giver="P001").text
    assert field not in scan(client, "S02", site="S01", giver="P001").text
    assert field not in scan(client, "=NEXT=ONE=PLEASE=", site="S01", giver="P001").text


def test_a_machine_in_the_wrong_cart_names_its_site(night: App) -> None:
    """A machine of S01 that came with the things of S36 is told by its serial, whatever it lay in."""
    version = night.folder.current()
    assert version is not None
    part = next(p for s in version.site("S01").stations for p in s.parts if p.serial and not p.memory_devices)
    page = scan(night.client(Role.HELPER), part.serial, site="S36").text
    assert "S01 Ansel Civic Hall" in page and "tell both leads" in page and "Sunniva Hale" in page
    assert received(night, part.device) == ["receiving/1"]


def test_two_tables_with_one_thing_are_both_shown(night: App) -> None:
    """The forms of a site come in at table 1 and at table 2: both stand, and both tables say so."""
    client = night.client(Role.HELPER)
    scan(client, "FORMS-S02")
    second = client.post(
        "/receiving",
        data={"table": "2", "day": DAY, "second": "P011", "do": "scan", "code": "forms-s02", "site": "S02"},
    )
    assert "Both stay until somebody says more." in second.text
    assert "Two tables say they have it." in second.text


def test_a_code_that_nothing_has_is_told_and_can_be_taken_in_as_it_is(night: App) -> None:
    """A wrong letter is answered with the code that is near; the typed text stays; nothing is refused."""
    client = night.client(Role.WAREHOUSE, "person/P011")
    memory = memory_ids(night, "S36")[0]
    wrong = scan(client, memory[:-1] + "Q")
    assert wrong.status_code == 422 and memory[:-1] + "Q" in wrong.text
    anyway = scan(client, "BLUE-BAG-9", other="yes", site="S36")
    assert anyway.status_code == 200 and "It is on no list." in anyway.text
    assert received(night, "other/BLUE-BAG-9") == ["receiving/1"]


def test_a_seal_scanned_at_a_table_is_named_to_whoever_may_see_seals(night: App) -> None:
    """The warehouse is told which closure has it; a helper, who enters readings, what the code is like."""
    item = next(
        i for i in issued(night.folder).lists[0].items if i.what == "seal" and i.value.isdigit() and i.private
    )
    known = scan(night.client(Role.WAREHOUSE), item.value)
    assert known.status_code == 422 and f"It belongs to {item.words}" in re.sub(r"<[^>]+>", "", known.text)
    helper = scan(night.client(Role.HELPER), item.value)
    assert helper.status_code == 422 and item.words not in helper.text
    memory = memory_ids(night, "S02")[0]
    near = scan(night.client(Role.HELPER), memory[:-1] + "#").text
    assert f"It is close to {memory}" in re.sub(r"<[^>]+>", "", near)


def test_nobody_receives_alone(night: App) -> None:
    """Without a second person, or with oneself as the second, nothing is written."""
    client = night.client(Role.HELPER)
    for second in ("", "P010"):
        assert scan(client, "KEYS-S36", second=second).status_code == 422
    assert not [f for f in night.folder.fold().named("thing.received") if f.subject.startswith("keys/S36")]


def test_a_witness_is_asked_for_where_the_rule_says_so(night: App, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the rule nothing is received without a third name; with it the witness stands in the event."""
    monkeypatch.setattr(receiving_acts, "witness_wanted", lambda evening: True)
    client = night.client(Role.HELPER)
    assert scan(client, "KEYS-S01").status_code == 422
    assert scan(client, "KEYS-S01", witness="P012").status_code == 422, "the second person is no witness"
    assert scan(client, "KEYS-S01", witness="P011").status_code == 200
    fact = next(f for f in night.folder.fold().named("thing.received") if f.subject.startswith("keys/S01"))
    assert ("person/P011", "witness") in {(p.person, p.part.value) for p in fact.current[0].people}
    client.post("/receiving", data={**TABLE, "do": "undo"})


def test_what_is_said_of_a_missing_thing_stands_on_both_pages(night: App) -> None:
    """A memory device that travels inside its machine: the page of the table and Not back yet both say it."""
    client = night.client(Role.HELPER)
    memory = memory_ids(night, "S36")[0]
    said = {**TABLE, "site": "S36", "do": "word", "thing": f"memory/{memory}", "word": "not_found"}
    assert "what was said of it is written down" in client.post("/receiving", data=said).text
    page = client.get(f"/not-back?day={DAY}").text
    assert memory in page and "not found" in page


def test_seals_of_the_case_are_compared_with_the_statement(night: App) -> None:
    """The same two numbers in another order match; another number differs and nobody is told to open."""
    client = night.client(Role.HELPER)
    form = {**TABLE, "site": "S01", "do": "seals"}
    first = client.post("/receiving", data={**form, "seals-case": "0048211 0048212"})
    assert "Not compared yet" in first.text
    same = client.post("/receiving", data={**form, "seals-statement": "0048212 0048211"})
    assert "value differs" not in same.text and "match" in same.text
    other = client.post("/receiving", data={**form, "seals-statement": "0048212 0048219"})
    assert "value differs" in other.text and "Open nothing" in other.text
    there = {**TABLE, "site": "S02", "do": "seals", "seals-case": "0048213", "seals-statement": "0048231"}
    near = client.post("/receiving", data=there).text
    assert "Two neighbors changed places at positions 6 and 7: 31 read as 13." in re.sub(r"<[^>]+>", "", near)


def test_the_receipt_lists_what_was_received_and_what_is_not(night: App) -> None:
    """The PDF names every thing; the event holds the same two lists."""
    client = night.client(Role.HELPER)
    scan(client, "BALLOTS-S01")
    pdf = client.post("/receiving/receipt", data={**TABLE, "site": "S01"})
    assert pdf.status_code == 200 and pdf.content.startswith(b"%PDF")
    given = night.folder.fold().of_subject("site/S01")
    reading = next(f for f in given if f.name == "receipt.given").current[0]
    assert "ballots/S01/1107" in reading.value["received"] and "keys/S01/1107" in reading.value["missing"]
    assert not set(reading.value["received"]) & set(reading.value["missing"])


def test_a_call_and_two_who_fetch_are_written_down(night: App) -> None:
    """A call about the thing stands beside the person; one person twice is refused; two are named."""
    client = night.client(Role.CLERK, "person/P012")
    thing = {"thing": "keys/S02/1107", "day": DAY}
    called = client.post(
        "/not-back", data={**thing, "do": "call", "person": "P003", "result": "left_message", "words": ""}
    )
    assert called.status_code == 303 and "left a message" in client.get(called.headers["location"]).text
    alone = client.post("/not-back", data={**thing, "do": "fetch", "first": "P011", "second": "P011"})
    assert alone.status_code == 422 and "Two people fetch a thing" in alone.text
    two = client.post(
        "/not-back", data={**thing, "do": "fetch", "first": "P012", "second": "P011", "by": "24:20"}
    )
    page = client.get(two.headers["location"]).text
    assert two.status_code == 303 and "fetched by" in page and "Caspian Dole" in page


@pytest.mark.parametrize(
    ("role", "person", "names", "phones", "writes"),
    [
        (Role.HELPER, "person/P010", True, True, True),
        (Role.WAREHOUSE, "person/P011", False, False, True),
        (Role.READER, "person/P010", False, False, False),
    ],
)
def test_names_and_phones_only_for_roles_that_need_them(
    night: App, role: Role, person: str, names: bool, phones: bool, writes: bool
) -> None:
    """The list stands for all; names, phones and taking things in do not."""
    client = night.client(role, person)
    page = client.get(f"/not-back?day={DAY}").text
    assert ("Wren Castellan" in page) is names and ("555-0112" in page) is phones
    sent = client.post("/receiving", data={**TABLE, "do": "scan", "code": "S01", "second": "P003"})
    assert (sent.status_code != 403) is writes


def test_an_early_night_says_what_comes_back_and_what_stays(night: App) -> None:
    """While early voting goes on, devices that stand there again stay; on election night nothing stays."""
    page = night.client(Role.HELPER).get("/not-back?day=2028-11-05").text
    tonight = page.split('id="tonight"')[1].split("</table>")[0]
    assert "S36" in tonight and "S01" not in tonight and "closing forms" in tonight
    assert re.search(r"[1-9][0-9]*(</bdi>)? devices", tonight) and "2028-11-07" in tonight
    assert 'id="tonight"' not in night.client(Role.HELPER).get(f"/not-back?day={DAY}").text


@pytest.mark.full
def test_two_people_are_sent_with_a_slip_that_says_what_to_bring(night: App) -> None:
    """The slip names thing, machine, site, both people and time; phones only where the role sees them."""
    client = night.client(Role.HELPER)
    memory = memory_ids(night, "S02")[-1]
    form = {"day": DAY, "thing": f"memory/{memory}", "do": "fetch", "first": "P011", "second": "P010"}
    assert client.post("/not-back", data=form | {"by": "24:20"}).status_code == 303
    answer = client.get("/not-back/slip", params={"day": DAY, "thing": f"memory/{memory}"})
    assert answer.content.startswith(b"%PDF")
    done = subprocess.run(
        ["pdftotext", "-layout", "-", "-"], input=answer.content, capture_output=True, check=True
    )
    page = done.stdout.decode()
    for words in (
        memory,
        "S02 Harbor Lane Library",
        "Caspian Dole, Marit Ostrander",
        "2028-11-08 00:20",
        "555-0112",
    ):
        assert words in page, words
    assert night.client(Role.WAREHOUSE).get("/not-back/slip", params={"day": DAY}).status_code == 403
    gone = client.get("/not-back/slip", params={"day": DAY, "thing": "memory/none"})
    assert gone.status_code == 404
