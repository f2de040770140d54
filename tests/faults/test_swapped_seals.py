"""Seals swapped, spares used again, numbers twice, a seal that holds nothing: told, nothing lost."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest
from tests.reconcile.conftest import DAY

from pollstead.cli.main import run
from pollstead.election.county import SealRange
from pollstead.election.seal_stock import SealBlock, SealReturn
from pollstead.plan.seals.ledger import LedgerGiven, seal_ledger
from pollstead.plan.seals.trouble import TroubleKind, notice_of
from pollstead.plan.terms.seals import SealEvent, SealStep
from pollstead.plan.terms.version import ExpectedList
from pollstead.reconcile.custody.life import about, life_of
from pollstead.reconcile.issued import issued_lists, lines_of
from pollstead.reconcile.opening.states import DeviceState, ItemState
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds import days, offices
from pollstead.record.write import list_side

LID = "closure/scanner/S01-1/lid"
OTHER_LID = "closure/scanner/S01-2/lid"
SCANNER = "device/scanner/S01-1"
SWAPPED = "9999999"
KIND = "pull-tight seal"


def list_with(listed: ExpectedList, subject: str, number: str) -> ExpectedList:
    """The list with another number on one closure."""
    items = tuple(
        msgspec.structs.replace(i, value=number) if i.subject == subject and i.what == "seal" else i
        for i in listed.items
    )
    return msgspec.structs.replace(listed, items=items)


def amend(case: Any, listed: ExpectedList, before: Any, *people: str) -> Any:
    """Amend the list of a site as an insider would: with a reason, under a name."""
    lines, salt = lines_of(listed), b"s" * 32
    return case.record.write(
        offices.ExpectedAmended(
            replaces=before.event.body["list_digest"],
            list_digest=list_side(lines, salt).digest,
            plan=listed.plan,
        ),
        "site/S01",
        *people,
        private=offices.ExpectedList(lines=lines),
        salt=salt,
    )


def test_a_swapped_seal_with_an_edited_list_shows_the_first_and_every_later_number_with_its_author(
    case: Any,
) -> None:
    """Seal and list are swapped to fit. The number matches; both expected numbers and names are told."""
    first = case.issued.of("S01", DAY)
    issued = case.record.issue(first)
    amend(case, list_with(first, LID, SWAPPED), issued, "P010")
    for person in ("P001", "P002"):
        case.record.seal(LID, SWAPPED, person)
    life = life_of(case.record.fold(), about(case.election, LID))
    expected = [e for e in life.entries if e.expected and e.subject == LID]
    assert [(e.number, e.who(), e.stands) for e in expected] == [
        (case.expected(LID), ("person/P001",), False),
        (SWAPPED, ("person/P010",), True),
    ]
    read = [e for e in life.entries if not e.expected]
    assert [(e.number, e.who()) for e in read] == [(SWAPPED, ("person/P001",)), (SWAPPED, ("person/P002",))]


def test_the_digest_that_was_printed_still_tells_the_two_lists_apart(case: Any) -> None:
    """The digest on the first sheet is of the first list alone; the amended one has another, both signed."""
    first = case.issued.of("S01", DAY)
    issued = case.record.issue(first)
    amended = amend(case, list_with(first, LID, SWAPPED), issued, "P010")
    printed = issued.event.body["list_digest"]
    assert printed == list_side(lines_of(first), _salt(case, issued)).digest
    assert printed != list_side(lines_of(list_with(first, LID, SWAPPED)), _salt(case, issued)).digest
    assert printed != amended.event.body["list_digest"]
    assert amended.event.body["replaces"] == printed
    assert issued.id in {e.id for e in case.record.journal.events}, "the first list is never erased"


def _salt(case: Any, signed: Any) -> bytes:
    """The salt of a list's private part."""
    return bytes.fromhex(json.loads(case.record.journal.sides[signed.event.private].data)["salt"])


def test_a_second_list_by_somebody_who_did_not_know_the_first_is_told(case: Any) -> None:
    """Two desks issue two lists: the later is used, and a notice says that two stand."""
    first = case.issued.of("S01", DAY)
    case.record.issue(first)
    other = type(case.record)("tablet/2")
    other.clock = case.record.clock
    other.issue(list_with(first, LID, SWAPPED))
    case.record.journal.events.extend(other.journal.events)
    case.record.journal.sides.update(other.journal.sides)
    found = issued_lists(case.record.fold())
    assert [n.text.english() for n in found.notices] == [
        "Two expected lists stand for this site and day; the later one is used."
    ]


def test_a_first_reading_that_was_corrected_to_fit_is_still_there_with_both_names(case: Any) -> None:
    """The log of readings is edited: the item matches, the first word stands beside it with its author."""
    wrong = case.record.seal(LID, SWAPPED, "P001")
    case.record.seal(LID, case.expected(LID), "P002")
    assert case.item(LID).state is ItemState.VALUE_DIFFERS
    case.record.correct(
        wrong,
        days.SealSeen(step="opening", state="intact"),
        "P002",
        fields=_number(case.expected(LID)),
    )
    item = case.item(LID)
    values = [(o.value, o.entered_by, o.stands) for o in item.observations]
    assert (SWAPPED, ("person/P001",), False) in values
    assert (case.expected(LID), ("person/P002",), True) in values
    assert len(values) == 3


def _number(number: str) -> FrozenObject:
    """The private part of a seal's reading."""
    return FrozenObject({"number": number})


