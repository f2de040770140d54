"""Counts, returns, blocks, undo, and an act of the stock that a kill stops halfway."""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import Any

import msgspec
import pytest
from tests.web.conftest import ELECTION_DAY
from tests.web.test_stock import BOX, DEVICE, ONE, TWO, kept, rows, seals

from pollstead.cli.check import with_stock
from pollstead.intake.folder import read_folder
from pollstead.record.kinds.days import EntryCorrected
from pollstead.record.kinds.stocks import SealVoided, StockCounted, StockReceived
from pollstead.show.web import fixing
from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import Who
from pollstead.work import fact_waiting
from pollstead.work.facts import own_device, pending
from pollstead.work.stock_acts import half_done

COUNT = {"do": "count", "count_receipt": "R-1", "count_number": "98", "count_second": "P012"}
VOID = {
    "do": "void",
    "void_kind": "wire seal",
    "number": "0310007",
    "why": "lost",
    "reason": "not in the box",
    "void_second": "P012",
}
BLOCK = {
    "do": "block",
    "block_kind": "pull-tight seal",
    "block_site": "S01",
    "block_first": "0048501",
    "block_last": "0048510",
    "block_second": "P012",
}


def test_a_count_that_differs_from_the_book_is_open_until_it_is_taken_back(app: Any) -> None:
    """98 counted, 100 in the book then: told without a number on the page of what is open; undo ends it."""
    client = app.client(Role.WAREHOUSE, ONE)
    client.post("/stock", data=BOX)
    assert client.post("/stock", data=COUNT | {"count_number": "x"}).status_code == 422
    assert client.post("/stock", data=COUNT).status_code == 303
    [event] = app.folder.store.events.of_kinds(StockCounted.kind)
    assert dict(event.event.body) == {"receipt": "R-1", "counted": 98, "book": 100}
    assert [p.person for p in event.event.people] == [ONE, TWO]
    page = app.client(Role.READER).get("/open").text
    assert "the count of the box differs from the book" in page and "0048501" not in page
    undo = {"do": "undo", "undo_act": event.id, "undo_reason": "another box"}
    assert client.post("/stock", data=undo | {"undo_reason": ""}).status_code == 422
    assert client.post("/stock", data=undo).status_code == 303
    assert "the count of the box differs" not in app.client(Role.READER).get("/open").text
    client.post("/stock", data=COUNT | {"count_number": "100"})
    assert "the count of the box differs" not in app.client(Role.READER).get("/open").text


def test_a_block_and_a_return_are_rows_and_can_be_taken_back(app: Any, county: Path) -> None:
    """The bag holds the block, what came back lies in the store again, and undo takes each row out."""
    client = app.client(Role.WAREHOUSE, ONE)
    client.post("/stock", data=BOX)
    assert client.post("/stock", data=BLOCK).status_code == 303
    assert [(r["site"], r["last"]) for r in rows(county, "seal_blocks.csv")] == [("S01", "0048510")]
    back = {k.replace("block", "return"): v.replace("block", "return") for k, v in BLOCK.items()}
    assert client.post("/stock", data=back | {"return_last": ""}).status_code == 303
    assert [(r["first"], r["last"]) for r in rows(county, "seal_returns.csv")] == [("0048501", "0048501")]
    assert client.post("/stock", data=BLOCK | {"block_site": "S99"}).status_code == 422
    page = client.get("/stock").text
    act = page.split('<select id="undo_act"')[1].split('value="')[2].split('"')[0]
    assert client.post(
        "/stock", data={"do": "undo", "undo_act": act, "undo_reason": "typed twice"}
    ).is_redirect
    assert not (county / "seal_returns.csv").exists() and (county / "seal_blocks.csv").exists()


def test_an_act_taken_back_leaves_no_void_seal(app: Any, county: Path) -> None:
    """Undo removes the row and withdraws the entry: the seal is in the store again."""
    client = app.client(Role.WAREHOUSE, ONE)
    client.post("/stock", data=VOID)
    change = half_change(app)
    client.post("/stock", data={"do": "undo", "undo_act": change, "undo_reason": "it was found"})
    assert not (county / "seal_voids.csv").exists() and kept(app, EntryCorrected) == 1
    fact = app.folder.fold().named(SealVoided.kind)[0]
    assert all(reading.withdrawn for reading in fact.current)
    assert client.post("/stock", data=VOID).status_code == 303


