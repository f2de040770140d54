"""The pace at which seals were read, as advice: seconds a seal, and stretches that look copied or too fast.

Nobody is named and nothing follows from it. Readings are sent device by device, so the seconds of a device
are those since the same person's readings before, shared over its seals; a break is left out. The limits
are our own: common practice, no source; varies by county.
"""

from __future__ import annotations

import itertools
import statistics
from collections import defaultdict

from pollstead.election.values import Value
from pollstead.reconcile.custody.pairs import Warehouse

BREAK_MS = 600_000
TOGETHER_MS = 1_500
TOO_FAST_MS = 3_000
ALIKE_MS = 500
IN_A_ROW = 5
"""As many devices in a row make a stretch."""


class Pace(Value, frozen=True, kw_only=True):
    """Median milliseconds a seal over `seals` readings; stretches of equal and of too short intervals."""

    median_ms: int | None = None
    seals: int = 0
    alike: int = 0
    too_fast: int = 0


def pace_of(told: Warehouse) -> Pace:
    """The pace of every reading that stands."""
    times: dict[str, list[int]] = defaultdict(list)
    for position in told.positions:
        for word in position.words:
            times[word.person].append(word.utc_ms)
    every: list[tuple[int, int]] = []
    alike = too_fast = 0
    for mine in times.values():
        stretch: list[int] = []
        for each, seals in [*_devices(sorted(mine)), (-1, 0)]:
            if each < 0:
                alike += _runs(stretch, equal=True)
                too_fast += _runs(stretch, equal=False)
                stretch = []
            else:
                stretch.append(each)
                every.append((each, seals))
    spread = [each for each, seals in every for _ in range(seals)]
    return Pace(
        median_ms=round(statistics.median(spread)) if spread else None,
        seals=len(spread),
        alike=alike,
        too_fast=too_fast,
    )


def _devices(times: list[int]) -> list[tuple[int, int]]:
    """Milliseconds a seal and how many seals, device by device; -1 stands for a break."""
    groups: list[list[int]] = []
    for time in times:
        if groups and time - groups[-1][-1] <= TOGETHER_MS:
            groups[-1].append(time)
        else:
            groups.append([time])
    found = []
    for before, group in itertools.pairwise(groups):
        gap = group[0] - before[-1]
        found.append((gap // len(group), len(group)) if gap <= BREAK_MS else (-1, 0))
    return found


def _runs(stretch: list[int], *, equal: bool) -> int:
    """How many runs of IN_A_ROW or more: of equal intervals, or of intervals under the shortest time."""
    runs = length = 0
    for number, each in enumerate(stretch):
        if equal:
            goes_on = number > 0 and abs(each - stretch[number - 1]) <= ALIKE_MS
            length = length + 1 if goes_on else 1
        else:
            length = length + 1 if each < TOO_FAST_MS else 0
        runs += length == IN_A_ROW
    return runs
