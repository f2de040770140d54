"""One day of the same model in simpy: opening line, breaks, accessible stations, failures, jams, the curb.

Draws are made beforehand with numpy, which is what suits the library best; they count.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import simpy
from bench.lines.voters import Told, draw_day, sample

from pollstead.plan.terms.lines import WHOLE_PPM, Absence

if TYPE_CHECKING:
    from bench.lines.county import SiteDay

CURB = 4
FIRST = -1
"""The priority of a break: before any voter in line."""


def tell(one: SiteDay, random: np.random.Generator) -> Told:
    """Tell one day; raises ValueError for what it does not tell."""
    if one.path.accessible_open or one.path.patience is not None:
        raise ValueError("this telling has no accessible stations open to all and nobody who leaves the line")
    return _Day(one, random).told()


class _Day:
    """One day while it is told; times in ms from opening on."""

    def __init__(self, one: SiteDay, random: np.random.Generator) -> None:
        self.one, self.world = one, simpy.Environment()
        path, drawn = one.path, draw_day(one, random)
        self.arrives = drawn.arrives.tolist()
        self.voters = len(self.arrives)
        self.special = drawn.accessible.tolist()
        self.takes = [None if takes is None else takes.tolist() for takes in drawn.takes]
        self.out: list[list[float] | None] = [None] * 4
        for stage, work in enumerate(path.works()):
            if work is not None and work.limited and work.failures is not None:
                fails = random.random(self.voters) < -np.expm1(
                    -drawn.takes[stage] / work.failures.mean_use_ms
                )
                self.out[stage] = (fails * sample(work.failures.repair, self.voters, random)).tolist()
        if path.jams is not None and drawn.takes[3] is not None:
            jams = random.random(self.voters) < path.jams.chance_ppm / WHOLE_PPM
            self.takes[3] = (drawn.takes[3] + jams * sample(path.jams.time, self.voters, random)).tolist()
        self.curbside: list[bool] = [False] * self.voters
        self.at_curb: list[float] = []
        absences = one.day.absences_of(one.counts)
        self.stations: list[Any] = [self._stations(*pair) for pair in zip(one.counts, absences, strict=True)]
        if path.curbside is not None:
            share = path.curbside.share_ppm / (WHOLE_PPM - path.accessible_share_ppm)
            self.curbside = ((random.random(self.voters) < share) & ~drawn.accessible).tolist()
            self.at_curb = sample(path.curbside.law, self.voters, random).tolist()
            self.stations.append(simpy.Resource(self.world, path.curbside.stations))
        for stage, mine in enumerate(absences):
            for absence in mine:
                self.world.process(self._away(absence, self.stations[stage]))
        marking = [stage for stage in (1, 3) if path.works()[stage] is not None]
        apart = [stage for stage in (2, 3) if path.works()[stage] is not None]
        self.steps = ([0, *marking], [0, *apart])
        self.waits = [0.0] * 5
        self.longest = self.last_out = 0.0
        self.over = 0

    def _stations(self, count: int, absences: tuple[Absence, ...]) -> Any:
        if count == 0:
            return None
        kind = simpy.PriorityResource if absences else simpy.Resource
        return kind(self.world, count)

    def told(self) -> Told:
        self.world.process(self._come())
        self.world.run()
        a, b, c, d, e = self.waits
        return Told(
            self.voters, (a, b, c, d, e), self.longest, self.over, self.last_out + self.one.day.open_ms
        )

    def _come(self) -> Any:
        before = 0.0
        for number, arrives in enumerate(self.arrives):
            if arrives > before:
                yield self.world.timeout(arrives - before)
                before = arrives
            self.world.process(self._curb(number) if self.curbside[number] else self._voter(number))

    def _voter(self, number: int) -> Any:
        world, waited = self.world, 0.0
        for stage in self.steps[self.special[number]]:
            takes, stations = self.takes[stage][number], self.stations[stage]
            if stations is None:
                yield world.timeout(takes)
                continue
            reached = world.now
            turn = stations.request()
            yield turn
            here = world.now - reached
            waited += here
            self.waits[stage] += here
            yield world.timeout(takes)
            out = self.out[stage]
            if out is not None and out[number] > 0.0:
                world.process(self._repair(stations, turn, out[number]))
            else:
                stations.release(turn)
        self._done(waited)

    def _curb(self, number: int) -> Any:
        reached = self.world.now
        with self.stations[CURB].request() as turn:
            yield turn
            waited = self.world.now - reached
            self.waits[CURB] += waited
            yield self.world.timeout(self.at_curb[number])
        self._done(waited)

    def _done(self, waited: float) -> None:
        self.longest = max(self.longest, waited)
        self.over += waited > self.one.limit.limit_ms
        self.last_out = self.world.now

    def _repair(self, stations: Any, turn: Any, lasts: float) -> Any:
        yield self.world.timeout(lasts)
        stations.release(turn)

    def _away(self, absence: Absence, stations: Any) -> Any:
        opens = self.one.day.open_ms
        yield self.world.timeout(max(0, absence.from_ms - opens))
        with stations.request(priority=FIRST) as turn:
            yield turn
            yield self.world.timeout(max(absence.lasts_ms, absence.until_ms - opens - self.world.now))
