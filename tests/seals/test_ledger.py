"""The seal ledger against plain sets of numbers: every number has one life, and what breaks it is named."""

from __future__ import annotations

import datetime as dt
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.county import SealRange
from pollstead.election.seal_stock import SealBlock, SealReceipt, SealReturn, SealVoid
from pollstead.plan.seals.ledger import At, Ledger, LedgerGiven, seal_ledger
from pollstead.plan.seals.spans import both, gaps, joined, size, without
from pollstead.plan.seals.trouble import TroubleKind, notice_of
from pollstead.plan.terms.seals import SealEvent, SealStep

KIND = "wire"
RUNS = st.lists(
    st.tuples(st.integers(0, 60), st.integers(0, 12)).map(lambda r: (r[0], r[0] + r[1])), max_size=6
)


def expand(runs: tuple[tuple[int, int], ...] | list[tuple[int, int]]) -> set[int]:
    """Every number of the runs, one by one."""
    return {n for low, high in runs for n in range(low, high + 1)}


@given(RUNS, RUNS)
def test_runs_are_sets(one: list[tuple[int, int]], other: list[tuple[int, int]]) -> None:
    """Joining, taking away, sharing, gaps and size of runs are those of plain sets."""
    a, b = joined(one), joined(other)
    assert expand(a) == expand(one) and size(a) == len(expand(one))
    assert expand(without(a, other)) == expand(one) - expand(other)
    assert expand(both(a, b)) == expand(one) & expand(other)
    if a:
        assert expand(gaps(a)) == set(range(a[0][0], a[-1][1] + 1)) - expand(one)


def number(value: int) -> str:
    """A number of the invented series."""
    return f"{value:04d}"


def row(low: int, high: int) -> dict[str, Any]:
    """First and last of a run as a table has them."""
    return {"seal_kind": KIND, "first": number(low), "last": number(high)}


@given(
    RUNS, RUNS, RUNS, RUNS, st.sets(st.integers(0, 80), max_size=9), st.sets(st.integers(0, 80), max_size=9)
)
def test_the_ledger_is_set_arithmetic(
    ranges: list[tuple[int, int]],
    receipts: list[tuple[int, int]],
    blocks: list[tuple[int, int]],
    returns: list[tuple[int, int]],
    used: set[int],
    void: set[int],
) -> None:
    """Void, else on a closure, else in a bag, else in the store: exactly what sets say, and nothing twice."""
    ledger = seal_ledger(
        LedgerGiven(
            ranges=tuple(SealRange(series="LM-W", **row(*r)) for r in ranges),
            receipts=tuple(SealReceipt(id=str(i), series="LM-W", **row(*r)) for i, r in enumerate(receipts)),
            blocks=tuple(SealBlock(site="A", **row(*r)) for r in blocks),
            returns=tuple(SealReturn(**row(*r)) for r in returns),
            voids=tuple(SealVoid(seal_kind=KIND, number=number(n), reason="lost") for n in void),
            events=tuple(
                SealEvent(number=number(n), step=SealStep.APPLIED, seal_kind=KIND, place=f"closure/{n}")
                for n in used
            ),
        )
    )
    came = expand(ranges) | expand(receipts)
    bags = expand(blocks) - expand(returns)
    wanted = {
        At.VOID: came & void,
        At.CLOSURE: (came & used) - void,
        At.BAG: (came & bags) - used - void,
        At.STORE: came - bags - used - void,
    }
    for at, numbers in wanted.items():
        found = [(s.low, s.high) for s in ledger.stretches if s.at is at]
        assert expand(found) == numbers and size(found) == len(numbers)
    line = ledger.line(KIND)
    if line is not None:
        assert line.received == line.store + line.bag + line.closure + line.void == len(came)
        assert line.outside == len((used | void) - came)
    told = {t.kind: 0 for t in ledger.troubles}
    for trouble in ledger.troubles:
        told[trouble.kind] += trouble.count
    assert told.get(TroubleKind.OUTSIDE, 0) == len((used | void) - came)
    assert told.get(TroubleKind.VOID_USED, 0) == len(used & void)
    assert told.get(TroubleKind.RETURNED_USED, 0) == len(used & expand(returns))
    holes = set(range(min(came), max(came) + 1)) - came if came else set()
    assert told.get(TroubleKind.GAP, 0) == len(holes)