def test_a_spare_that_was_put_on_and_is_missing_from_the_bag_is_told_by_number() -> None:
    """Ten spares went out, eight came back: the two in the gap are told, and not in the notice's key."""
    blocks = (SealBlock(site="S01", seal_kind=KIND, first="0100", last="0109"),)
    back = (
        SealReturn(site="S01", seal_kind=KIND, first="0100", last="0103"),
        SealReturn(site="S01", seal_kind=KIND, first="0106", last="0109"),
    )
    ranges = (SealRange(seal_kind=KIND, series="LM-A", first="0001", last="0400"),)
    ledger = seal_ledger(LedgerGiven(ranges=ranges, blocks=blocks, returns=back))
    (gone,) = [t for t in ledger.troubles if t.kind is TroubleKind.NOT_RETURNED]
    assert (gone.first, gone.last, gone.count, gone.where) == ("0104", "0105", 2, "S01")
    assert "0104" not in notice_of(gone).key + notice_of(gone).text.english()
    # One of them turns up on a closure: then it is used, and the other alone is missing.
    used = SealEvent(number="0104", step=SealStep.READ, seal_kind=KIND, place=OTHER_LID, utc_ms=5)
    ledger = seal_ledger(LedgerGiven(ranges=ranges, blocks=blocks, returns=back, events=(used,)))
    assert [(t.first, t.last) for t in ledger.troubles if t.kind is TroubleKind.NOT_RETURNED] == [
        ("0105", "0105")
    ]


def test_a_spare_that_came_back_and_is_seen_on_a_closure_is_told() -> None:
    """Returned by number, then used again: a trouble of its own that names the closure."""
    used = SealEvent(number="0104", step=SealStep.READ, seal_kind=KIND, place=LID, utc_ms=5)
    ledger = seal_ledger(
        LedgerGiven(
            ranges=(SealRange(seal_kind=KIND, series="LM-A", first="0001", last="0400"),),
            returns=(SealReturn(site="S01", seal_kind=KIND, first="0104", last="0104"),),
            events=(used,),
        )
    )
    assert [(t.kind, t.where) for t in ledger.troubles] == [(TroubleKind.RETURNED_USED, LID)]


def test_a_number_that_two_orders_hold_is_recorded_twice_flagged_and_kind_and_series_are_asked() -> None:
    """Two orders with one number, both on closures: two series told, two closures told, neither refused."""
    events = tuple(
        SealEvent(number="0104", step=SealStep.READ, seal_kind=KIND, place=place, utc_ms=5)
        for place in (LID, OTHER_LID)
    )
    ledger = seal_ledger(
        LedgerGiven(
            ranges=(
                SealRange(seal_kind=KIND, series="LM-A", first="0001", last="0400"),
                SealRange(seal_kind=KIND, series="LM-B", first="0101", last="0150"),
            ),
            events=events,
        )
    )
    found = {t.kind: t for t in ledger.troubles}
    assert found[TroubleKind.TWO_SERIES].count == 50
    twice = notice_of(found[TroubleKind.USED_TWICE])
    assert LID in twice.text.english() and OTHER_LID in twice.text.english()
    assert twice.remedy is not None
    assert "kind and series" in twice.remedy.english()
    assert "both entries stay" in twice.remedy.english()


def test_one_number_on_two_closures_of_a_site_keeps_both_readings_and_asks(case: Any) -> None:
    """The expected number is read on the lid and on another lid: seen twice, both kept, kind and series."""
    mine = case.expected(LID)
    for person in ("P001", "P002"):
        case.record.seal(LID, mine, person)
        case.record.seal(OTHER_LID, mine, person)
    item = case.item(LID)
    assert item.state is ItemState.SEEN_TWICE
    assert item.explanation is not None
    assert item.explanation.english().endswith("Write down kind and series of both seals.")
    assert len(case.item(OTHER_LID).observations) == 2


@pytest.mark.parametrize(
    ("state", "says"),
    [
        ("closure_opens", "The number is the one expected; the closure opens although the seal is whole."),
        ("not_intact", "The number is the one expected; the seal is not whole."),
    ],
)
def test_a_matching_number_on_a_closure_that_opens_is_a_difference_of_its_own(
    case: Any, state: str, says: str
) -> None:
    """Threaded wrong: the number matches, the lid opens. Told, the device waits, and the number stays."""
    for person in ("P001", "P002"):
        case.record.seal(LID, case.expected(LID), person, state=state)
    item = case.item(LID)
    assert item.state is ItemState.VALUE_DIFFERS
    assert item.values == (f"{case.expected(LID)} {state.replace('_', ' ')}",)
    assert item.explanation is not None and item.explanation.english() == says
    assert item.notice is not None and item.notice.wanted == case.expected(LID)
    device = next(d for d in case.site().devices if d.device == SCANNER)
    assert device.state is not DeviceState.READY


def test_one_of_two_who_says_that_the_closure_opens_is_enough(case: Any) -> None:
    """One reads whole, the other pulls and it opens: a difference, both words kept."""
    case.record.seal(LID, case.expected(LID), "P001")
    case.record.seal(LID, case.expected(LID), "P002", state="closure_opens")
    item = case.item(LID)
    assert item.state is ItemState.VALUE_DIFFERS
    assert {o.state for o in item.observations} == {"intact", "closure_opens"}


def test_the_seals_for_a_second_look_are_drawn_by_lot_and_told_without_numbers(
    planned: Path, said_by: Callable[..., str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Seven closures by digits thrown in public, the same each time, no number; a short lot is refused."""
    told = said_by("stock", planned, "--lot", "402718", "--looks", "7")
    assert len([line for line in told.splitlines() if "closure/" in line]) == 7
    rows = (planned / "closure_seals.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert not [row for row in rows if row.rpartition(",")[2] in told]
    assert said_by("stock", planned, "--lot", "402718", "--looks", "7") == told
    assert run(["stock", str(planned), "--lot", "12"]) == 1
    assert "6 digits or more" in capsys.readouterr().err
