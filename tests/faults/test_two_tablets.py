"""Two tablets, or two people, write of one thing: both words are kept with their authors; people choose."""

from __future__ import annotations

import itertools
import random
from typing import Any

import pytest
from tests.reconcile.conftest import DAY, RecordMaker

from pollstead.reconcile.counts.balance import LineState
from pollstead.reconcile.custody.legs import legs_of
from pollstead.reconcile.custody.life import about, life_of, with_reasons
from pollstead.reconcile.custody.places import held_things
from pollstead.reconcile.day import reconcile_day
from pollstead.record.event import read_side
from pollstead.record.fold import Fold, fold
from pollstead.record.kinds import days

SCANNER, LID = "device/scanner/S01-1", "closure/scanner/S01-1/lid"
TERM = "public_counter_close"


@pytest.fixture
def tablets(case: Any) -> tuple[RecordMaker, RecordMaker]:
    """Two tablets that have not met: the second one's clock is ten minutes behind."""
    one, two = RecordMaker("tablet/1"), RecordMaker("tablet/2")
    two.clock -= 600_000
    two.count = 1000
    return one, two


def merged(tablets: tuple[RecordMaker, ...], order: random.Random | None = None) -> Fold:
    """The fold of what both wrote, in whatever order it came together."""
    events = list(itertools.chain.from_iterable(tablet.journal.events for tablet in tablets))
    if order is not None:
        order.shuffle(events)
    return fold(events, fields_of(tablets))


def fields_of(tablets: tuple[RecordMaker, ...]) -> dict[str, Any]:
    """Private parts of both tablets by digest."""
    return {d: read_side(side) for tablet in tablets for d, side in tablet.journal.sides.items()}


def site(case: Any, folded: Fold) -> Any:
    """The site's day by a fold."""
    return reconcile_day(case.election, case.plan, case.issued, folded, DAY).site("S01")


def counts(case: Any, folded: Fold) -> list[tuple[int, tuple[str, ...], bool]]:
    """Every word about the counter: value, authors, whether it stands."""
    return [(o.number, o.entered_by, o.stands) for o in site(case, folded).seen() if o.detail == TERM]


def test_two_counts_of_one_counter_both_stand_and_neither_wins(
    case: Any, tablets: tuple[RecordMaker, RecordMaker]
) -> None:
    """412 on one tablet, 421 on the other: two values, both authors, a difference that decides nothing."""
    tablets[0].number(SCANNER, TERM, 412, "P001")
    tablets[1].number(SCANNER, TERM, 421, "P002")
    day = site(case, merged(tablets))
    assert sorted(counts(case, merged(tablets))) == [
        (412, ("person/P001",), True),
        (421, ("person/P002",), True),
    ]
    lines = [line for line in day.lines if any({412, 421} <= set(t.values) for t in line.terms)]
    assert lines and all(line.state in (LineState.TWO_VALUES, LineState.NOT_READ) for line in lines)


def test_the_order_in_which_tablets_meet_changes_nothing(
    case: Any, tablets: tuple[RecordMaker, RecordMaker], fault_random: random.Random
) -> None:
    """Counts, seals, hand-offs and decisions of two tablets in ten orders: one fold, one report."""
    for number, tablet in enumerate(tablets, start=1):
        tablet.number(SCANNER, TERM, 400 + number, f"P00{number}")
        tablet.seal(LID, f"204801{number}", f"P00{number}")
        tablet.write(days.DeviceOutOfService(state=("out", "back")[number - 1], why="jam"), SCANNER)
        tablet.write(days.ThingReceived(place=f"receiving/{number}", state="received"), "memory/LM-M-1")
    first = merged(tablets)
    report = site(case, first)
    for _ in range(10):
        again = merged(tablets, fault_random)
        assert again.digest() == first.digest()
        assert site(case, again) == report


def test_a_person_chooses_with_a_reason_and_both_first_words_stay(
    case: Any, tablets: tuple[RecordMaker, RecordMaker]
) -> None:
    """The lead reads again and corrects the wrong one: one value stands, three words and a reason stay."""
    wrong = tablets[0].number(SCANNER, TERM, 412, "P001")
    tablets[1].number(SCANNER, TERM, 421, "P002")
    right = days.CountRead(term=TERM, value=421, source="screen")
    mended = tablets[0].correct(wrong, right, "P003")
    assert sorted(counts(case, merged(tablets))) == [
        (412, ("person/P001",), False),
        (421, ("person/P002",), True),
        (421, ("person/P003",), True),
    ]
    life = with_reasons(life_of(merged(tablets), about(case.election, SCANNER)), fields_of(tablets))
    assert next(e.reason for e in life.entries if e.event == mended.id) == "read again"


def test_two_corrections_of_one_entry_by_two_tablets_both_stand(
    case: Any, tablets: tuple[RecordMaker, RecordMaker]
) -> None:
    """Each tablet corrects the same first entry otherwise: the first is replaced, the two are two values."""
    wrong = tablets[0].number(SCANNER, TERM, 412, "P001")
    for tablet, value, who in ((tablets[0], 421, "P002"), (tablets[1], 424, "P003")):
        tablet.correct(wrong, days.CountRead(term=TERM, value=value, source="screen"), who)
    standing = {(value, who) for value, who, stands in counts(case, merged(tablets)) if stands}
    assert standing == {(421, ("person/P002",)), (424, ("person/P003",))}


def test_a_device_that_one_tablet_stops_and_another_brings_back_stays_out(
    case: Any, tablets: tuple[RecordMaker, RecordMaker]
) -> None:
    """Neither tablet knew the other's word: both stand, and the device is not used until people agree."""
    tablets[0].write(days.DeviceOutOfService(state="out", why="jam"), SCANNER, "P001")
    tablets[1].write(days.DeviceOutOfService(state="back", why="cleared"), SCANNER, "P002")
    device = next(d for d in site(case, merged(tablets)).devices if d.device == SCANNER)
    assert (device.state.value, device.recorded) == ("out of service", True)
    assert {o.state for o in device.observations if o.stands} == {"out", "back"}


def test_two_tables_that_take_in_one_thing_both_have_it(
    case: Any, tablets: tuple[RecordMaker, RecordMaker]
) -> None:
    """Both hand-offs stand with their people, and the thing is told to be at two places."""
    for number, tablet in enumerate(tablets, start=1):
        body = days.ThingReceived(place=f"receiving/{number}", state="received")
        tablet.write(body, "memory/LM-M-1", f"P00{number}")
    thing = held_things(legs_of(merged(tablets)))["memory/LM-M-1"]
    assert thing.differs
    assert {(leg.to_place, leg.entered_by) for leg in thing.at} == {
        ("receiving/1", ("person/P001",)),
        ("receiving/2", ("person/P002",)),
    }
