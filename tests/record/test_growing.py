"""A fold that grows event by event equals the fold of the whole set, whatever comes when."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.record.event import Signed, read_side
from pollstead.record.fold import Fold, fold
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.growing import GrowingFold
from pollstead.record.kinds import days, offices
from pollstead.record.kinds.days import CorrectionPrivate
from pollstead.record.write import sign_event


def busy(office: Any) -> tuple[Signed, ...]:
    """Three devices whose clocks disagree: readings, corrections of corrections, decisions, a fork."""
    office.certify("tablet/a")
    office.certify("tablet/b", start=0)
    first = office.count(1)
    late = office.record(
        days.CountRead(term="public_counter_open", value=7, source="screen"),
        device="tablet/b",
        utc_ms=first.event.utc_ms - 7_200_000,
    )
    office.count(2, device="tablet/a")
    value = FrozenObject({"term": "public_counter_open", "value": 3, "source": "screen"})
    correction = days.EntryCorrected(corrects=first.id, of_kind="count.read", value=value)
    why = CorrectionPrivate(reason="Misread.")
    fixed = office.record(correction, private=why, device="tablet/b", utc_ms=first.event.utc_ms - 7_100_000)
    office.record(msgspec.structs.replace(correction, corrects=fixed.id), private=why, device="tablet/a")
    office.record(msgspec.structs.replace(correction, corrects=late.id), private=why)
    out = office.record(days.DeviceOutOfService(state="out", why="clock"), device="tablet/a")
    office.record(days.DeviceOutOfService(state="back", why="clock"), after=(out.id,))
    fixing = offices.ValueFixed(table="stations", row="S01", field="count", value=4)
    office.record(fixing, subject="site/S01", private=offices.FixedPrivate(reason="One more."))
    last = office.record(days.DeviceOutOfService(state="out", why="jam"), device="tablet/b", utc_ms=5)
    twin = msgspec.structs.replace(last.event, utc_ms=last.event.utc_ms + 5, kind="later.kind")
    office.journal.events.append(sign_event(office.header, office.key("tablet/b"), twin))
    return tuple(office.events)


def same(a: Fold, b: Fold) -> bool:
    """Facts with private parts, order and notices are all equal."""
    return (a.facts, a.order, a.notices) == (b.facts, b.order, b.notices)


@pytest.mark.full
def test_a_fold_that_grows_equals_the_whole_fold_at_each_step(make_office: Any) -> None:
    """In any order of arrival, in batches of any size, with gaps, forks and clocks that run behind."""
    office = make_office()
    events = busy(office)
    sides = {s.digest: read_side(s) for s in office.sides.values() if s is not None}

    @settings(max_examples=40)
    @given(st.permutations(events), st.lists(st.integers(1, 5), min_size=1, max_size=len(events)))
    def grows(order: list[Signed], sizes: list[int]) -> None:
        growing = GrowingFold()
        at = 0
        for size in [*sizes, len(order)]:
            batch = order[at : at + size]
            growing.add(batch, {d: f for d, f in sides.items() if d in {s.event.private for s in batch}})
            at += size
            assert same(growing.fold, fold(order[:at], sides))

    grows()


def test_events_in_their_own_order_are_added_without_folding_anew(make_office: Any, monkeypatch: Any) -> None:
    """What a desk writes one by one never costs a whole fold, and unchanged facts stay the same objects."""
    office = make_office()
    for n in range(6):
        office.count(n)
    office.record(
        offices.ValueFixed(table="t", row="r", field="f", value=1),
        subject="site/S02",
        private=offices.FixedPrivate(reason="One more."),
    )
    growing = GrowingFold(office.events)
    before = growing.fold.facts
    monkeypatch.setattr(GrowingFold, "_fold_all", lambda self: 1 / 0)
    new = office.count(9)
    growing.add([new])
    after = growing.fold
    assert after.order[-1] == new.id and len(after.order) == len(office.events)
    same_objects = [f for f in after.facts if any(f is old for old in before)]
    changed = [f for f in after.facts if all(f is not old for old in before)]
    assert len(same_objects) == len(before) - 1 and [f.name for f in changed] == ["count.read"]
