"""Voters a second: the engine, simpy and ciw on the same site-days, in turn; draws apart; two threads.

One-core figures are seconds of the processor, so that other work on the machine bears on them little;
figures of threads are seconds of the clock.
"""

from __future__ import annotations

import statistics
import time
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import numpy as np
from bench.lines import bare, ciw_days, simpy_days

from pollstead.plan.lines import engine
from pollstead.plan.lines.trials import Trials

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from bench.lines.county import SiteDay
    from bench.lines.voters import Told

STATISTICS = (
    "of each day: longest wait, voters over the limit, last voter out, waits added up by stage; the engine "
    "also the stage that makes most of the longest wait, and who left the line"
)
REFERENCE_S_A_VOTER = 60e-6
"""About what a voter costs who is told event by event; only to choose how many days are measured."""

MOST_Z = 4.0
"""Eight waits of two libraries are compared: one so far off by chance comes once in 2,000 runs."""

BESIDE = 64
"""Days of the engine beside each day of a library."""

WAIT_COLUMNS = [*range(engine.SUM_CHECK_IN, engine.SUM_CAST + 1), engine.SUM_CURBSIDE]


class Timed:
    """Some repeats of one thing: voters told, and seconds of the processor and of the clock of each."""

    def __init__(self) -> None:
        self.voters: list[int] = []
        self.cpu_s: list[float] = []
        self.wall_s: list[float] = []

    def add(self, what: Callable[..., int], *given: object) -> None:
        """Do it once more; it returns its voters."""
        wall, cpu = time.perf_counter(), time.process_time()
        voters = what(*given)
        self.cpu_s.append(time.process_time() - cpu)
        self.wall_s.append(time.perf_counter() - wall)
        self.voters.append(voters)

    def rate(self, *, wall: bool = False) -> float:
        """Voters a second, the median of the repeats."""
        return statistics.median(self.rates(wall=wall))

    def rates(self, *, wall: bool = False) -> list[float]:
        """Voters a second of each repeat."""
        seconds = self.wall_s if wall else self.cpu_s
        return [n / max(s, 1e-9) for n, s in zip(self.voters, seconds, strict=True)]

    def figures(self, *, wall: bool = False) -> dict[str, object]:
        """For people: rate with its spread, and what it comes from."""
        rates = self.rates(wall=wall)
        return {
            "voters_per_s": round(self.rate(wall=wall)),
            "voters_per_s_least": round(min(rates)),
            "voters_per_s_most": round(max(rates)),
            "measured_by": "clock" if wall else "processor",
            "voters": self.voters,
            "cpu_s": [round(s, 6) for s in self.cpu_s],
            "wall_s": [round(s, 6) for s in self.wall_s],
        }


def days_each(days: Sequence[SiteDay], wanted: int, budget_s: float) -> int:
    """Simulated days of each site-day, two at least; fewer than wanted where telling them is slow."""
    slow = sum(float(one.day.totals.mean()) for one in days if one.refused() is not None)
    if slow == 0.0:
        return wanted
    return max(2, min(wanted, int(budget_s / (slow * REFERENCE_S_A_VOTER))))


class Ours:
    """The engine on the site-days, each round on simulated days of their own."""

    def __init__(self, days: Sequence[SiteDay], each: int) -> None:
        # The longest first, so that no thread is left with one at the end.
        self.days = sorted(days, key=lambda one: -float(one.day.totals.mean()))
        self.each = each
        self.fast = self.reference = 0

    def round(self, number: int, threads: int = 1) -> int:
        """Simulate; voters told."""
        if threads == 1:
            done = [self._one(one, number) for one in self.days]
        else:
            with ThreadPoolExecutor(threads) as pool:
                done = list(pool.map(lambda one: self._one(one, number), self.days))
        self.fast += sum(fast for _, fast, _ in done)
        self.reference += sum(slow for _, _, slow in done)
        return sum(voters for voters, _, _ in done)

    def _one(self, one: SiteDay, number: int) -> tuple[int, int, int]:
        trials = Trials(one.path, one.day, one.limit, one.key, kept_bytes=0)
        trials.rows([one.counts], number * self.each, self.each)
        return trials.work_units, trials.fast_days, trials.reference_days


class Theirs:
    """A library on the site-days, one day of each a round; how many voters come is chosen beforehand.

    The waits of a few crowded days are most of all waits, so sums say little. Each day told is set beside
    days of the engine with as many voters, and its place among them is what is compared.
    """

    def __init__(
        self,
        tell: Callable[[SiteDay, np.random.Generator], Told],
        days: Sequence[SiteDay],
        rounds: int,
        seed: int,
    ) -> None:
        self.tell, self.random = tell, np.random.default_rng(seed)
        self.days = [
            [one.with_voters(int(self.random.choice(one.day.totals))) for one in days] for _ in range(rounds)
        ]
        self.waits: list[list[tuple[float, ...]]] = []

    def round(self, number: int) -> int:
        """Tell one day of each; voters told."""
        told = [self.tell(one, self.random) for one in self.days[number]]
        self.waits.append([one.waits_ms for one in told])
        return sum(one.voters for one in told)

    def beside(self, each: int) -> dict[str, object]:
        """Whether the engine tells the same: the places of the days told among `each` of the engine's.

        If both tell the same, a place is any of 0 to `each` with the same chance (that of a tie the middle),
        so the mean of n places is each / 2 with variance each (each + 2) / 12 n: the test of ranks of
        Wilcoxon (1945, "Individual comparisons by ranking methods"; from memory), one day against `each`,
        added up over the site-days.
        """
        off, means, told, n = np.zeros(5), np.zeros(5), np.zeros(5), 0
        for chosen, waits in zip(self.days, self.waits, strict=True):
            for one, mine in zip(chosen, waits, strict=True):
                trials = Trials(one.path, one.day, one.limit, one.key, kept_bytes=0)
                engine_days = trials.rows([one.counts], 0, each)[0][:, WAIT_COLUMNS]
                # The engine's waits are whole milliseconds.
                theirs = np.round(np.array(mine))
                below, same = (engine_days < theirs).sum(axis=0), (engine_days == theirs).sum(axis=0)
                off += below + same / 2 - each / 2
                means += engine_days.mean(axis=0)
                told += theirs
                n += 1
        z = off / np.sqrt(n * each * (each + 2) / 12)
        hours = 3_600_000 * len(self.days)
        return {
            "days_told": n,
            "wait_hours_a_county_day_by_stage_engine": [round(x / hours, 1) for x in means.tolist()],
            "wait_hours_a_county_day_by_stage_library": [round(x / hours, 1) for x in told.tolist()],
            "mean_place_by_stage": [round(0.5 + x / n / each, 3) for x in off.tolist()],
            "standard_errors_between": [round(x, 2) for x in z.tolist()],
            "agree": bool(np.abs(z).max() <= MOST_Z),
        }


