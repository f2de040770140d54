"""The least-cost numbers of stations of one site.

The search starts at the corner where each stage alone, the others without a line, keeps the limit, and goes
up in order of cost, level by level. A level is looked at on the busiest days; what is hopeless there is
dropped, the best few get all search days, and the best of these is the level's nominee. One more station
can move the line on and make the longest wait worse, so no candidate is taken to be good because a smaller
one is; a nominee that is no better than a cheaper level's is left out.

Days are gone through in blocks that double. A candidate with more days over the limit than the best one
seen has on all days is left there: more days can only add to them, so nothing that is chosen changes.

The search days only rank. Fresh days that the search has not seen decide, see `deciding`: they are asked
from the first nominee that the search days make look safe, then down in order of cost, until two in all are
not found to be within the accepted risk. Afterwards each number is tried one lower by the same rule; where
that is accepted the search moves there. The fresh days give the figures.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec

from pollstead.plan.lines.box import MOST_STATIONS, NO_LINES, Box, box_of
from pollstead.plan.lines.busiest import Busiest
from pollstead.plan.lines.corner import Corner
from pollstead.plan.lines.deciding import Deciding
from pollstead.plan.lines.intervals import surely_over_from
from pollstead.plan.lines.looks import Looks
from pollstead.plan.lines.refused import fast_engine_refuses
from pollstead.plan.lines.trials import KEPT_BYTES, Counts, Trials
from pollstead.plan.terms.part import Effort, derive_seed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from pollstead.plan.terms.lines import ArrivalDay, RiskEstimate, SiteLines

DAYS = {Effort.QUICK: 200, Effort.USUAL: 1000, Effort.DEEP: 4000}
"""Days of the search, and of the first look at fresh ones, by effort."""

TOLD_DAYS = {Effort.QUICK: 64, Effort.USUAL: 200, Effort.DEEP: 1000}
"""The same where days are told event by event, which takes hundreds of times longer."""

MOST_LOOKS = 600
"""Candidates looked at for one day before the search climbs from the best it has, and says so."""

MOST_STEPS = 100
"""Steps of that climb, each of one station or one in `STEP_PART`."""

STEP_PART = 20

AT_ONCE = 3
"""Candidates of a level that get all search days: those best on the first look."""

LIKELY_MOST = 40
"""Stations of a stage without a bound, when it is asked whether the compiled engine does the site's days."""

MOST_MISSES = 2
"""Nominees not accepted on the way down from an accepted one, after which no cheaper one is tried."""

LOOKS_SAFE = 0.1
"""A nominee looks safe when so few search days over come up with at most this chance at the accepted risk."""

SURELY_OVER = 0.025
"""A candidate whose many search days over come up with at most this chance gets no fresh days."""


@dataclass(frozen=True, slots=True)
class Found:
    """What the search of one day gives: counts, whether accepted, whether it ended before its bound."""

    counts: Counts
    accepted: bool
    complete: bool


Ranked = tuple[int, int, Counts]
"""Search days over the limit, all waits in ms, and the candidate they belong to."""


