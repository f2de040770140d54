"""Seal stock, tests and seals by two people: what the pages take, refuse, show and write through."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

from pollstead.record.kinds.stocks import ClosureSealed, DeviceTested, IssuedAnyway, SealVoided, StockReceived
from pollstead.show.web.capabilities import Role

ONE, TWO = "person/P011", "person/P012"
DEVICE = "device/scanner/0001"
LID = "closure/scanner/0001/lid"
BOX = {
    "do": "receive",
    "seal_kind": "pull-tight seal",
    "series": "LM-A",
    "first": "0048501",
    "last": "0048600",
    "quantity": "100",
    "counted": "100",
    "received": "2028-09-01",
    "second": "Linnea Thackeray-Voss",
}


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    """The rows of a table."""
    with (folder / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def kept(app: Any, kind: type[Any]) -> int:
    """How many events of a kind the record holds."""
    return len(app.folder.store.events.of_kinds(kind.kind))


@pytest.fixture
def bare(county: Path, app_of: Any) -> Any:
    """The app around a county in which no number of scanner 1 is in the table yet."""
    lines = (county / "closure_seals.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (county / "closure_seals.csv").write_text(
        "".join(line for line in lines if not line.startswith(DEVICE + ",")), encoding="utf-8"
    )
    return app_of(county)


def test_a_box_that_came_in_stands_in_record_and_tables(app: Any, county: Path) -> None:
    """One form: an event with two people, a receipt row counted by both, and the range."""
    client = app.client(Role.WAREHOUSE, ONE)
    answer = client.post("/stock", data=BOX)
    assert answer.status_code == 303, answer.text[answer.text.index("another look") - 200 :][:600]
    assert answer.headers["location"] == "/stock?done=receive"
    [receipt] = rows(county, "seal_receipts.csv")
    assert (receipt["id"], receipt["counted_by"], receipt["counted"]) == ("R-1", "P011 P012", "100")
    assert rows(county, "seal_ranges.csv")[-1]["last"] == "0048600"
    [event] = app.folder.store.events.of_kinds(StockReceived.kind)
    assert [p.person for p in event.event.people] == [ONE, TWO]
    assert "0048501" not in str(event.event.body)
    page = client.get("/stock").text
    assert "0048501" in page and "R-1" in page


BAD = (
    ({"last": "48600"}, "first"),
    ({"second": ""}, "second"),
    ({"second": "P011"}, "second"),
    ({"second": "Nobody Known"}, "second"),
    ({"counted": "many"}, "counted"),
    ({"id": "R 1"}, "id"),
    ({"seal_kind": ""}, "seal_kind"),
)


def test_a_form_that_does_not_fit_is_told_and_kept(app: Any, county: Path) -> None:
    """The fault stands at its field, what was typed stays, and nothing is written."""
    client = app.client(Role.WAREHOUSE, ONE)
    for change, field in BAD:
        answer = client.post("/stock", data=BOX | change)
        assert answer.status_code == 422, change
        assert f'href="#{field}"' in answer.text and 'value="LM-A"' in answer.text, change
    assert not (county / "seal_receipts.csv").exists() and kept(app, StockReceived) == 0


def test_a_void_seal_is_told_by_kind_and_never_free_again(app: Any, county: Path) -> None:
    """A lost seal leaves the store by an event whose number is private."""
    client = app.client(Role.WAREHOUSE, ONE)
    form = {
        "do": "void",
        "void_kind": "wire seal",
        "number": "0310007",
        "why": "lost",
        "reason": "not in the box",
        "void_second": "P012",
    }
    assert client.post("/stock", data=form).status_code == 303
    assert [r["number"] for r in rows(county, "seal_voids.csv")] == ["0310007"]
    [event] = app.folder.store.events.of_kinds(SealVoided.kind)
    assert "0310007" not in str(event.event)
    assert client.post("/stock", data=form).status_code == 422


def test_seal_numbers_of_the_stock_are_hidden_from_other_roles(app: Any) -> None:
    """A reader sees how many, no number; and may change nothing."""
    app.client(Role.WAREHOUSE, ONE).post("/stock", data=BOX)
    reader = app.client(Role.READER)
    page = reader.get("/stock")
    assert page.status_code == 200 and "0048501" not in page.text and "004" not in page.text
    assert reader.post("/stock", data=BOX).status_code == 403
    assert reader.get("/tests/check?field=x&number=1").status_code == 403


def seals(client: Any, lid: str, door: str, **more: str) -> Any:
    """Send what one person read on scanner 1."""
    data = {"do": "seals", "device": DEVICE, "seal-1": door, "seal-2": lid, **more}
    return client.post("/tests/S01", data=data)


def test_two_people_read_apart_and_what_matched_is_in_the_table(bare: Any) -> None:
    """The second sees nothing of the first; both the same: in closure_seals.csv, as a change by both."""
    first, second = bare.client(Role.WAREHOUSE, ONE), bare.client(Role.WAREHOUSE, TWO)
    assert seals(first, "0048301", "0048302").status_code == 303
    before = second.get(f"/tests/S01?device={DEVICE}").text
    assert "0048301" not in before and "seal read by one person" in before
    assert 'name="seal-1"' in before
    own = first.get(f"/tests/S01?device={DEVICE}").text
    assert "0048301" in own and 'name="seal-1"' not in own
    answer = seals(second, "0048301", "0048302")
    assert answer.status_code == 200 and "matched" in answer.text
    found = {
        r["closure"]: r["number"]
        for r in rows(bare.folder.path, "closure_seals.csv")
        if r["device"] == DEVICE
    }
    assert found == {"memory-door": "0048302", "lid": "0048301"}
    assert kept(bare, ClosureSealed) == 4


def test_different_readings_are_named_and_written_nowhere(bare: Any) -> None:
    """Two numbers for one closure: both stand, the list lacks it, the table stays as it was."""
    seals(bare.client(Role.WAREHOUSE, ONE), "0048301", "0048302")
    answer = seals(bare.client(Role.WAREHOUSE, TWO), "0048310", "0048302")
    assert "two people read different numbers" in answer.text
    found = {
        r["closure"]: r["number"]
        for r in rows(bare.folder.path, "closure_seals.csv")
        if r["device"] == DEVICE
    }
    assert found == {"memory-door": "0048302"}
    # One takes back what was typed wrong and reads again: then both match.
    back = {"do": "back", "device": DEVICE, "position": f"{LID}#1", "back-reason": "mistyped"}
    two = bare.client(Role.WAREHOUSE, TWO)
    assert two.post("/tests/S01", data=back | {"back-reason": ""}).status_code == 422
    assert two.post("/tests/S01", data=back).status_code == 303
    assert (
        two.post("/tests/S01", data={"do": "seals", "device": DEVICE, "seal-2": "0048301"}).status_code == 200
    )
    found = {
        r["closure"]: r["number"]
        for r in rows(bare.folder.path, "closure_seals.csv")
        if r["device"] == DEVICE
    }
    assert found["lid"] == "0048301"


CANNOT_BE = (
    ("0048066", "door over the memory devices, LM-S-0003"),
    ("0099999", "in no range and no receipt"),
    ("0048302", "typed twice"),
    ("?", "as it stands on the seal"),
)


def test_a_number_that_cannot_be_is_told_at_once(bare: Any) -> None:
    """On another scanner, in no stock, twice on the page, no number: kept only once confirmed."""
    client = bare.client(Role.WAREHOUSE, ONE)
    for lid, words in CANNOT_BE:
        answer = seals(client, lid, "0048302")
        assert answer.status_code == 422 and words in answer.text
        if words != "typed twice":
            check = client.get("/tests/check", params={"field": f"{LID}#1", "number": lid})
            assert words in check.text
    assert kept(bare, ClosureSealed) == 0
    assert seals(client, "0099999", "0048302", anyway="yes").status_code == 303
    assert kept(bare, ClosureSealed) == 2


def test_a_check_never_tells_what_the_other_person_typed(bare: Any) -> None:
    """Asking about a number gives the same answer whether or not the first person typed it."""
    second = bare.client(Role.WAREHOUSE, TWO)
    asked = [{"field": f"{LID}#1", "number": n} for n in ("0048301", "0048350")]
    before = [second.get("/tests/check", params=one).text for one in asked]
    seals(bare.client(Role.WAREHOUSE, ONE), "0048301", "0048302")
    assert [second.get("/tests/check", params=one).text for one in asked] == before == ["", ""]


def test_a_test_names_two_people_and_why_it_did_not_pass(app: Any) -> None:
    """Pass needs a second person, fail a reason; a later test takes the place of the earlier.

    The pair's names stand there for the pair and for roles that see names, for nobody else.
    """
    client = app.client(Role.WAREHOUSE, ONE)
    form = {
        "do": "test",
        "device": DEVICE,
        "result": "fail",
        "zero": "zero",
        "counter": "12",
        "second": "P012",
    }
    assert client.post("/tests/S01", data=form).status_code == 422
    assert client.post("/tests/S01", data=form | {"reason": "paper jam"}).status_code == 303
    assert "test not passed" in client.get("/tests/S01").text
    good = form | {"result": "pass", "memory": "LM-M-S0001A LM-M-S0001B"}
    assert client.post("/tests/S01", data=good | {"second": "P011"}).status_code == 422
    assert client.post("/tests/S01", data=good).status_code == 303
    [fact] = app.folder.fold().named(DeviceTested.kind)
    assert [r.value["result"] for r in fact.current] == ["pass"] and len(fact.readings) == 2
    for role, sees in ((Role.WAREHOUSE, True), (Role.HELPER, True), (Role.READER, False)):
        page = app.client(role, "person/P010").get("/tests/S01").text
        assert ("Linnea Thackeray-Voss" in page) is sees, role


def test_a_list_is_issued_anyway_by_a_named_person_with_a_reason(app: Any) -> None:
    """What lacks is named; without a reason nothing is issued, with one it is, and both are recorded."""
    client = app.client(Role.COORDINATOR)
    page = client.get("/site/S01/expected").text
    assert "Something lacks" in page and "LM-S-0001" in page
    plan = app.folder.current_digest()
    form = {"day": "2028-11-07", "plan": plan, "list": ""}
    assert client.post("/site/S01/expected", data=form).status_code == 422
    assert kept(app, IssuedAnyway) == 0
    assert client.post("/site/S01/expected", data=form | {"reason": "tested on paper"}).status_code == 303
    [event] = app.folder.store.events.of_kinds(IssuedAnyway.kind)
    assert DEVICE in event.event.body["devices"] and "paper" not in str(event.event.body)


def test_every_place_of_the_list_of_sites_opens(app: Any) -> None:
    """The overview names each site and the spares; an unknown one is told."""
    client = app.client(Role.READER)
    page = client.get("/tests").text
    for key in ("S01", "S02", "S36", "spares"):
        assert f'href="/tests/{key}"' in page
        assert client.get(f"/tests/{key}").status_code == 200
    assert client.get("/tests/S99").status_code == 404