def of(kind: TroubleKind, given_rows: LedgerGiven) -> list[tuple[str, str, int]]:
    """First, last and count of each trouble of one kind."""
    found: Ledger = seal_ledger(given_rows)
    return [(t.first, t.last, t.count) for t in found.troubles if t.kind is kind]


def receipt(name: str, first: str, last: str, series: str = "LM-W", **more: object) -> SealReceipt:
    """A receipt of the invented kind, counted by two."""
    fields: dict[str, object] = {"counted_by": ("P1", "P2"), **more}
    return SealReceipt(id=name, seal_kind=KIND, series=series, first=first, last=last, **fields)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("quantity", "told"), [(100, []), (99, [("0001", "0100", -1)]), (101, [("0001", "0100", 1)]), (None, [])]
)
def test_a_quantity_that_is_off_by_one_is_named(
    quantity: int | None, told: list[tuple[str, str, int]]
) -> None:
    """0001 to 0100 are last − first + 1 = 100 seals; the box may say 99 or 101."""
    rows = LedgerGiven(receipts=(receipt("R1", "0001", "0100", quantity=quantity),))
    assert of(TroubleKind.QUANTITY, rows) == told


def test_numbers_twice_from_two_orders_are_named() -> None:
    """Two orders of one series share 0091 to 0100; two series with the same numbers are another matter."""
    twice = LedgerGiven(receipts=(receipt("R1", "0001", "0100"), receipt("R2", "0091", "0150")))
    assert of(TroubleKind.DOUBLE, twice) == [("0091", "0100", 10)]
    series = LedgerGiven(receipts=(receipt("R1", "0001", "0100"), receipt("R2", "0091", "0150", "LM-X")))
    assert of(TroubleKind.TWO_SERIES, series) == [("0091", "0100", 10)]
    assert of(TroubleKind.DOUBLE, series) == []


@pytest.mark.parametrize(("one", "other"), [("LM-O", "LM-0"), ("LM-I", "LM-1"), ("LM-B", "LM-8")])
def test_letters_that_look_like_digits_are_named(one: str, other: str) -> None:
    """O and 0, I and 1, B and 8 (common practice, no source; varies by county)."""
    rows = LedgerGiven(
        receipts=(receipt("R1", f"{one}0001", f"{one}0009"), receipt("R2", f"{other}0005", f"{other}0020"))
    )
    assert [count for _, _, count in of(TroubleKind.LOOK_ALIKE, rows)] == [5]
    series = LedgerGiven(receipts=(receipt("R1", "0001", "0009", one), receipt("R2", "0005", "0020", other)))
    assert [count for _, _, count in of(TroubleKind.LOOK_ALIKE, series)] == [5]


def test_a_receipt_counted_by_one_person_is_named() -> None:
    """Two people count (common practice, no source; varies by county); the same one twice is one."""
    rows = LedgerGiven(receipts=(receipt("R1", "0001", "0002", counted_by=("P1", "P1")),))
    assert of(TroubleKind.ONE_COUNTED, rows) == [("", "", 1)]


def test_a_row_that_cannot_be_counted_is_named_and_left_out() -> None:
    """Lost zeros or ends the wrong way round make no range; the rest is counted."""
    rows = LedgerGiven(receipts=(receipt("R1", "1", "0100"), receipt("R2", "0201", "0210")))
    ledger = seal_ledger(rows)
    assert [t.where for t in ledger.troubles if t.kind is TroubleKind.NOT_COUNTED] == ["seal_receipts.csv R1"]
    line = ledger.line(KIND)
    assert line is not None and line.received == 10


