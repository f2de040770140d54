"""Test decks in the app: a report that matches, one that differs and is read again, the chart, the roles."""

from __future__ import annotations

import html
import re
from pathlib import Path
from typing import Any

import msgspec
import pytest

from pollstead.cli.main import run
from pollstead.plan.decks.misread import run_mistakes, with_changes
from pollstead.plan.terms.decks import LINE_WORDS as CELL_WORDS
from pollstead.plan.terms.decks import DeckSet, Line, MistakeKind, Results
from pollstead.reconcile.custody.after_test import counters_after_test
from pollstead.reconcile.decks.runs import DeckBook, DeckState, digest_of_decks
from pollstead.record.kinds.decks import DeckCompared
from pollstead.show.web.capabilities import Role
from pollstead.work.decks import decks_of, results_of

DEVICE = "device/scanner/0001"
HERE = f"/decks/report?device={DEVICE}"
ONE, TWO = "person/P011", "P012"


def decks_of_site(app: Any) -> DeckSet:
    """The decks that the scanner of S01 needs: styles 03, 04 with precinct 002's own, 05."""
    made = decks_of(app.folder.tables_election()).decks
    return made.only(("03", "04", "04/002", "05"))


def form(decks: DeckSet, report: Results, **more: str) -> dict[str, str]:
    """The form as two people would type this report."""
    cells = [total.cell for total in results_of(decks).totals]
    numbers = {f"n{at}": str(report.of(cell)) for at, cell in enumerate(cells)}
    head = {"device": DEVICE, "decks": ",".join(decks.keys), "digest": digest_of_decks(decks), "second": TWO}
    return head | numbers | more


def words_of(page: str) -> str:
    """What a reader sees of a page."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", "", page)).split())


def standing(app: Any) -> DeckState:
    """How the scanner stands now."""
    folder = app.folder
    book = DeckBook(folder.tables_election(), decks_of(folder.tables_election()).decks, folder.fold())
    mine = next(site for site in folder.current().sites if site.site == "S01")
    return next(one for one in book.of_site(mine) if one.device == DEVICE).state


def test_a_report_that_differs_is_read_again_recorded_and_repeated_until_it_matches(app: Any) -> None:
    """Two names swapped: asked for again, then kept with what it may be; the re-run matches."""
    client, decks = app.client(Role.WAREHOUSE, ONE), decks_of_site(app)
    assert standing(app) is DeckState.NOT_READ
    wrong = next(
        with_changes(results_of(decks), one.changes)
        for one in run_mistakes(decks.faces, decks.decks)
        if (one.mistake.kind, one.mistake.contest) == (MistakeKind.SWAPPED, "mayor")
    )
    swapped = form(decks, wrong, before="100", after=str(100 + decks.ballots))
    first = client.post("/decks/report", data=swapped)
    assert first.status_code == 422 and "read it again on the report" in first.text
    assert "Possible explanations" not in first.text
    assert client.post("/decks/report", data=swapped | {"reread": "yes"}).status_code == 303
    [event] = app.folder.store.events.of_kinds(DeckCompared.kind)
    body = event.event.body
    assert body["result"] == "differs" and len(body["cells"]) == 2
    assert [p.person for p in event.event.people] == [ONE, f"person/{TWO}"]
    page = words_of(client.get(HERE).text)
    assert "2 numbers differ" in page and "are swapped" in page and standing(app) is DeckState.DIFFERS
    right = form(
        decks, results_of(decks), before=str(100 + decks.ballots), after=str(100 + 2 * decks.ballots)
    )
    assert "what was done since" in client.post("/decks/report", data=right).text
    assert client.post("/decks/report", data=right | {"reason": "loaded anew"}).status_code == 303
    last = app.folder.store.events.of_kinds(DeckCompared.kind)[-1].event
    assert last.body["result"] == "matched" and last.body["again"] == event.id
    assert standing(app) is DeckState.MATCHED
    assert counters_after_test(app.folder.fold())[DEVICE] == 100 + 2 * decks.ballots


def test_a_lifetime_counter_that_did_not_move_with_the_ballots_is_a_difference(app: Any) -> None:
    """Every total as it must be, but one sheet too few on the counter: named, with both numbers."""
    client, decks = app.client(Role.WAREHOUSE, ONE), decks_of_site(app)
    typed = form(decks, results_of(decks), before="7", after=str(6 + decks.ballots), reread="yes")
    assert client.post("/decks/report", data=typed).status_code == 303
    [event] = app.folder.store.events.of_kinds(DeckCompared.kind)
    assert dict(event.event.body)["cells"] == ("lifetime",)
    assert event.event.body["expected"] == (decks.ballots,)
    assert "Lifetime counter moved by" in client.get(HERE).text


def test_what_is_not_typed_or_not_by_two_people_is_asked_for(app: Any) -> None:
    """A number left out, one that is no number, the same person twice: all told at once, nothing recorded."""
    client, decks = app.client(Role.WAREHOUSE, ONE), decks_of_site(app)
    cells = [total.cell for total in results_of(decks).totals]
    over = next(at for at, cell in enumerate(cells) if cell.line is Line.OVERVOTED)
    typed = form(decks, results_of(decks), second="P011", n2="", n3="x") | {f"n{over}": ""}
    page = client.post("/decks/report", data=typed)
    assert page.status_code == 422 and "3 things need another look" in words_of(page.text)
    assert app.folder.store.events.of_kinds(DeckCompared.kind) == ()
    stale = form(decks, results_of(decks), digest="0" * 64)
    assert client.post("/decks/report", data=stale).status_code == 409


def test_the_list_names_devices_and_decks_and_gives_the_chart_to_those_who_may(app: Any) -> None:
    """Sizes and reasons stand on the page; the chart is a PDF for roles that see expected numbers."""
    reader, warehouse = app.client(Role.READER), app.client(Role.WAREHOUSE, ONE)
    page = reader.get("/decks").text
    assert "still to be compared" in page and "04/002" in page and "different totals" in page
    assert reader.get("/decks/paper").status_code == 403
    assert warehouse.get("/decks/paper?decks=nothing").status_code == 404
    made = warehouse.get("/decks/paper?decks=06")
    assert made.content.startswith(b"%PDF") and made.headers["content-type"] == "application/pdf"
    assert reader.get("/decks/report?device=device/none/1").status_code == 404


def test_the_opening_expects_the_counter_after_the_last_deck(app: Any) -> None:
    """The lifetime counter expected at opening is the one after the decks, not the table's."""
    client, decks = app.client(Role.WAREHOUSE, ONE), decks_of_site(app)
    after = 54_321
    typed = form(decks, results_of(decks), before=str(after - decks.ballots), after=str(after))
    assert str(after) not in client.get("/site/S01/expected").text.replace(",", "")
    assert client.post("/decks/report", data=typed).status_code == 303
    shown = client.get("/site/S01/expected").text.replace(",", "")
    assert str(after) in shown


