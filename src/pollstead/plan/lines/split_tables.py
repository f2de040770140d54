"""The response table of each site: what the same simulated days say of each of its possible numbers.

All numbers of a site meet the same voters, those of the search days of sizing; the days on which splits are
compared afterwards are never seen here. Tried is a box around what the site has now, made wider where a split
wants to go beyond it.
"""

from __future__ import annotations

import itertools
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pollstead.plan.lines.run import alike_days
from pollstead.plan.lines.trials import Trials
from pollstead.plan.terms.part import derive_seed
from pollstead.plan.terms.split import Counts, FleetKind, Response, ResponseTable, SplitSite

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from pollstead.plan.terms.lines import SiteLines

MOST_STATIONS = 500
KEPT_BYTES = 16 << 20
"""Drawn voters kept while the numbers of one site are tried."""

BELOW_PART, ABOVE_PART = 6, 4
"""The box at first: one in six fewer, one in four more than now, at the least one each way."""


@dataclass(frozen=True, slots=True)
class Range:
    """The least and most of each stage that bounds allow, and which stages are chosen at all."""

    low: Counts
    high: Counts
    chosen: tuple[bool, bool, bool, bool]


def range_of(site: SplitSite, fleet: tuple[FleetKind, ...]) -> Range:
    """What bounds allow: a number that a person fixed stays, and so does one that takes no device."""
    lines = site.lines
    low, high, chosen = [0] * 4, [0] * 4, [False] * 4
    for k in range(4):
        if not lines.path.limited()[k]:
            continue
        fixed, ceiling = lines.fixed.by_stage()[k], lines.ceiling.by_stage()[k]
        takes = [(row[k], kind.available) for row, kind in zip(site.takes, fleet, strict=True) if row[k]]
        if fixed is not None or not takes:
            low[k] = high[k] = site.has[k] if fixed is None else fixed
            continue
        chosen[k] = True
        low[k] = max(1, lines.floor.by_stage()[k])
        most = min(max(available, 0) // each for each, available in takes)
        high[k] = max(low[k], min(MOST_STATIONS, most, MOST_STATIONS if ceiling is None else ceiling))
    return Range(four(low), four(high), (chosen[0], chosen[1], chosen[2], chosen[3]))


def four(numbers: Sequence[int]) -> Counts:
    """Four whole numbers as counts."""
    a, b, c, d = numbers
    return (a, b, c, d)


def within_bounds(site: SplitSite, counts: Counts) -> bool:
    """Whether the bounds of the site's room and power hold these numbers."""
    return all(
        sum(a * b for a, b in zip(bound.each, counts, strict=True)) <= bound.most for bound in site.bounds
    )


def uses(site: SplitSite, counts: Counts) -> tuple[int, ...]:
    """The devices of each kind that stand at the chosen stages with these numbers."""
    return tuple(sum(a * b for a, b in zip(row, counts, strict=True)) for row in site.takes)


class Box:
    """The numbers of one site that are tried: a low and a high of each stage, inside what bounds allow."""

    def __init__(self, site: SplitSite, allowed: Range) -> None:
        self.site, self.allowed = site, allowed
        low, high = list(allowed.low), list(allowed.high)
        for k in range(4):
            if allowed.chosen[k]:
                now = min(max(site.has[k], low[k]), high[k])
                low[k] = max(low[k], now - max(1, now // BELOW_PART))
                high[k] = min(high[k], now + max(1, now // ABOVE_PART))
        self.low, self.high = four(low), four(high)

    def lower(self, stage: int) -> bool:
        """Make the box one step deeper at a stage; False where a bound ends it."""
        if self.low[stage] <= self.allowed.low[stage]:
            return False
        low = list(self.low)
        low[stage] = max(self.allowed.low[stage], low[stage] - max(1, low[stage] // BELOW_PART))
        self.low = four(low)
        return True

    def raise_(self, stage: int) -> bool:
        """Make the box one step higher at a stage; False where a bound ends it."""
        if self.high[stage] >= self.allowed.high[stage]:
            return False
        high = list(self.high)
        high[stage] = min(self.allowed.high[stage], high[stage] + max(1, high[stage] // ABOVE_PART))
        self.high = four(high)
        return True

    def edge(self, counts: Counts) -> bool:
        """Whether the numbers lie where the box ends and no bound does."""
        return any(
            (counts[k] == self.low[k] > self.allowed.low[k])
            or (counts[k] == self.high[k] < self.allowed.high[k])
            for k in range(4)
        )

    def wider(self, counts: Counts) -> bool:
        """Make the box wider where `counts` lie at its edge; whether anything changed."""
        changed = False
        for k in range(4):
            if counts[k] == self.low[k]:
                changed = self.lower(k) or changed
            if counts[k] == self.high[k]:
                changed = self.raise_(k) or changed
        return changed

    def numbers(self) -> Iterator[Counts]:
        """All numbers in the box that room and power hold, in order."""
        ranges = [range(a, b + 1) for a, b in zip(self.low, self.high, strict=True)]
        for counts in itertools.product(*ranges):
            if within_bounds(self.site, four(counts)):
                yield four(counts)


def respond(
    lines: SiteLines, tried: Sequence[Counts], seed: int, first_day: int, days: int
) -> tuple[list[Response], int, int]:
    """The response to each of `tried`, with the voters of all days and the passes that it took.

    Waits are those of all operating days of the site; the longest wait and the days over the limit are those
    of its worst operating day. Alike days are simulated once and counted as often as they are there.
    """
    from pollstead.plan.lines import engine

    alike = alike_days(lines.days)
    distinct = {id(day): day for day in alike}
    wait = [0] * len(tried)
    longest, over_days, over_voters = [-1] * len(tried), [0] * len(tried), [0] * len(tried)
    voters = passes = 0
    for day in distinct.values():
        times = sum(1 for one in alike if one is day)
        key = derive_seed(seed, "lines", lines.seed_key, f"day {day.date.isoformat()}")
        trials = Trials(lines.path, day, lines.limit, key, KEPT_BYTES)
        rows = trials.rows(tried, first_day, days)
        columns = [*range(engine.SUM_CHECK_IN, engine.SUM_CAST + 1), engine.SUM_CURBSIDE]
        sums = rows[:, :, columns].sum(axis=(1, 2)).tolist()
        lasts = rows[:, :, engine.LONGEST].sum(axis=1).tolist()
        overs = (rows[:, :, engine.LONGEST] > lines.limit.limit_ms).sum(axis=1).tolist()
        people = rows[:, :, engine.OVER].sum(axis=1).tolist()
        for n in range(len(tried)):
            wait[n] += times * int(sums[n])
            over_voters[n] += times * int(people[n])
            if int(lasts[n]) > longest[n]:
                longest[n], over_days[n] = int(lasts[n]), int(overs[n])
        voters += times * trials.work_units // max(1, len(tried))
        passes += trials.work_units
    return (
        [
            Response(
                counts=counts,
                wait_ms=wait[n],
                longest_ms=longest[n],
                over_days=over_days[n],
                over_voters=over_voters[n],
            )
            for n, counts in enumerate(tried)
        ],
        voters,
        passes,
    )


class Tables:
    """The tables of all sites, grown as boxes grow. Not a value: it counts its work."""

    def __init__(self, sites: tuple[SplitSite, ...], seed: int, days: int, workers: int = 1) -> None:
        self.sites, self.seed, self.days, self.workers = sites, seed, days, workers
        self.passes = 0
        self.voters = [0] * len(sites)
        self._rows: list[dict[Counts, Response]] = [{} for _ in sites]

    def try_(
        self, wanted: Iterable[tuple[int, Iterable[Counts]]], told: Callable[[int, int], None] | None = None
    ) -> None:
        """Try numbers at sites, each once. The number of threads changes nothing."""
        new = []
        for at, numbers in wanted:
            fresh = [counts for counts in numbers if counts not in self._rows[at]]
            if fresh:
                new.append((at, fresh))
        with ThreadPoolExecutor(self.workers) as pool:
            jobs = [
                pool.submit(respond, self.sites[at].lines, fresh, self.seed, 0, self.days)
                for at, fresh in new
            ]
            try:
                for done, (job, (at, _)) in enumerate(zip(jobs, new, strict=True), start=1):
                    rows, voters, passes = job.result()
                    self._rows[at].update((row.counts, row) for row in rows)
                    self.voters[at] = voters
                    self.passes += passes
                    if told is not None:
                        told(done, len(new))
            except BaseException:
                pool.shutdown(wait=True, cancel_futures=True)
                raise

    def rows(self, at: int) -> list[Response]:
        """All responses of a site that were tried, in the order of the numbers."""
        return [self._rows[at][counts] for counts in sorted(self._rows[at])]

    def row(self, at: int, counts: Counts) -> Response | None:
        """The response of a site to these numbers; None where they were not tried."""
        return self._rows[at].get(counts)

    def tried(self) -> int:
        """How many numbers were tried at all sites together."""
        return sum(len(rows) for rows in self._rows)

    def table(self, at: int) -> ResponseTable:
        """A site's table as a value."""
        rows = self.rows(at)
        lows = [min(row.counts[k] for row in rows) for k in range(4)]
        highs = [max(row.counts[k] for row in rows) for k in range(4)]
        return ResponseTable(
            site=self.sites[at].id,
            days=self.days,
            voters=self.voters[at],
            low=four(lows),
            high=four(highs),
            rows=tuple(rows),
        )
