"""A seal swapped and the log edited to fit: the list that was issued before keeps the first number."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from tests.web.conftest import ELECTION_DAY

from pollstead.election.canonical import canonical_bytes
from pollstead.record.event import Side, read_side
from pollstead.record.kinds.offices import ExpectedIssued
from pollstead.show.web.day import issued

LID = "closure/scanner/0001/lid"


def number_of(folder: Any) -> str:
    """The number that the list in force expects on the lid of scanner 1."""
    [found] = {
        item.value
        for listed in issued(folder).lists
        if listed.date == ELECTION_DAY
        for item in listed.items
        if item.subject == LID and item.value.isdecimal()
    }
    return str(found)


def test_an_edited_table_changes_nothing_that_was_issued(issued_app: Any, county: Path) -> None:
    """Planted: the table gets the number of another seal after issue. Expected stays what was fixed."""
    folder, before = issued_app.folder, number_of(issued_app.folder)
    table = county / "closure_seals.csv"
    table.write_text(table.read_text(encoding="utf-8").replace(before, "0048999"), encoding="utf-8")
    assert number_of(folder) == before
    assert any(row.number == "0048999" for row in folder.tables_election().closure_seals)


def test_an_edited_list_no_longer_fits_the_digest_that_was_signed(issued_app: Any) -> None:
    """Planted: the number inside the kept list is changed, salt and all else left: another digest."""
    store, before = issued_app.folder.store, number_of(issued_app.folder)
    sides = store.sides.all()
    signed = [s.event for s in store.events.of_kinds(ExpectedIssued.kind)]
    event = next(e for e in signed if before.encode() in sides[e.private].data)
    side = sides[event.private]
    assert event.body["list_digest"] == side.digest
    edited = json.loads(side.data.replace(before.encode(), b"0048999"))
    with pytest.raises(ValueError, match="must have the digest"):
        read_side(Side(digest=side.digest, data=canonical_bytes(edited)))
