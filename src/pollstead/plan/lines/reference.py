"""The same day, told event by event in plain Python: every feature of the model, and the judge of the engine.

An event heap and a queue for each stage; nothing of the engine's sorted lists. It replays given draws, so
that every wait must be equal to the millisecond. Each day that it tells is checked by Little's law and by
the balance of voters before it is handed out.

At one moment, earlier steps of the path come first; at one stage first the absences that fall due, then who
reaches the line, then stations that become free, then those whose patience ends. Of several voters who reach
a stage in the same millisecond the one who came first to the door goes first.
"""

from __future__ import annotations

import heapq
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pollstead.plan.terms.lines import Absence

CHECK_IN, MARK, ACCESSIBLE, CAST, CURBSIDE = STAGES = range(5)
"""Places of ``Stage`` in what is told by stage."""

_STEP = (0, 1, 1, 2, 0)  # of a stage; a voter's waits and services are kept by step
ABSENT, REACHES, FREE, DONE, TIRES = range(5)

NO_ABSENCES: tuple[tuple[Absence, ...], ...] = ((), (), (), ())
NEVER_FAILS = (0, 0, 0)


@dataclass(frozen=True, slots=True)
class Voter:
    """One simulated voter: arrival, class, time of each step, and what happens to the stations behind it.

    A step that is not there takes 0 ms; the others take at least 1 ms. `repair_ms`: how long the station is
    out after this voter's check-in, marking, casting; 0: it does not fail. `jam_ms` is added to casting. A
    voter at the curb is served for `check_in_ms` in all. `patience_ms`: how long in line for check-in before
    leaving it; None: for good.
    """

    arrives_ms: int
    accessible: bool
    check_in_ms: int
    mark_ms: int
    cast_ms: int
    repair_ms: tuple[int, int, int] = NEVER_FAILS
    jam_ms: int = 0
    curbside: bool = False
    patience_ms: int | None = None

    def takes_ms(self, step: int) -> int:
        """The time of a step, with the jam."""
        return (self.check_in_ms, self.mark_ms, self.cast_ms + self.jam_ms)[step]

    def stage(self, step: int) -> int:
        """Where this voter stands in line for a step."""
        if self.curbside:
            return CURBSIDE
        if step == 1 and self.accessible:
            return ACCESSIBLE
        return (CHECK_IN, MARK, CAST)[step]


@dataclass(frozen=True, slots=True)
class DayTold:
    """What happened: each voter's waits, who left the line, and the lines as a clock saw them.

    `waits_ms` at check-in (at the curb: there), marking and casting. `lines` has the number in line by stage,
    in the order of ``Stage``, at each of the moments asked for, all that happened at the moment included.
    `in_line_ms` is the number in line by stage added up over time, in voter-milliseconds, counted by the
    clock and not from the waits.
    """

    waits_ms: tuple[tuple[int, int, int], ...]
    left: tuple[bool, ...]
    last_out_ms: int
    served: int
    in_line_ms: tuple[int, ...]
    lines: tuple[tuple[int, ...], ...] = ()

    @property
    def longest_ms(self) -> int:
        """The longest time that a voter spent in all lines together."""
        return max((sum(waits) for waits in self.waits_ms), default=0)

    def sums_ms(self, voters: Sequence[Voter]) -> tuple[int, ...]:
        """All voters' waits added up by stage, in the order of ``Stage``."""
        sums = [0] * len(STAGES)
        for voter, waits in zip(voters, self.waits_ms, strict=True):
            for step, wait in enumerate(waits):
                sums[voter.stage(step)] += wait
        return tuple(sums)


def unbalanced(told: DayTold, voters: Sequence[Voter]) -> str | None:
    """What does not add up in a day told, in words; None when all does.

    Little's law without its averages (waits added up are the number in line added up over time, to the
    millisecond; Little 1961), and everybody who came was served or left the line.
    """
    sums = told.sums_ms(voters)
    if sums != told.in_line_ms:
        return f"waits by stage add up to {sums} ms, people in line to {told.in_line_ms} voter-ms"
    if len(voters) != told.served + sum(told.left):
        return f"{len(voters)} voters came, {told.served} were served and {sum(told.left)} left the line"
    return None


class _Stage:
    """Stations of one stage, those free now, and the line before them; without `stations` always room."""

    def __init__(self, stations: int, free: int) -> None:
        self.always_room = stations == 0
        self.free = free
        self.line: deque[int] = deque()
        self.absent: deque[Absence] = deque()
        self.in_line_ms = 0
        self._since_ms = 0

    def tick(self, now: int) -> None:
        """Add the line as it stood until now."""
        self.in_line_ms += len(self.line) * (now - self._since_ms)
        self._since_ms = now


def tell_day(
    voters: Sequence[Voter],
    counts: tuple[int, int, int, int],
    opens_ms: int,
    set_open_ms: int,
    *,
    absences: Sequence[Sequence[Absence]] = NO_ABSENCES,
    curbside_stations: int = 1,
    accessible_open: bool = False,
    moments_ms: Sequence[int] = (),
) -> DayTold:
    """Tell one day: `voters` in order of arrival, `counts` in the order of ``SIZED`` (0: always room).

    Doors open at `opens_ms`; a wait counts from arrival or `set_open_ms`, whichever is later. `absences` as
    ``ArrivalDay.absences_of`` gives them; `moments_ms`, in order: when to count the lines. Raises
    RuntimeError when the day does not add up, see `unbalanced`: a fault of this program.
    """
    day = _Day(voters, counts, opens_ms, set_open_ms, absences, curbside_stations, accessible_open)
    told = day.tell(moments_ms)
    wrong = unbalanced(told, voters)
    if wrong is not None:
        raise RuntimeError(f"the day told does not add up: {wrong}")
    return told