class Drawing:
    """The engine on days that it does itself, with the time of its draws apart."""

    def __init__(self, ours: Ours) -> None:
        self.ours = ours
        self.cpu_s: list[float] = []

    def round(self, number: int) -> int:
        """Simulate with a clock around the draws; voters told."""
        drawn, spent = engine.draw_days, [0.0]

        def timed(*given: Any, **more: Any) -> Any:
            start = time.thread_time()
            try:
                return drawn(*given, **more)
            finally:
                spent[0] += time.thread_time() - start

        engine.draw_days = timed
        try:
            return self.ours.round(number)
        finally:
            engine.draw_days = drawn
            self.cpu_s.append(spent[0])


def side_by_side(
    days: Sequence[SiteDay],
    each: int,
    rounds: int,
    seed: int,
    step: Callable[[str], None],
    *,
    budget_s: float = 4.0,
) -> tuple[dict[str, float], dict[str, object], bool]:
    """The ratios, what they come from, and whether the libraries tell the same as the engine.

    `budget_s`: so long may a round of the engine take where days are told event by event.
    """
    plain = [one.plain() for one in days]
    fast = [one for one in days if one.refused() is None] or plain
    mine, mine_plain = Ours(days, days_each(days, each, budget_s)), Ours(plain, each)
    drawing, two = Drawing(Ours(fast, each)), Ours(fast, each)
    simpy_side, ciw_side = (
        Theirs(simpy_days.tell, days, rounds, seed),
        Theirs(ciw_days.tell, plain, rounds, seed),
    )
    names = ("engine", "simpy", "engine, plain days", "ciw", "engine, draws apart", "words and quantiles")
    timed = {name: Timed() for name in (*names, "1 thread", "2 threads")}
    # Compiled and in the caches before anything is measured.
    for one in (mine, mine_plain, drawing.ours):
        Ours(one.days[:1], 1).round(0)
    bare.words(one=fast[0], days=16)
    for number in range(rounds):
        step(f"round {number + 1} of {rounds}")
        timed["engine"].add(mine.round, number)
        timed["simpy"].add(simpy_side.round, number)
        timed["engine, plain days"].add(mine_plain.round, number)
        timed["ciw"].add(ciw_side.round, number)
        timed["engine, draws apart"].add(drawing.round, number)
        timed["words and quantiles"].add(lambda: sum(bare.words(one, each) for one in fast))
        timed["1 thread"].add(two.round, number, 1)
        timed["2 threads"].add(two.round, number, 2)
    whole, draw_s = timed["engine, draws apart"], drawing.cpu_s
    beside = {
        "simpy": simpy_side.beside(BESIDE if mine.each == each else 3),
        "ciw": ciw_side.beside(BESIDE),
    }
    ratios = {
        "ratio_simpy": timed["engine"].rate() / timed["simpy"].rate(),
        "ratio_ciw": timed["engine, plain days"].rate() / timed["ciw"].rate(),
        "ratio_sampling_floor": statistics.median(
            a / max(b, 1e-9) for a, b in zip(whole.cpu_s, draw_s, strict=True)
        ),
        "threads_2_over_1": timed["2 threads"].rate(wall=True) / timed["1 thread"].rate(wall=True),
        "fast_share": mine.fast / (mine.fast + mine.reference),
    }
    figures: dict[str, object] = {
        "statistics": STATISTICS,
        "site_days": len(days),
        "site_days_refused": sorted({words for one in days if (words := one.refused()) is not None}),
        "simulated_days_of_each": {"engine": mine.each, "engine, plain days": each, "libraries": 1},
        "rounds": rounds,
        **{name: one.figures(wall="thread" in name) for name, one in timed.items()},
        "draws_cpu_s": [round(s, 6) for s in draw_s],
        "ratio_words_and_quantiles": round(timed["words and quantiles"].rate() / whole.rate(), 2),
        "beside": beside,
        "by_hour": by_hour(fast),
    }
    return ratios, figures, all(bool(one["agree"]) for one in beside.values())


def by_hour(days: Sequence[SiteDay]) -> dict[str, object]:
    """What waits by hour of arrival and lines at each quarter hour cost, sixteen days of each."""
    timed = Timed()

    def told() -> int:
        voters = 0
        for one in days:
            trials = Trials(one.path, one.day, one.limit, one.key, kept_bytes=0)
            trials.by_hour(one.counts, 0, 16)
            voters += trials.work_units
        return voters

    told()
    timed.add(told)
    return timed.figures()
