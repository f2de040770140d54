"""A county of 500 invented sites, 60 numbers of stations each, beside one day of it in simpy."""

from __future__ import annotations

import statistics
import time
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import msgspec
import numpy as np
from bench.lines import simpy_days
from bench.lines.county import BREAK_MIN, SiteDay
from bench.sweep import RULES, invented

from pollstead.plan.lines.refused import fast_engine_refuses
from pollstead.plan.lines.sweep import rule_counts
from pollstead.plan.lines.trials import Counts, Trials
from pollstead.plan.terms.lines import HOUR_MS, ArrivalDay, Breaks, SiteLines, Stage
from pollstead.plan.terms.part import derive_seed

if TYPE_CHECKING:
    from collections.abc import Callable

QUIET_MS = 2 * HOUR_MS
"""No break in the first and last two hours, as the rules have it where a county says nothing."""

CHECK_INS, MARKS = range(-1, 4), range(-4, 8)
"""Numbers about those that a rule of thumb gives: 5 of check-in, 12 of marking."""


def invented_site(number: int, *, breaks: bool) -> SiteLines:
    """A site of the sweep, with breaks where the fast engine does them."""
    site = invented(number)
    if not breaks:
        return site
    day = site.days[0]
    rest = Breaks(
        stage=Stage.CHECK_IN,
        lasts_ms=BREAK_MIN * 60_000,
        from_ms=day.open_ms + QUIET_MS,
        until_ms=day.close_ms - QUIET_MS,
    )
    with_breaks: ArrivalDay = msgspec.structs.replace(day, breaks=(rest,))
    if fast_engine_refuses(site.path, with_breaks, (4, 11, 1, 1)) is not None:
        return site
    return msgspec.structs.replace(site, days=(with_breaks,))


def tried_at(site: SiteLines, most: int) -> list[Counts]:
    """The numbers tried at a site, `most` of them."""
    a, b, e, f = rule_counts(RULES[1], site, site.days[0])
    low_a, low_b = max(1, a + CHECK_INS.start), max(1, b + MARKS.start)
    every = [(low_a + i, low_b + j, e, f) for i in range(len(CHECK_INS)) for j in range(len(MARKS))]
    return every[:most]


def many_sites(
    sites: int,
    numbers: int,
    days: int,
    rounds: int,
    threads: int,
    *,
    breaks: bool,
    step: Callable[[str], None],
) -> tuple[float, dict[str, object]]:
    """Our time for all numbers over simpy's for one day, by the clock, and what it comes from."""
    every = [invented_site(number, breaks=breaks) for number in range(sites)]
    every.sort(key=lambda site: -int(site.days[0].totals.mean()))
    random = np.random.default_rng(1)

    def size(at: int) -> int:
        site = every[at]
        key = derive_seed(1, "many sites", site.seed_key, "days")
        trials = Trials(site.path, site.days[0], site.limit, key)
        trials.over(tried_at(site, numbers), 0, days)
        return trials.work_units

    def theirs(site: SiteLines) -> int:
        counts = rule_counts(RULES[1], site, site.days[0])
        one = SiteDay(site.site, site.path, site.days[0], counts, site.limit, 0)
        return simpy_days.tell(one, random).voters

    ours_s, ours_cpu, simpy_s, passes, voters = [], [], [], 0, 0
    for number in range(rounds):
        step(f"{sites} sites, round {number + 1} of {rounds}")
        start = time.perf_counter()
        voters = sum(theirs(site) for site in every)
        simpy_s.append(time.perf_counter() - start)
        start, cpu = time.perf_counter(), time.process_time()
        with ThreadPoolExecutor(threads) as pool:
            passes = sum(pool.map(size, range(sites)))
        ours_s.append(time.perf_counter() - start)
        ours_cpu.append(time.process_time() - cpu)
    ratio = statistics.median(ours_s) / max(1e-9, statistics.median(simpy_s))
    return ratio, {
        "sites": sites,
        "numbers_a_site": numbers,
        "days": days,
        "threads": threads,
        "breaks": bool(every[0].days[0].breaks),
        "voters_of_the_day": voters,
        "voter_passes": passes,
        "ours_wall_s": [round(s, 6) for s in ours_s],
        "ours_cpu_s": [round(s, 6) for s in ours_cpu],
        "simpy_one_day_wall_s": [round(s, 6) for s in simpy_s],
    }