def test_an_event_says_what_differs_or_that_nothing_does() -> None:
    """A comparison that differs without a number, or matches with one, is refused."""
    good = {"decks": ("03",), "digest": "0" * 64, "ballots": 1, "compared": 2}
    for bad in (
        {"result": "differs"},
        {"result": "matched", "cells": ["a/b"], "expected": [1], "observed": [2]},
    ):
        try:
            msgspec.convert(good | bad, DeckCompared)
        except msgspec.ValidationError as error:
            assert "differs where" in str(error)
        else:
            raise AssertionError(bad)


def test_a_report_filled_in_on_the_command_line_is_recorded_like_one_typed(
    app: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """First matched in the app; then a second report by file differs: told exactly, kept as a re-run."""
    client, decks = app.client(Role.WAREHOUSE, ONE), decks_of_site(app)
    client.post("/decks/report", data=form(decks, results_of(decks)))
    report, folder = tmp_path / "report.csv", str(app.folder.path)
    lines = ["contest,line,choice,count"]
    for total in results_of(decks).totals:
        off = total.cell.id == "bond/choice/1"
        cell = (total.cell.contest, CELL_WORDS[total.cell.line], total.cell.choice, str(total.count + off))
        lines.append(",".join(cell))
    report.write_text("\n".join(lines) + "\n", "utf-8")
    call = ["decks", folder, "--report", str(report), "--device", "LM-S-0001"]
    assert run([*call, "--by", "P011"]) == 1
    assert run([*call, "--by", "P011", "--second", "P012"]) == 1
    assert "say by --reason" in capsys.readouterr().err
    assert run([*call, "--by", "P011", "--second", "P012", "--reason", "read again"]) == 0
    said = capsys.readouterr().out
    assert "Harbor wall bond: Yes: expected 8, observed 9" in said and "The election official decides" in said
    first, last = app.folder.store.events.of_kinds(DeckCompared.kind)
    assert last.event.body["again"] == first.id and last.event.body["cells"] == ("bond/choice/1",)
    assert standing(app) is DeckState.DIFFERS
