"""The least-cost numbers of stations of one site.

The search starts at the corner where each stage alone, the others without a line, keeps the limit on the
search days: at check-in no smaller number can do, whatever stands behind it; at the other stages nearly so.
From there it goes up in order of cost, level by level. A level is looked at for few days; what is hopeless
is dropped (at the accepted risk as many days over the limit would come up less than once in a thousand), the
rest gets the effort's days. One more station can move the line on and make the longest wait worse, so no
candidate is taken to be good because a smaller one is.

Days are gone through in blocks that double. A candidate with more days over the limit than chance could give
at the accepted risk, or than the best one seen has on all days, is left there: more days can only add to
them, so nothing that is chosen changes.

The search days rank and drop; fresh days that the search has not seen decide. Where the 95 % interval of a
candidate's share of days over the limit holds the accepted risk, it gets more fresh days, twice as many each
time, until the interval lies on one side or the cap is reached; there the share itself decides, and the
answer says that it is undecided. The fresh days give the figures. Afterwards each number is tried one lower
by the same rule; where that is accepted the search moves there.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec

from pollstead.plan.lines.intervals import exact_interval_ppm, hopeless_from, surely_over_from
from pollstead.plan.lines.refused import fast_engine_refuses
from pollstead.plan.lines.trials import FIRST_LOOK_DAYS, FRESH_FROM, KEPT_BYTES, Counts, Trials, blocks
from pollstead.plan.terms.lines import SLOT_MS, WHOLE_PPM, ArrivalDay, RiskEstimate, SiteLines, SitePath
from pollstead.plan.terms.part import Effort, derive_seed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

DAYS = {Effort.QUICK: 200, Effort.USUAL: 1000, Effort.DEEP: 4000}
"""Days of the search, and as many fresh ones, by effort."""

MOST_FRESH = {Effort.QUICK: 2048, Effort.USUAL: 8192, Effort.DEEP: 32768}
"""Fresh days at most for one candidate, where fewer leave open on which side of the accepted risk it is."""

TOLD_DAYS = {Effort.QUICK: 64, Effort.USUAL: 200, Effort.DEEP: 1000}
MOST_FRESH_TOLD = {Effort.QUICK: 128, Effort.USUAL: 512, Effort.DEEP: 2048}
"""The same two where days are told event by event, which takes hundreds of times longer."""

MOST_LOOKS = 600
"""Candidates looked at for one day before the search climbs from the best it has, and says so."""

MOST_STEPS = 100
"""Steps of that climb, each of one station or one in `STEP_PART`."""

STEP_PART = 20

AT_ONCE = 4
"""Candidates of a level that get the search days together, those best on the first look first."""

MOST_STATIONS = 500
LIKELY_MOST = 40
"""Stations of a stage without a bound, when it is asked whether the compiled engine does the site's days."""

START_BELOW_LOAD_PPM = 850_000
HOUR_SLOTS = 4


Look = tuple[int, int]
"""Days on which the longest wait passes the limit, and all voters' waits added up in ms."""


