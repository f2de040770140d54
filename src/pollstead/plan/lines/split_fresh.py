"""Fresh days decide: the split, what sites have now, and a split by load meet the same new voters."""

from __future__ import annotations

import heapq
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from typing import TYPE_CHECKING

from pollstead.plan.lines.loads import load_milli_erlangs
from pollstead.plan.lines.split_equity import county_row, rows_by
from pollstead.plan.lines.split_tables import four, range_of, respond, uses, within_bounds
from pollstead.plan.lines.trials import FRESH_FROM
from pollstead.plan.terms.fresh import Fresh, FreshSite
from pollstead.plan.terms.split import Counts, SplitAnswer, SplitGiven

if TYPE_CHECKING:
    from collections.abc import Callable

FIRST_FRESH = FRESH_FROM + (1 << 14)
"""Sizing's own fresh days come before these, so that neither it nor the split has seen them."""


def by_load(given: SplitGiven) -> dict[str, Counts]:
    """The fleet in proportion to load: the next station goes where load for each station is greatest.

    Every stage begins with its least number; load is that of the busiest hour. A stage gets its next station
    by load / (stations + 1/2), the rule of odd divisors (Sainte-Laguë), which favors neither large nor small.
    The least numbers must fit the fleet.
    """
    sites = sorted(given.sites, key=lambda site: site.key)
    allowed = [range_of(site, given.fleet) for site in sites]
    counts = [list(a.low) for a in allowed]
    left = [kind.available for kind in given.fleet]
    for at, site in enumerate(sites):
        for n, used in enumerate(uses(site, four(counts[at]))):
            left[n] -= used
    loads = {
        (at, k): max(load_milli_erlangs(site.lines, day, k) for day in site.lines.days)
        for at, site in enumerate(sites)
        for k in range(4)
        if allowed[at].chosen[k]
    }

    def entry(at: int, k: int) -> tuple[Fraction, int, int]:
        return (-Fraction(2 * loads[at, k], 2 * counts[at][k] + 1), at, k)

    heap = [entry(at, k) for at, k in loads]
    heapq.heapify(heap)
    while heap:
        _, at, k = heapq.heappop(heap)
        takes = [row[k] for row in sites[at].takes]
        counts[at][k] += 1
        fits = counts[at][k] <= allowed[at].high[k] and within_bounds(sites[at], four(counts[at]))
        if not fits or any(take > have for take, have in zip(takes, left, strict=True)):
            counts[at][k] -= 1
            continue
        left = [have - take for take, have in zip(takes, left, strict=True)]
        heapq.heappush(heap, entry(at, k))
    return {site.id: four(counts[at]) for at, site in enumerate(sites)}


def fresh(
    given: SplitGiven,
    answer: SplitAnswer,
    seed: int,
    days: int,
    *,
    workers: int = 1,
    told: Callable[[int, int], None] | None = None,
) -> Fresh:
    """The split, what sites have, and the split by load on `days` days that none of them has seen."""
    chosen = {one.site: one.counts for one in answer.sites}
    load = by_load(given)
    sites = sorted(given.sites, key=lambda site: site.key)

    def compare(at: int) -> FreshSite:
        site = sites[at]
        wanted = (site.has, chosen[site.id], load[site.id])
        tried = sorted(set(wanted))
        rows, voters, _ = respond(site.lines, tried, seed, FIRST_FRESH, days)
        found = {row.counts: row for row in rows}
        now, split, spread = (found[counts] for counts in wanted)
        return FreshSite(
            site=site.id, voters=voters, by_load=load[site.id], now=now, split=split, load=spread
        )

    done: list[FreshSite] = []
    with ThreadPoolExecutor(workers) as pool:
        jobs = [pool.submit(compare, at) for at in range(len(sites))]
        try:
            for job in jobs:
                done.append(job.result())
                if told is not None:
                    told(len(done), len(jobs))
        except BaseException:
            pool.shutdown(wait=True, cancel_futures=True)
            raise
    county = county_row(done)
    return Fresh(
        days=days,
        sites=tuple(done),
        now_ms=sum(site.now.wait_ms for site in done),
        split_ms=sum(site.split.wait_ms for site in done),
        load_ms=sum(site.load.wait_ms for site in done),
        areas=rows_by(done, {site.id: (site.area,) for site in sites}, county),
        languages=rows_by(done, {site.id: site.languages or ("",) for site in sites}, county),
        county=county,
    )
