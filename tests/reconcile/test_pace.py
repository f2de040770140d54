"""Pace of sealing: a median without names, remarks on equal and on short intervals, breaks left out."""

from __future__ import annotations

from pollstead.reconcile.custody.pace import BREAK_MS, pace_of
from pollstead.reconcile.custody.pairs import SealedPosition, Warehouse, Word


def read(*gaps_ms: int, seals: int = 2, person: str = "person/P1") -> Warehouse:
    """Devices of `seals` seals each, sent `gaps_ms` after one another."""
    now, positions = 1_000_000, []
    for number, gap in enumerate((0, *gaps_ms)):
        now += gap
        for position in range(1, seals + 1):
            word = Word(event=f"{number}-{position}", person=person, number="1", utc_ms=now)
            positions.append(
                SealedPosition(closure=f"closure/s/{number}/lid", position=position, words=(word,))
            )
    return Warehouse(positions=tuple(positions))


def test_seconds_a_seal_are_those_since_the_device_before() -> None:
    """30 s for two seals are 15 s each; a break counts for nothing; one device alone has no pace."""
    assert pace_of(read(30_000, 30_400, 52_000)).median_ms == 15_200
    assert pace_of(read(30_000, 12 * 3_600_000, 20_000)).seals == 4
    assert pace_of(read()).median_ms is None and pace_of(Warehouse()).seals == 0
    assert pace_of(read(BREAK_MS + 1)).seals == 0


def test_a_log_filled_in_at_one_pace_is_remarked() -> None:
    """Planted: five devices at one interval, five faster than a seal can be read; by hand neither."""
    assert pace_of(read(24_000, 24_100, 24_000, 23_900, 24_000)).alike == 1
    assert pace_of(read(4_000, 3_000, 5_000, 2_000, 4_400)).too_fast == 1
    by_hand = pace_of(read(24_000, 31_000, 27_500, 40_000, 22_000, 36_000))
    assert (by_hand.alike, by_hand.too_fast) == (0, 0)