@dataclass(frozen=True, slots=True)
class Box:
    """The least and the most stations of each stage; `high` None: no bound; both 0: no line there."""

    low: Counts
    high: tuple[int | None, int | None, int | None, int | None]

    def raised(self, counts: Counts, part: int = MOST_STATIONS + 1) -> Iterator[Counts]:
        """The counts with one station more, or one in `part` more, at one stage, inside the box."""
        for k in range(4):
            most = min(self.high[k] or MOST_STATIONS, MOST_STATIONS)
            if self.low[k] > 0 and counts[k] < most:
                yield with_stage(counts, k, min(most, counts[k] + max(1, counts[k] // part)))

    def lowered(self, counts: Counts) -> Iterator[Counts]:
        """The counts with one station fewer at one stage, inside the box."""
        for k in range(4):
            if counts[k] > self.low[k]:
                yield with_stage(counts, k, counts[k] - 1)


@dataclass(frozen=True, slots=True)
class Found:
    """What the search of one day gives: counts, whether accepted, whether it ended before its bound."""

    counts: Counts
    accepted: bool
    complete: bool


def with_stage(counts: Counts, stage: int, count: int) -> Counts:
    """`counts` with another number at one stage."""
    changed = list(counts)
    changed[stage] = count
    return (changed[0], changed[1], changed[2], changed[3])


def box_of(site: SiteLines) -> Box:
    """The bounds of a site's numbers: what is fixed wins; a floor wins over a ceiling below it."""
    low: list[int] = []
    high: list[int | None] = []
    rows = zip(
        site.path.limited(),
        site.floor.by_stage(),
        site.ceiling.by_stage(),
        site.fixed.by_stage(),
        strict=True,
    )
    for limited, floor, ceiling, fixed in rows:
        if not limited:
            low.append(0)
            high.append(0)
        elif fixed is not None:
            low.append(fixed)
            high.append(fixed)
        else:
            low.append(max(1, floor))
            high.append(None if ceiling is None else max(1, floor, ceiling))
    return Box((low[0], low[1], low[2], low[3]), (high[0], high[1], high[2], high[3]))


def busiest_hour_milli_voters(day: ArrivalDay) -> int:
    """Voters of the busiest four quarter hours in a row, in thousandths, on a day of the draws' mean total.

    Without the line at opening.
    """
    weights = [int(w) for w in day.slot_weights[: day.slots]]
    best = max(sum(weights[k : k + HOUR_SLOTS]) for k in range(len(weights)))
    arriving_ppm = WHOLE_PPM - day.opening_line_share_ppm
    thousandths = int(day.totals.sum()) * best * arriving_ppm // WHOLE_PPM * 1000
    return thousandths // (sum(weights) * len(day.totals))


def shares_ppm(path: SitePath) -> tuple[int, int, int, int]:
    """The share of the voters who come to each stage, in the order of `SIZED`; those at the curb to none."""
    curb = 0 if path.curbside is None else path.curbside.share_ppm
    inside, special = WHOLE_PPM - curb, path.accessible_share_ppm
    return (inside, inside - special, special, inside)


def load_milli_erlangs(site: SiteLines, day: ArrivalDay, stage: int) -> int:
    """Load of a stage in the busiest hour: voters an hour times mean service, in thousandths of an erlang."""
    work = site.path.works()[stage]
    if work is None:
        return 0
    return (
        busiest_hour_milli_voters(day)
        * shares_ppm(site.path)[stage]
        * work.law.mean_ms
        // (HOUR_SLOTS * SLOT_MS * WHOLE_PPM)
    )


def fresh_steps(days: int, most: int) -> Iterator[int]:
    """After how many fresh days it is asked whether they decide: `days`, then ends of blocks up to `most`."""
    yield days
    for until in blocks(most):
        if until >= 2 * days:
            yield until


NO_LINES: Counts = (0, 0, 0, 0)
"""Always room inside: what is left is the line at the curb."""


class DaySearch:
    """The search for one site-day; knows its site, its trials and how many days the effort gives."""

    def __init__(
        self, site: SiteLines, day: ArrivalDay, root_seed: int, effort: Effort, searches: int = 1
    ) -> None:
        """`searches` searches of the site share its room for drawn voters."""
        self.site, self.day, self.seed, self.effort = site, day, root_seed, effort
        self.days, self.most_fresh = DAYS[effort], MOST_FRESH[effort]
        box = box_of(site)
        a, b, c, d = (LIKELY_MOST if h is None else h for h in box.high)
        self.refused = fast_engine_refuses(site.path, day, (a, b, c, d))
        """Why the site's days are told event by event, in words; None where they are not."""
        if self.refused is not None:
            self.days, self.most_fresh = TOLD_DAYS[effort], MOST_FRESH_TOLD[effort]
        self.risk_ppm = site.limit.risk_ppm
        key = derive_seed(root_seed, "lines", site.seed_key, f"day {day.date.isoformat()}")
        self.trials = Trials(site.path, day, site.limit, key, KEPT_BYTES // searches)
        self._without_curb: DaySearch | None = None
        self._looked: dict[tuple[int, int], dict[Counts, Look]] = {}

    def look(self, candidates: Sequence[Counts], first: int, days: int) -> list[Look]:
        """Days over the limit and all waits added up, for each candidate; all looks are remembered."""
        known = self._looked.setdefault((first, days), {})
        new = [c for c in candidates if c not in known]
        if new:
            behind = max((end for end in blocks(days) if end < days), default=0)
            had = self.look(new, first, behind) if behind else [(0, 0)] * len(new)
            more = self.trials.over(new, first + behind, days - behind)
            for counts, (over, waits), (over_more, waits_more) in zip(new, had, more, strict=True):
                known[counts] = (over + over_more, waits + waits_more)
        return [known[c] for c in candidates]

    def within(self, candidates: Sequence[Counts], first: int, most_over: int) -> list[Counts]:
        """The candidates with at most `most_over` days over the limit among all days from `first` on."""
        kept = list(candidates)
        for days in blocks(self.days):
            looks = self.look(kept, first, days)
            kept = [c for c, (over, _) in zip(kept, looks, strict=True) if over <= most_over]
        return kept

    @property
    def most_over(self) -> int:
        """The most days over the limit on the search days that chance could give at the accepted risk."""
        return surely_over_from(self.days, self.risk_ppm) - 1

    def accepts(self, counts: Counts) -> bool:
        """Whether `counts` are not surely over on the search days, and keep the limit on the fresh days."""
        if self.look([counts], 0, FIRST_LOOK_DAYS)[0][0] >= hopeless_from(FIRST_LOOK_DAYS, self.risk_ppm):
            return False
        if not self.within([counts], 0, self.most_over):
            return False
        return self.settled(counts).meets(self.risk_ppm)

    def settled(self, counts: Counts) -> RiskEstimate:
        """What fresh days say of `counts`: as many as it takes, from the effort's days to the cap."""
        for days in fresh_steps(self.days, self.most_fresh):
            over = self.look([counts], FRESH_FROM, days)[0][0]
            low, high = exact_interval_ppm(over, days)
            risk = RiskEstimate(over=over, days=days, low_ppm=low, high_ppm=high)
            if risk.decides(self.risk_ppm):
                break
        return risk

    def corner(self, box: Box) -> tuple[Counts, bool]:
        """For each stage the least number that keeps the limit alone; False when one has none in the box."""
        counts = box.low
        possible = True
        bad = hopeless_from(FIRST_LOOK_DAYS, self.risk_ppm)
        for k in range(4):
            low, high = box.low[k], box.high[k] or MOST_STATIONS
            if low == high or low == 0:
                continue
            guess = load_milli_erlangs(self.site, self.day, k) * START_BELOW_LOAD_PPM // WHOLE_PPM // 1000 + 1
            least = self._least_alone(k, low, high, min(max(guess, low), high), bad)
            while least is not None and not self._alone_meets(k, least):
                least = least + 1 if least < high else None
            counts = with_stage(counts, k, high if least is None else least)
            possible = possible and least is not None
        return counts, possible

    def _alone_meets(self, stage: int, count: int) -> bool:
        alone = with_stage((0, 0, 0, 0), stage, count)
        return bool(self.within([alone], 0, self.most_over))

    def _least_alone(self, stage: int, low: int, high: int, guess: int, bad: int) -> int | None:
        """The least number of one stage, without lines at the others, that is not hopeless; None if none is.

        Alone, one station more never lengthens anybody's wait, so a window can be moved to the edge.
        """
        seen: dict[int, bool] = {}
        first, width = guess, 4
        while True:
            window = [c for c in range(first, min(first + width, high + 1)) if c not in seen]
            if window:
                tried = [with_stage((0, 0, 0, 0), stage, c) for c in window]
                found = self.look(tried, 0, FIRST_LOOK_DAYS)
                seen.update({c: one[0] < bad for c, one in zip(window, found, strict=True)})
            good = [c for c, fits in seen.items() if fits]
            if not good:
                if first + width > high:
                    return None
                first, width = first + width, width * 2
                continue
            least = min(good)
            if least == low or least - 1 in seen:
                return least
            first, width = max(low, least - 4), min(4, least - low)

    def find(self, box: Box) -> Found:
        """The least-cost counts in the box that are accepted, else the best seen."""
        if box.low == box.high:
            return Found(box.low, self.accepts(box.low), True)
        # No number inside is accepted where the curb alone is not; to try them all would take minutes.
        if self.site.path.curbside is not None and not self.accepts(NO_LINES):
            return Found(self.without_curb().find(box).counts, False, True)
        corner, possible = self.corner(box)
        if not possible or not self._bounded_stages_can(box):
            top = tuple(
                c if h is None or low == 0 else h for c, h, low in zip(corner, box.high, box.low, strict=True)
            )
            return Found((top[0], top[1], top[2], top[3]), False, True)
        best: tuple[int, int, Counts] | None = None
        looks = 0
        for level in self._levels(box, corner):
            looks += len(level)
            bad = hopeless_from(FIRST_LOOK_DAYS, self.risk_ppm)
            kept = [row for row in self._ranked(level, FIRST_LOOK_DAYS) if row[0] < bad]
            for at in range(0, len(kept), AT_ONCE):
                group = [row[2] for row in kept[at : at + AT_ONCE]]
                if best is not None:
                    group = self.within(group, 0, max(self.most_over, best[0]))
                ranked = self._ranked(group, self.days)
                best = min([*ranked[:1], *([] if best is None else [best])], default=None)
                for _, _, counts in ranked:
                    if self.accepts(counts):
                        return Found(self._lowered(box, counts), True, True)
            if looks >= MOST_LOOKS:
                return self._climbed(box, corner if best is None else best[2])
        return Found(corner if best is None else best[2], False, True)

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

    def _ranked(self, candidates: Sequence[Counts], days: int) -> list[tuple[int, int, Counts]]:
        """Days over, waits and counts of each candidate on the first `days` search days, best first."""
        looks = self.look(candidates, 0, days)
        return sorted((over, waits, c) for (over, waits), c in zip(looks, candidates, strict=True))

    def _bounded_stages_can(self, box: Box) -> bool:
        """Whether the stages with a bound, at their most and with no line elsewhere, can keep the limit."""
        most = tuple(h or 0 for h in box.high)
        if not any(most):
            return True
        return bool(self.within([(most[0], most[1], most[2], most[3])], 0, self.most_over))

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
        """The counts from the corner up, in levels of equal cost and number of stations."""

        def entry(counts: Counts) -> tuple[int, int, Counts]:
            return (self._cost(counts), sum(counts), counts)

        heap, known = [entry(corner)], {corner}
        while heap:
            cost, stations, _ = heap[0]
            level = []
            while heap and heap[0][:2] == (cost, stations):
                counts = heapq.heappop(heap)[2]
                level.append(counts)
                for more in box.raised(counts):
                    if more not in known:
                        known.add(more)
                        heapq.heappush(heap, entry(more))
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