def test_one_number_on_two_closures_and_a_reading_after_the_cut_are_named() -> None:
    """Applied to the lid and read at the door is two lives; seen after it was cut is a third."""

    def step(what: SealStep, place: str, at: int) -> SealEvent:
        return SealEvent(number="0005", step=what, seal_kind=KIND, place=place, utc_ms=at, source="record")

    stock = (receipt("R1", "0001", "0009"),)
    fine = (step(SealStep.APPLIED, "closure/a/lid", 1), step(SealStep.READ, "closure/a/lid", 2))
    assert seal_ledger(LedgerGiven(receipts=stock, events=fine)).troubles == ()
    two = (*fine, step(SealStep.READ, "closure/a/door", 3))
    assert of(TroubleKind.USED_TWICE, LedgerGiven(receipts=stock, events=two)) == [("0005", "0005", 1)]
    late = (*fine, step(SealStep.CUT, "closure/a/lid", 3), step(SealStep.READ, "closure/a/lid", 4))
    assert of(TroubleKind.AFTER_CUT, LedgerGiven(receipts=stock, events=late)) == [("0005", "0005", 1)]
    assert of(TroubleKind.AFTER_CUT, LedgerGiven(receipts=stock, events=late[:3])) == []


def test_two_bags_with_one_number_are_named() -> None:
    """A number goes into one bag; two blocks that share it name both sites."""
    rows = LedgerGiven(
        receipts=(receipt("R1", "0001", "0050"),),
        blocks=(SealBlock(site="A", **row(1, 10)), SealBlock(site="B", **row(10, 20))),
    )
    assert of(TroubleKind.TWO_BAGS, rows) == [("0010", "0010", 1)]


def test_no_notice_tells_a_seal_number() -> None:
    """What a resolution signs must not give a number away: key, words and values name none."""
    rows = LedgerGiven(
        receipts=(receipt("R1", "0701", "0780", quantity=79), receipt("R2", "0791", "0799", counted_by=())),
        voids=(SealVoid(seal_kind=KIND, number="0703", reason="lost", date=dt.date(2028, 10, 1)),),
        events=(
            SealEvent(number="0703", step=SealStep.APPLIED, seal_kind=KIND, place="closure/a/lid"),
            SealEvent(number="9999", step=SealStep.APPLIED, seal_kind=KIND, place="closure/a/door"),
        ),
    )
    notices = [notice_of(t) for t in seal_ledger(rows).troubles]
    assert {n.rule for n in notices} == {
        "seal-receipt-quantity",
        "seal-series-gap",
        "seal-receipt-counted",
        "seal-void-but-used",
        "seal-outside-stock",
    }
    told = " ".join(f"{n.key} {n.text.english()} {n.found} {n.wanted} {n.depends}" for n in notices)
    assert not any(text in told for text in ("07", "9999", "0780"))


def test_spares_of_a_bag_that_did_not_come_back_are_named_by_number() -> None:
    """Ten in the bag, two used, one void, five back: the two that are left are told, and only then."""
    bag = SealBlock(site="S01", seal_kind=KIND, first="0001", last="0010")
    used = tuple(
        SealEvent(number=number, step=SealStep.APPLIED, seal_kind=KIND, place=f"closure/s/{number}/lid")
        for number in ("0001", "0002")
    )
    given_ = LedgerGiven(
        ranges=(SealRange(seal_kind=KIND, series="LM-W", first="0001", last="0100"),),
        blocks=(bag,),
        voids=(SealVoid(seal_kind=KIND, number="0003"),),
        events=used,
    )
    assert not [t for t in seal_ledger(given_).troubles if t.kind is TroubleKind.NOT_RETURNED]
    back = SealReturn(seal_kind=KIND, first="0004", last="0008", site="S01")
    told = [
        t
        for t in seal_ledger(msgspec.structs.replace(given_, returns=(back,))).troubles
        if t.kind is TroubleKind.NOT_RETURNED
    ]
    assert [(t.where, t.first, t.last, t.count) for t in told] == [("S01", "0009", "0010", 2)]
    assert "0009" not in notice_of(told[0]).text.english() + notice_of(told[0]).key
    again = SealEvent(number="0005", step=SealStep.READ, seal_kind=KIND, place="closure/s/9/lid")
    kinds = {
        t.kind
        for t in seal_ledger(msgspec.structs.replace(given_, returns=(back,), events=(*used, again))).troubles
    }
    assert TroubleKind.RETURNED_USED in kinds
