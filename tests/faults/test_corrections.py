"""A past fact that somebody edits to fix it: a correcting event, both visible, a reason, and a count."""

from __future__ import annotations

from typing import Any

import pytest

from pollstead.reconcile.custody.life import about, life_of, with_reasons
from pollstead.record.event import read_side
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds import days
from pollstead.record.kinds.registry import KINDS
from pollstead.store.events import Events

SCANNER = "device/scanner/S01-1"
TERM = "public_counter_close"


def test_a_correction_without_a_reason_is_not_written(case: Any) -> None:
    """No reason, no correction: nothing is recorded."""
    wrong = case.record.number(SCANNER, TERM, 412, "P001")
    before = len(case.record.journal.events)
    body = days.EntryCorrected(corrects=wrong.id, of_kind="count.read", value=FrozenObject())
    with pytest.raises(ValueError, match="private part"):
        case.record.write(body, SCANNER, "P010")
    assert len(case.record.journal.events) == before
    assert KINDS["entry.corrected"].private_required


def test_the_past_is_never_rewritten_and_both_words_are_told_with_the_reason(case: Any) -> None:
    """The first event keeps its bytes and signature; what stands, what stood, by whom and why are shown."""
    wrong = case.record.number(SCANNER, TERM, 412, "P001")
    bytes_before = (wrong.data, wrong.signature)
    right = days.CountRead(term=TERM, value=421, source="screen")
    mended = case.record.correct(wrong, right, "P010")
    kept = next(e for e in case.record.journal.events if e.id == wrong.id)
    assert (kept.data, kept.signature) == bytes_before
    sides = {digest: read_side(side) for digest, side in case.record.journal.sides.items()}
    life = with_reasons(life_of(case.record.fold(), about(case.election, SCANNER)), sides)
    told = [(e.said_of("value"), e.who(), e.stands, e.reason) for e in life.entries]
    assert told == [
        ("412", ("person/P001",), False, ""),
        ("421", ("person/P010",), True, "read again"),
    ]
    assert life.entries[0].replaced_by == (mended.id,)


def test_a_report_counts_what_was_corrected_and_what_was_taken_back(case: Any) -> None:
    """Two of three entries are mended, one of them without another value: two corrections, all five shown."""
    entries = [case.record.number(SCANNER, TERM, 410 + n, "P001") for n in range(3)]
    case.record.correct(entries[0], days.CountRead(term=TERM, value=420, source="screen"), "P002")
    case.record.correct(entries[1], None, "P002")
    site = case.site()
    assert [(o.corrects, o.withdrawn) for o in site.corrections()] == [
        (entries[0].id, False),
        (entries[1].id, True),
    ]
    assert len([o for o in site.seen() if o.detail == TERM or o.corrects]) == 5
    assert case.site("S02").corrections() == ()


def test_a_mended_correction_counts_again_and_all_three_stay(case: Any) -> None:
    """The correction was wrong too: it is corrected, never edited."""
    wrong = case.record.number(SCANNER, TERM, 412, "P001")
    first = case.record.correct(wrong, days.CountRead(term=TERM, value=421, source="screen"), "P010")
    second = days.EntryCorrected(
        corrects=first.id,
        of_kind="count.read",
        value=FrozenObject({"term": TERM, "value": 422, "source": "screen"}),
    )
    case.record.write(second, SCANNER, "P010", private=days.CorrectionPrivate(reason="typed once more"))
    seen = [(o.number, o.stands) for o in case.site().seen() if o.detail == TERM]
    assert seen == [(412, False), (421, False), (422, True)]
    assert len(case.site().corrections()) == 2


def test_the_store_offers_no_way_to_change_or_drop_an_event() -> None:
    """What keeps events can add and read; nothing that it offers updates or deletes."""
    offered = {name for name in dir(Events) if not name.startswith("_")}
    assert not {n for n in offered if n.startswith(("update", "delete", "remove", "replace", "edit", "set"))}
