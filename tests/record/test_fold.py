"""Merge and fold: order-free, idempotent, and every value kept with its author."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.record.event import FrozenObject, Signed, read_side
from pollstead.record.fold import causal_order, fold
from pollstead.record.kinds import days, offices
from pollstead.record.kinds.body import Reason
from pollstead.record.merge import merge
from pollstead.record.write import sign_event

SCANNER = "device/scanner/0012"
CLOSURE = "closure/scanner/0012/lid"
DAY = "2028-11-07"


def filled(office: Any) -> tuple[Signed, ...]:
    """Events of two devices: readings, decisions, corrections, an unknown kind, a fork."""
    office.certify("tablet/a")
    first = office.count(1)
    office.count(2, device="tablet/a")
    right = FrozenObject({"term": "public_counter_open", "value": 3, "source": "screen"})
    correction = days.EntryCorrected(corrects=first.id, of_kind="count.read", value=right)
    why = days.CorrectionPrivate(reason="Misread.")
    fixed = office.record(correction, private=why)
    office.record(msgspec.structs.replace(correction, corrects=fixed.id), private=why, device="tablet/a")
    out = office.record(days.DeviceOutOfService(state="out", why="clock"), device="tablet/a")
    office.record(days.DeviceOutOfService(state="back", why="clock"), after=(out.id,))
    last = office.record(days.DeviceOutOfService(state="out", why="jam"), device="tablet/a")
    twin = msgspec.structs.replace(last.event, utc_ms=last.event.utc_ms + 5, kind="later.kind")
    office.journal.events.append(sign_event(office.header, office.key("tablet/a"), twin))
    return tuple(office.events)


def test_the_fold_depends_on_the_set_of_events_alone(make_office: Any) -> None:
    """Whatever the order and however often an event is given, the fold is the same."""
    events = filled(make_office())
    whole = fold(events).digest()

    @given(st.permutations(events), st.lists(st.sampled_from(events), max_size=5))
    def same(order: list[Signed], again: list[Signed]) -> None:
        assert fold([*order, *again]).digest() == whole

    same()
    assert fold(events[:-1]).digest() != whole


def test_two_words_of_one_millisecond_stand_in_the_order_in_which_they_were_written(make_office: Any) -> None:
    """Words in different facts are told apart by clock, then by cause: devices name what they wrote."""
    office = make_office()
    written = [office.count(value) for value in range(20)]
    at = written[0].event.utc_ms
    folded = fold(office.events)
    moments = [folded.moment(signed.id, at) for signed in written]
    assert moments == sorted(moments)
    assert folded.moment(written[0].id, at + 1) > folded.moment(written[-1].id, at)


def test_merge_is_a_set_union(make_office: Any) -> None:
    """Idempotent, commutative, associative, and nothing is lost."""
    events = filled(make_office())
    subsets = st.lists(st.sampled_from(events), unique_by=lambda signed: signed.id)

    @given(subsets, subsets, subsets)
    def union(a: list[Signed], b: list[Signed], c: list[Signed]) -> None:
        assert merge(a, b) == merge(b, a)
        assert merge(merge(a, b), c) == merge(a, merge(b, c))
        assert merge(a, a) == merge(a)
        assert {s.id for s in merge(a, b)} == {s.id for s in [*a, *b]}

    union()


def test_causes_come_before_what_knew_them_whatever_the_clocks_say(office: Any) -> None:
    """A device whose clock runs behind still comes after the event that it names."""
    office.certify("tablet/a", start=0)
    cause = office.count(1)
    effect = office.record(
        days.CountRead(term="ballots", value=1, source="hand"), device="tablet/a",
        after=(cause.id,), utc_ms=cause.event.utc_ms - 3_600_000,
    )  # fmt: skip
    order = [signed.id for signed in causal_order(reversed(office.events))]
    assert order.index(cause.id) < order.index(effect.id)
    for signed in office.events:
        if signed.event.prev:
            assert order.index(signed.event.prev) < order.index(signed.id)


def test_two_values_for_one_fact_are_both_kept_and_both_current(office: Any) -> None:
    """Two tablets read different numbers: both stand, each with device and author."""
    office.certify("tablet/a")
    office.count(612)
    office.count(621, device="tablet/a")
    fact = fold(office.events).find(SCANNER, "count.read", DAY, term="public_counter_open", source="screen")
    assert fact is not None and fact.differing
    assert [(r.value["value"], r.device) for r in fact.current] == [(612, "desk/office"), (621, "tablet/a")]


def test_equal_values_of_two_people_agree(office: Any) -> None:
    """The same number read twice is two readings that say the same."""
    office.certify("tablet/a")
    office.count(612)
    office.count(612, device="tablet/a")
    (fact,) = fold(office.events).named("count.read")
    assert len(fact.current) == 2 and not fact.differing


def test_a_correction_names_the_old_value_and_both_stay(office: Any) -> None:
    """The corrected reading stays in the fact with what replaced it; only the new one is current."""
    old = office.count(613)
    value = FrozenObject({"term": "public_counter_open", "value": 631, "source": "screen"})
    correction = days.EntryCorrected(corrects=old.id, of_kind="count.read", value=value)
    new = office.record(correction, private=days.CorrectionPrivate(reason="Swapped."))
    (fact,) = fold(office.events).named("count.read")
    assert [(r.value["value"], r.replaced_by) for r in fact.readings] == [(613, (new.id,)), (631, ())]
    assert [r.event for r in fact.current] == [new.id]


def test_a_withdrawn_entry_leaves_no_current_value_and_stays_visible(office: Any) -> None:
    """A correction without a value withdraws; the first reading is still there to see."""
    old = office.count(4)
    correction = days.EntryCorrected(corrects=old.id, of_kind="count.read", value=FrozenObject())
    office.record(correction, private=days.CorrectionPrivate(reason="Other device."))
    (fact,) = fold(office.events).named("count.read")
    assert fact.current == () and len(fact.readings) == 2


def test_a_correction_of_an_event_that_is_not_here_is_kept_and_noticed(office: Any) -> None:
    """It becomes an entry of its own with a notice, and takes its place once the event arrives."""
    old = office.count(613)
    value = FrozenObject({"term": "public_counter_open", "value": 631, "source": "screen"})
    correction = days.EntryCorrected(corrects=old.id, of_kind="count.read", value=value)
    office.record(correction, private=days.CorrectionPrivate(reason="Swapped."), after=(old.id,))
    without = fold([signed for signed in office.events if signed.id != old.id])
    assert len(without.named("entry.corrected")) == 1
    assert any("which is not here" in notice.text.english() for notice in without.notices)
    assert fold(office.events).notices == ()


def test_a_decision_replaces_what_it_knew_and_no_other(office: Any) -> None:
    """Later on the same device or named in `after` replaces; two that did not know each other stay."""
    office.certify("tablet/a")
    private = offices.FixedPrivate(reason="One outlet.")

    def fixed(count: int, device: str, *after: str) -> Signed:
        body = offices.ValueFixed(table="stations", row="S01 scanner", field="count", value=count)
        signed: Signed = office.record(body, "site/S01", device=device, private=private, after=after)
        return signed

    def current() -> list[Any]:
        (fact,) = fold(office.events).named("value")
        return [reading.value.get("value", "unfixed") for reading in fact.current]

    first = fixed(2, "desk/office")
    fixed(3, "tablet/a")
    assert current() == [2, 3]
    fixed(4, "desk/office")
    assert current() == [3, 4]
    heads = fold(office.events).heads(
        "site/S01", "value", DAY, table="stations", row="S01 scanner", field="count"
    )
    assert len(heads) == 2 and first.id not in heads
    unfixed = offices.ValueUnfixed(table="stations", row="S01 scanner", field="count")
    office.record(unfixed, "site/S01", after=heads, private=Reason(reason="Second outlet."))
    assert current() == ["unfixed"]


def test_private_numbers_are_compared_only_where_they_may_be_seen(office: Any) -> None:
    """Equal seal numbers under two salts agree with the private parts at hand; else nobody can tell."""
    seal = days.SealSeen(step="opening", state="intact")
    office.record(seal, CLOSURE, private=days.SealNumber(number="0048211"))
    office.record(seal, CLOSURE, private=days.SealNumber(number="0048211", remark="Faded."))
    (hidden,) = fold(office.events).named("seen.seal")
    assert hidden.differing
    sides = {digest: read_side(side) for digest, side in office.sides.items()}
    (shown,) = fold(office.events, sides).named("seen.seal")
    assert not shown.differing
    assert shown.current[0].private is not None and shown.current[0].private["number"] == "0048211"


def test_unknown_kinds_are_kept_and_forks_are_noticed(office: Any) -> None:
    """Nothing is dropped: the unknown kind is a fact of its own, the fork a notice."""
    folded = fold(filled(office))
    assert len(folded.order) == len(office.events)
    assert len(folded.named("later.kind")) == 1
    assert [notice.rule for notice in folded.notices] == ["record.fork"]


def test_a_day_has_its_own_facts(office: Any) -> None:
    """The same counter read on two days is two facts."""
    body = days.CountRead(term="public_counter_open", value=0, source="screen")
    office.record(body)
    office.recorders["desk/office"].record(
        body, subject=SCANNER, site="site/S01", day="2028-11-08", people=office.events[0].event.people,
        moment=_moment(office),
    )  # fmt: skip
    assert [fact.day for fact in fold(office.events).named("count.read")] == ["2028-11-07", "2028-11-08"]


def test_a_sheet_says_where_an_entry_came_from_and_not_what_it_says(office: Any) -> None:
    """An entry typed from paper agrees with the same entry made on a tablet."""
    office.record(days.SiteOpened(at_min=420), "site/S01")
    office.record(days.SiteOpened(at_min=420, sheet="sheet/S01/opening/1"), "site/S01")
    (fact,) = fold(office.events).named("site.opened")
    assert [reading.sheet for reading in fact.current] == ["", "sheet/S01/opening/1"]
    assert not fact.differing


@pytest.mark.parametrize("size", [0, 1])
def test_small_records_fold(office: Any, size: int) -> None:
    """No event and one event are records too."""
    assert len(fold(office.events[:size]).facts) == size


def _moment(office: Any) -> Any:
    from pollstead.record.write import Moment

    return Moment(utc_ms=office.clock + 86_400_000 // 2, offset_min=-300, uncertainty_ms=0)
