"""Seals drawn by lot for a second look: anybody draws the same, more looks add, no closure is favored."""

from __future__ import annotations

import hashlib
from collections import Counter
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.plan.seals.inspection import SealPlace, drawn

PLACES = tuple(
    SealPlace(site="S01", station="a", closure=f"closure/scanner/{n:04d}/lid", name="lid", position=1)
    for n in range(40)
)
LOTS = st.text("0123456789", min_size=6, max_size=12)


@given(LOTS, st.integers(0, 40), st.randoms(use_true_random=False))
def test_a_draw_hangs_on_lot_and_closures_alone(lot: str, looks: int, order: Any) -> None:
    """Whatever the order of the list: the same closures, each once; by the hash as the guide says it."""
    shuffled = list(PLACES)
    order.shuffle(shuffled)
    found = drawn(shuffled, looks, lot)
    assert found == drawn(PLACES, looks, lot)
    assert len(set(found)) == looks
    by_hand = sorted(PLACES, key=lambda p: hashlib.sha256(f"{lot}\n{p.closure}/1".encode()).hexdigest())
    assert found == tuple(by_hand[:looks])


@given(LOTS, st.integers(0, 39))
def test_more_looks_take_none_away(lot: str, looks: int) -> None:
    """One look more keeps all that were drawn before."""
    assert drawn(PLACES, looks + 1, lot)[:looks] == drawn(PLACES, looks, lot)


def test_no_closure_is_favored_over_two_thousand_lots() -> None:
    """Ten of forty, 2,000 times: each about 500 times, within five standard errors of a fair draw (97)."""
    counts = Counter(p.key for lot in range(2000) for p in drawn(PLACES, 10, f"{lot:06d}"))
    assert len(counts) == 40
    assert max(abs(count - 500) for count in counts.values()) < 97


def test_more_than_there_are_cannot_be_drawn() -> None:
    """41 of 40 is refused."""
    with pytest.raises(ValueError, match="0 to 40"):
        drawn(PLACES, 41, "123456")
