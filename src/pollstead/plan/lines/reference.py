"""The same day, told event by event in plain Python: the judge of the engine, not a part of it.

An event heap and a queue for each stage; nothing of the engine's sorted lists. It replays given draws, so
that every wait must be equal to the millisecond.
"""

from __future__ import annotations

import heapq
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

ARRIVE, LEAVE = 0, 1


@dataclass(frozen=True, slots=True)
class Voter:
    """One simulated voter: arrival, whether an accessible station is needed, service time of each step.

    A step that is not there takes 0 ms; the others take at least 1 ms.
    """

    arrives_ms: int
    accessible: bool
    check_in_ms: int
    mark_ms: int
    cast_ms: int


@dataclass(frozen=True, slots=True)
class DayTold:
    """Each voter's waits at check-in, marking and casting, and when the last voter was done."""

    waits_ms: tuple[tuple[int, int, int], ...]
    last_out_ms: int

    @property
    def longest_ms(self) -> int:
        """The longest time that a voter spent in all lines together."""
        return max((sum(waits) for waits in self.waits_ms), default=0)


class _Line:
    """Stations of one stage, those free now, and the line before them; without `stations` always room."""

    def __init__(self, stations: int) -> None:
        self.always_room = stations == 0
        self.free = stations
        self.line: deque[int] = deque()


def tell_day(
    voters: Sequence[Voter], counts: tuple[int, int, int, int], opens_ms: int, set_open_ms: int
) -> DayTold:
    """Tell one day: `voters` in order of arrival, `counts` in the order of ``Stage`` (0: always room).

    Doors open at `opens_ms`; a wait counts from arrival or `set_open_ms`, whichever is later. Of several
    voters who reach a stage in the same millisecond the one who came first to the door goes first.
    """
    lines = [_Line(c) for c in counts]
    waits = [[0, 0, 0] for _ in voters]
    reached = [0] * len(voters)
    # (time, step, kind, voter): at one moment, earlier steps and earlier voters come first.
    events: list[tuple[int, int, int, int]] = []
    for number, voter in enumerate(voters):
        events.append((max(voter.arrives_ms, opens_ms), 0, ARRIVE, number))
        reached[number] = max(voter.arrives_ms, set_open_ms)
    heapq.heapify(events)
    last = opens_ms

    def line_of(number: int, step: int) -> _Line:
        if step == 1 and voters[number].accessible:
            return lines[2]
        return lines[(0, 1, 3)[step]]

    def start(now: int, step: int, number: int) -> None:
        waits[number][step] = now - reached[number]
        voter = voters[number]
        takes = (voter.check_in_ms, voter.mark_ms, voter.cast_ms)[step]
        heapq.heappush(events, (now + takes, step, LEAVE, number))

    while events:
        now, step, kind, number = heapq.heappop(events)
        here = line_of(number, step)
        if kind == ARRIVE:
            if step > 0:
                reached[number] = now
            if here.always_room:
                start(now, step, number)
            elif here.free > 0:
                here.free -= 1
                start(now, step, number)
            else:
                here.line.append(number)
            continue
        if not here.always_room:
            if here.line:
                start(now, step, here.line.popleft())
            else:
                here.free += 1
        if step < 2:
            heapq.heappush(events, (now, step + 1, ARRIVE, number))
        else:
            last = max(last, now)
    return DayTold(waits_ms=tuple((a, b, c) for a, b, c in waits), last_out_ms=last)