def half_change(app: Any) -> str:
    """The id of the newest change of facts."""
    return str(app.folder.store.events.of_kinds("facts.changed")[-1].id)


@pytest.mark.parametrize(
    ("form", "kind", "step"), [(BOX, StockReceived, "before entry"), (VOID, SealVoided, "before tables")]
)
def test_a_kill_inside_an_act_is_named_and_ended_at_the_next_start(
    county: Path,
    app_of: Any,
    form: dict[str, str],
    kind: Any,
    step: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Killed between the event, the tables and the act's own entry: nothing is lost, nothing is doubled."""
    child = os.fork()
    if child == 0:

        def die(*_: Any, **__: Any) -> None:
            os.kill(os.getpid(), signal.SIGKILL)

        stop = "fact_writing.replace_tables" if step == "before tables" else "stock_acts.write_second"
        monkeypatch.setattr(f"pollstead.work.{stop}", die)
        app_of(county).client(Role.WAREHOUSE, ONE).post("/stock", data=form)
        os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    app = app_of(county)
    store, device = app.folder.store, own_device(app.folder.store)
    if step == "before tables":
        [waiting] = [one for one in pending(county, store, device) if one.is_open]
        assert "tables do not say it yet" in app.client(Role.READER).get("/open").text
        with app.folder.at_desk(Who(person=ONE, role=Role.COORDINATOR)) as (desk, _, _):
            fact_waiting.finish(county, waiting.change.event, desk=desk)
    assert len(half_done(county, store, device)) == 1 and kept(app, kind) == 0
    assert "begun and not ended" in app.client(Role.READER).get("/open").text
    assert app.folder.end_half_done() == 1
    assert app.folder.end_half_done() == 0 and not half_done(county, store, device)
    [event] = store.events.of_kinds(kind.kind)
    assert [p.person for p in event.event.people] == [ONE, TWO]
    assert event.event.after == (half_change(app),)


def test_check_names_a_gap_in_the_stock_without_a_number(county: Path) -> None:
    """What the ledger notices stands among the notices of the folder too, in words that hold no number."""
    table = county / "seal_ranges.csv"
    before = with_stock(read_folder(county), county)
    head = table.read_text(encoding="utf-8")
    table.write_text(
        head + "pull-tight seal,LM-Z,0090001,0090010\npull-tight seal,LM-Z,0090021,0090030\n",
        encoding="utf-8",
    )
    after = with_stock(read_folder(county), county)
    fresh = {n.rule for n in after.notices} - {n.rule for n in before.notices}
    assert "seal-series-gap" in fresh
    [gap] = [n for n in after.notices if n.rule == "seal-series-gap"]
    assert "0090" not in gap.text.english() + gap.key + str(gap.depends)


def test_numbers_of_a_second_test_stand_beside_the_first_with_their_day(
    app: Any, county: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A device deployed again on election day: its new numbers get rows of their own; the first ones stay."""
    real = fixing.devices_of

    def again(*given: Any) -> Any:
        return tuple(msgspec.structs.replace(d, counts_from=ELECTION_DAY) for d in real(*given))

    monkeypatch.setattr("pollstead.show.web.pages.tests.devices_of", again)
    before = [r for r in rows(county, "closure_seals.csv") if r["device"] == DEVICE]
    for person in (ONE, TWO):
        answer = seals(app.client(Role.WAREHOUSE, person), "0048301", "0048302")
    assert answer.status_code == 200 and "matched" in answer.text
    after = [r for r in rows(county, "closure_seals.csv") if r["device"] == DEVICE]
    fresh = [r for r in after if r["counts_from"]]
    assert [r["number"] for r in after if not r["counts_from"]] == [r["number"] for r in before]
    assert {(r["closure"], r["number"], r["counts_from"]) for r in fresh} == {
        ("memory-door", "0048302", "2028-11-07"),
        ("lid", "0048301", "2028-11-07"),
    }
    assert read_folder(county).faults == ()