class _Day:
    """One day while it is told."""

    def __init__(
        self,
        voters: Sequence[Voter],
        counts: tuple[int, int, int, int],
        opens_ms: int,
        set_open_ms: int,
        absences: Sequence[Sequence[Absence]],
        curbside_stations: int,
        accessible_open: bool,
    ) -> None:
        self.voters, self.opens_ms, self.accessible_open = voters, opens_ms, accessible_open
        self.absences = absences
        # Nobody gets in, nor is served at the curb, before the doors open.
        self.stages = [
            _Stage(n, 0 if _STEP[stage] == 0 else n) for stage, n in enumerate((*counts, curbside_stations))
        ]
        self.waits = [[0, 0, 0] for _ in voters]
        self.left = [False] * len(voters)
        self.reached = [max(v.arrives_ms, set_open_ms) for v in voters]
        self.tiring: set[int] = set()
        self.served = 0
        self.last_out_ms = opens_ms
        # (time, step, kind, voter or stage, place of the absence): what happens next is the least.
        self.events: list[tuple[int, int, int, int, int]] = [
            (self.reached[v], 0, REACHES, v, 0) for v in range(len(voters))
        ]
        for stage in (CHECK_IN, CURBSIDE):
            stations = (*counts, curbside_stations)[stage]
            self.events += [(opens_ms, 0, FREE, stage, 0)] * max(1, stations)
        for stage, mine in enumerate(absences):
            if counts[stage] > 0:
                self.events += [(a.from_ms, _STEP[stage], ABSENT, stage, k) for k, a in enumerate(mine)]
        heapq.heapify(self.events)

    def tell(self, moments_ms: Sequence[int]) -> DayTold:
        lines: list[tuple[int, ...]] = []
        while self.events:
            now, step, kind, number, place = heapq.heappop(self.events)
            while len(lines) < len(moments_ms) and moments_ms[len(lines)] < now:
                lines.append(self._lines())
            if kind == ABSENT:
                self._absent(now, number, place)
            elif kind == REACHES:
                self._reaches(now, step, number)
            elif kind == FREE:
                self._free(now, number)
            elif kind == DONE:
                self._done(now, step, number)
            else:
                self._tires(now, number)
        lines += [self._lines()] * (len(moments_ms) - len(lines))
        return DayTold(
            waits_ms=tuple((a, b, c) for a, b, c in self.waits),
            left=tuple(self.left),
            last_out_ms=self.last_out_ms,
            served=self.served,
            in_line_ms=tuple(stage.in_line_ms for stage in self.stages),
            lines=tuple(lines),
        )

    def _lines(self) -> tuple[int, ...]:
        return tuple(len(stage.line) for stage in self.stages)

    def _absent(self, now: int, stage: int, place: int) -> None:
        absence, here = self.absences[stage][place], self.stages[stage]
        if here.free > 0:
            here.free -= 1
            self._away(now, stage, absence)
        else:
            here.absent.append(absence)

    def _away(self, now: int, stage: int, absence: Absence) -> None:
        back = max(now + absence.lasts_ms, absence.until_ms)
        heapq.heappush(self.events, (back, _STEP[stage], FREE, stage, 0))

    def _reaches(self, now: int, step: int, number: int) -> None:
        voter = self.voters[number]
        stage = voter.stage(step)
        here = self.stages[stage]
        self.reached[number] = now
        opened = now >= self.opens_ms or step > 0
        if here.always_room and opened:
            self._start(now, step, number, None)
        elif here.free > 0:
            here.free -= 1
            self._start(now, step, number, stage)
        elif stage == MARK and self.accessible_open and self.stages[ACCESSIBLE].free > 0:
            self.stages[ACCESSIBLE].free -= 1
            self._start(now, step, number, ACCESSIBLE)
        else:
            here.tick(now)
            here.line.append(number)
            if stage == CHECK_IN and voter.patience_ms is not None:
                self.tiring.add(number)
                heapq.heappush(self.events, (now + voter.patience_ms, step, TIRES, number, 0))

    def _free(self, now: int, stage: int) -> None:
        here = self.stages[stage]
        if here.always_room:
            here.tick(now)
            while here.line:
                self._start(now, _STEP[stage], self._next(here), None)
        elif here.absent:
            self._away(now, stage, here.absent.popleft())
        elif here.line:
            here.tick(now)
            self._start(now, _STEP[stage], self._next(here), stage)
        elif stage == ACCESSIBLE and self.accessible_open and self.stages[MARK].line:
            self.stages[MARK].tick(now)
            self._start(now, 1, self._next(self.stages[MARK]), stage)
        else:
            here.free += 1

    def _next(self, here: _Stage) -> int:
        number = here.line.popleft()
        self.tiring.discard(number)
        return number

    def _start(self, now: int, step: int, number: int, station_of: int | None) -> None:
        voter = self.voters[number]
        self.waits[number][step] = now - self.reached[number]
        over = now + voter.takes_ms(step)
        heapq.heappush(self.events, (over, step, DONE, number, 0))
        if station_of is not None:
            out = 0 if voter.curbside else voter.repair_ms[step]
            heapq.heappush(self.events, (over + out, step, FREE, station_of, 0))

    def _done(self, now: int, step: int, number: int) -> None:
        if step < 2 and not self.voters[number].curbside:
            heapq.heappush(self.events, (now, step + 1, REACHES, number, 0))
        else:
            self.served += 1
            self.last_out_ms = max(self.last_out_ms, now)

    def _tires(self, now: int, number: int) -> None:
        if number in self.tiring:
            here = self.stages[CHECK_IN]
            here.tick(now)
            here.line.remove(number)
            self.left[number] = True
            self.waits[number][0] = now - self.reached[number]