class DaySearch:
    """The search for one site-day; knows its site, its trials and how many days the effort gives."""

    def __init__(
        self, site: SiteLines, day: ArrivalDay, root_seed: int, effort: Effort, searches: int = 1
    ) -> None:
        """`searches` searches of the site share its room for drawn voters."""
        self.site, self.day, self.seed, self.effort = site, day, root_seed, effort
        box = box_of(site)
        a, b, c, d = (LIKELY_MOST if h is None else h for h in box.high)
        self.refused = fast_engine_refuses(site.path, day, (a, b, c, d))
        """Why the site's days are told event by event, in words; None where they are not."""
        self.days = (DAYS if self.refused is None else TOLD_DAYS)[effort]
        self.risk_ppm = site.limit.risk_ppm
        key = derive_seed(root_seed, "lines", site.seed_key, f"day {day.date.isoformat()}")
        self.trials = Trials(site.path, day, site.limit, key, KEPT_BYTES // searches)
        self.looks = Looks(self.trials, 0)
        self.fresh = Deciding(self.trials, self.days, self.risk_ppm, certain=self.refused is None)
        self.busiest = Busiest(site, day, key, self.days)
        self._most_over = surely_over_from(self.days, self.risk_ppm) - 1
        self._without_curb: DaySearch | None = None

    def accepts(self, counts: Counts) -> bool:
        """Whether `counts` are not surely over on the search days and found within the risk by fresh ones."""
        if self.busiest.looks.look([counts], self.busiest.days)[0][0] >= self.busiest.hopeless:
            return False
        if not self.looks.within([counts], self.days, self._most_over):
            return False
        if self.looks.share(counts, self.days).is_above(self.risk_ppm, SURELY_OVER):
            return False
        return self.fresh.accepts(counts)

    @property
    def all_trials(self) -> tuple[Trials, ...]:
        """All trials of this search."""
        return (self.trials, self.busiest.trials)

    def settled(self, counts: Counts) -> RiskEstimate:
        """What the fresh days say of `counts`."""
        return self.fresh.settled(counts)

    def find(self, box: Box) -> Found:
        """The least-cost counts in the box that are accepted, else the best seen."""
        if box.low == box.high:
            return Found(box.low, self.accepts(box.low), True)
        # No number inside is accepted where the curb alone is not; to try them all would take minutes.
        if self.site.path.curbside is not None and not self.fresh.screens(NO_LINES):
            return Found(self.without_curb().find(box).counts, False, True)
        start = Corner(self.site, self.day, self.busiest, self.looks, self.days, self._most_over)
        corner, possible = start.of(box)
        if not possible or not start.bounded_stages_can(box):
            top = tuple(
                c if h is None or low == 0 else h for c, h, low in zip(corner, box.high, box.low, strict=True)
            )
            return Found((top[0], top[1], top[2], top[3]), False, True)
        nominees: list[Ranked] = []
        looked, tried = 0, False
        for level in self._levels(box, corner):
            looked += len(level)
            nominee = self._nominee(level, nominees)
            if nominee is not None:
                nominees.append(nominee)
                tried = tried or self._looks_safe(nominee[2])
                if tried and self.accepts(nominee[2]):
                    return Found(self._cheapest(box, nominees), True, True)
            if looked >= MOST_LOOKS:
                return self._climbed(box, nominees[-1][2] if nominees else corner)
        if nominees and self.accepts(nominees[-1][2]):
            return Found(self._cheapest(box, nominees), True, True)
        return Found(nominees[-1][2] if nominees else corner, False, True)

    def without_curb(self) -> DaySearch:
        """The search with room for everybody at the curb: stations inside do not shorten the line there."""
        curbside = self.site.path.curbside
        if curbside is None:
            return self
        if self._without_curb is None:
            room = msgspec.structs.replace(curbside, stations=MOST_STATIONS)
            path = msgspec.structs.replace(self.site.path, curbside=room)
            site = msgspec.structs.replace(self.site, path=path)
            self._without_curb = DaySearch(site, self.day, self.seed, self.effort)
        return self._without_curb

    def _nominee(self, level: Sequence[Counts], before: Sequence[Ranked]) -> Ranked | None:
        """The level's best on the search days, if it is better than the last of `before`."""
        first = self._ranked(level, self.busiest.days, self.busiest.looks)
        kept = [c for over, _, c in first if over < self.busiest.hopeless][:AT_ONCE]
        if before:
            kept = self.looks.within(kept, self.days, before[-1][0])
        best = min(self._ranked(kept, self.days), default=None)
        return None if best is None or (before and before[-1] < best) else best

    def _looks_safe(self, counts: Counts) -> bool:
        return self.looks.share(counts, self.days).is_below(self.risk_ppm, LOOKS_SAFE)

    def _ranked(self, candidates: Sequence[Counts], days: int, looks: Looks | None = None) -> list[Ranked]:
        """Days over, waits and counts of each candidate on the first `days` search days, best first."""
        seen = (looks or self.looks).look(candidates, days)
        return sorted((over, waits, c) for (over, waits), c in zip(seen, candidates, strict=True))

    def _cheapest(self, box: Box, nominees: Sequence[Ranked]) -> Counts:
        """From the last nominee, which is accepted, down until `MOST_MISSES` are not; then one fewer."""
        counts, misses = nominees[-1][2], 0
        for _, _, cheaper in reversed(nominees[:-1]):
            if self.accepts(cheaper):
                counts = cheaper
            else:
                misses += 1
            if misses == MOST_MISSES:
                break
        return self._lowered(box, counts)

    def _climbed(self, box: Box, counts: Counts) -> Found:
        """Add stations where they help most until accepted, then go down; not shown to be least-cost."""
        for _ in range(MOST_STEPS):
            if self.accepts(counts):
                return Found(self._lowered(box, counts), True, False)
            higher = list(box.raised(counts, STEP_PART))
            if not higher:
                break
            counts = self._ranked(higher, self.days)[0][2]
        return Found(counts, False, False)

    def _cost(self, counts: Counts) -> int:
        return sum(a * b for a, b in zip(self.site.costs, counts, strict=True))

    def _levels(self, box: Box, corner: Counts) -> Iterator[list[Counts]]:
        """The counts from the corner up, in levels of equal cost."""
        heap, known = [(self._cost(corner), corner)], {corner}
        while heap:
            cost = heap[0][0]
            level = []
            while heap and heap[0][0] == cost:
                counts = heapq.heappop(heap)[1]
                level.append(counts)
                for more in box.raised(counts):
                    if more not in known:
                        known.add(more)
                        heapq.heappush(heap, (self._cost(more), more))
            yield level

    def _lowered(self, box: Box, counts: Counts) -> Counts:
        """Go one lower wherever that is accepted, until no single station can be taken away."""
        while True:
            for fewer in sorted(box.lowered(counts), key=self._cost):
                if self.accepts(fewer):
                    counts = fewer
                    break
            else:
                return counts
