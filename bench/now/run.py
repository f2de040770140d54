"""The wait now at many sites at once: what an update costs, and whether its intervals hold what was true.

    ./run exec pollstead bench now --json [--sites 600] [--write] [--quick]

True days are told event by event from the plan of Larkmoor, unlike it by chance: voters, shape of arrivals
and service times differ as the seed has it. People count about once an hour, a tenth wrong and in fives, and
sometimes not at all. The estimate sees the plan and the counts. Under our own model; not any place's lines.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bench.lines.county import planned_county
from bench.measured import machine_and_moment
from bench.now.true_day import MINUTE_MS, TrueDay

from pollstead.plan.lines import now
from pollstead.plan.lines.trials import as_station_counts
from pollstead.plan.terms.lines import HOUR_MS, StationCounts
from pollstead.plan.terms.now import Band, Known, LineReport, NowGiven, NowSite

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from bench.lines.county import SiteDay

TOP = Path(__file__).resolve().parents[2]
MOMENTS_AFTER_OPENING = (2.33, 4.67, 8.08, 10.5, 11.75)
"""Hours after opening at which waits are asked for."""

BUSY_AT = 10.5
GRACE_MS = 30_000
"""A true wait half a minute outside an interval is inside: bands are told in minutes."""

ONE_EACH = StationCounts(check_in=1, mark=1, mark_accessible=1, cast=1)


def at_site(one: SiteDay, name: str, reports: tuple[LineReport, ...]) -> NowSite:
    """The site as the plan has it, with what was told."""
    counts = as_station_counts(one.counts)
    return NowSite(
        site=name, seed_key=name, path=one.path, day=one.day, counts=counts, floor=ONE_EACH, most=counts,
        reports=reports,
    )  # fmt: skip


def given_at(sites: tuple[NowSite, ...], now_ms: int) -> NowGiven:
    """All sites at a moment, by the rules' usual minutes."""
    return NowGiven(
        sites=sites, now_ms=now_ms, stale_ms=75 * MINUTE_MS, limit_ms=30 * MINUTE_MS,
        set_up_ms=10 * MINUTE_MS, usual_travel_ms=25 * MINUTE_MS, spares=(4, 8, 2, 4),
    )  # fmt: skip


Case = tuple[int, float, float]
"""On which side of its band the truth lies (0: inside), how far the middle is off, how wide the band is."""


class Held:
    """How often the bands of one figure hold what was true, and how far their middle is off.

    `line_from`: from so much on somebody waits; where nobody does, any band holds. A case has a line where
    its band reaches that: who looks can tell. Cases picked by what was true are told apart: they keep each
    line that was missed and leave out most of those that never were, so that any bands hold less often there.
    """

    def __init__(self, line_from: float) -> None:
        self.line_from = line_from
        self.cases: list[Case] = []
        self.lines: list[Case] = []
        self.true_lines: list[Case] = []

    def add(self, band: Band, true: float, grace: float) -> None:
        """One band beside what was true."""
        side = (true > band.high + grace) - (true < band.low - grace)
        case = (side, abs(band.middle - true), float(band.high - band.low))
        self.cases.append(case)
        if band.high >= self.line_from:
            self.lines.append(case)
        if max(band.middle, true) >= self.line_from:
            self.true_lines.append(case)

    def figures(self, unit: float) -> dict[str, object]:
        """All cases, those whose band has a line, and those whose middle or truth has one."""
        return {
            **_share(self.cases, unit),
            "with_a_line": _share(self.lines, unit),
            "picked_by_the_truth": _share(self.true_lines, unit),
        }


def _share(cases: list[Case], unit: float) -> dict[str, object]:
    """Share held (they say 80 %), its standard error; error of the middle and width of bands, in the unit."""
    n = len(cases)
    if n == 0:
        return {"bands": 0}
    share = sum(side == 0 for side, _, _ in cases) / n
    return {
        "bands": n,
        "held": round(share, 3),
        "standard_error": round(math.sqrt(share * (1 - share) / n), 3),
        "truth_above": round(sum(side > 0 for side, _, _ in cases) / n, 3),
        "truth_below": round(sum(side < 0 for side, _, _ in cases) / n, 3),
        "median_error": round(statistics.median(off for _, off, _ in cases) / unit, 2),
        "mean_error": round(statistics.fmean(off for _, off, _ in cases) / unit, 2),
        "mean_width": round(statistics.fmean(wide for _, _, wide in cases) / unit, 2),
    }


def accuracy(days: Sequence[SiteDay], true: Sequence[TrueDay], moments: Sequence[float]) -> dict[str, object]:
    """Bands beside the truth: waits now and later, lines at the next quarter hour and an hour on."""
    held = {name: Held(MINUTE_MS) for name in ("wait now", "wait in 30 min", "wait in 60 min", "last out")}
    lines = {name: Held(3) for name in ("line now", "line at the next quarter hour", "line in an hour")}
    asked = known = 0
    for one, day in zip(days, true, strict=True):
        site = at_site(one, one.name, day.reports())
        for hours in moments:
            now_ms = one.day.open_ms + round(hours * HOUR_MS)
            if now_ms >= one.day.close_ms:
                continue
            asked += 1
            found = now.run(given_at((site,), now_ms), 1).sites[0]
            if found.known is not Known.ESTIMATED:
                continue
            known += 1
            for name, band, later in (
                ("wait now", found.wait, 0),
                ("wait in 30 min", found.in_30, 30),
                ("wait in 60 min", found.in_60, 60),
            ):
                if band is not None:
                    held[name].add(band, day.wait_ms(now_ms + later * MINUTE_MS), GRACE_MS)
            if found.last_out is not None:
                held["last out"].add(found.last_out, day.told.last_out_ms, GRACE_MS)
            if found.in_line is not None:
                lines["line now"].add(found.in_line, day.state(now_ms)[0], 0.5)
            ahead = [point for point in found.points if point.at_ms > now_ms]
            for name, place in (("line at the next quarter hour", 0), ("line in an hour", 4)):
                if len(ahead) > place:
                    lines[name].add(ahead[place].in_line, day.state(ahead[place].at_ms)[0], 0.5)
    return {
        "true_days": len(days),
        "asked": asked,
        "known": known,
        "bands_say": 0.8,
        "minutes": {name: one.figures(MINUTE_MS) for name, one in held.items()},
        "people": {name: one.figures(1) for name, one in lines.items()},
    }


def cost(
    days: Sequence[SiteDay], true: Sequence[TrueDay], sites: int, rounds: int, workers: int, busy_at: float
) -> dict[str, object]:
    """Seconds of one update of so many sites late on a busy day; copies of a site have draws of their own."""
    told = [day.reports() for day in true]
    places = [n % len(days) for n in range(sites)]
    every = tuple(at_site(days[k], f"{days[k].name}-{n}", told[k]) for n, k in enumerate(places))
    given = given_at(every, max(one.day.open_ms for one in days) + round(busy_at * HOUR_MS))
    now.run(given_at(every[:1], given.now_ms), 1)
    wall, cpu, moves, known = [], [], 0, 0
    for _ in range(rounds):
        start, begun = time.perf_counter(), time.process_time()
        answer = now.run(given, 1, workers)
        wall.append(round(time.perf_counter() - start, 2))
        cpu.append(round(time.process_time() - begun, 2))
        moves, known = len(answer.moves), sum(one.known is Known.ESTIMATED for one in answer.sites)
    return {
        "sites": sites,
        "estimated": known,
        "moves": moves,
        "states_a_site": now.STATES,
        "threads": workers,
        "hours_after_opening": busy_at,
        "wall_s": wall,
        "cpu_s": cpu,
        "median_wall_s": round(statistics.median(wall), 2),
    }


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; with --write keep them in bench/results/now.json."""
    asked = argparse.ArgumentParser(prog="pollstead bench now")
    asked.add_argument("--sites", type=int, default=600)
    asked.add_argument("--days", type=int, default=120, help="true days whose estimates are checked")
    asked.add_argument("--rounds", type=int, default=3)
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--json", action="store_true")
    asked.add_argument("--write", action="store_true")
    asked.add_argument("--quick", action="store_true", help="a small county, few days: says nothing")
    given = asked.parse_args(arguments)
    if min(given.sites, given.days, given.rounds, given.workers) < 1:
        asked.error("--sites, --days, --rounds and --workers must be 1 or more")
    if given.quick and given.write:
        asked.error("--write keeps a whole run, not a quick one")
    result = result_of(given, lambda words: print(words, file=sys.stderr, flush=True))
    text = json.dumps(result, indent=2, ensure_ascii=False)
    if given.write:
        (TOP / "bench" / "results" / "now.json").write_text(text + "\n", encoding="utf-8")
    if given.json:
        print(text)
    else:
        print_table(result)
    return 0


def result_of(given: argparse.Namespace, step: Callable[[str], None]) -> dict[str, Any]:
    """The whole result."""
    folder = TOP / ("small" if given.quick else "larkmoor")
    here, begun = machine_and_moment(), time.perf_counter()
    step(f"the plan of {folder.name}")
    county = planned_county(folder, given.seed, breaks=False, by_load=given.quick, workers=given.workers)
    last = tuple({one.name: one for one in county.days}.values())  # each site's last day: election day
    sites, days, rounds = (6, 2, 1) if given.quick else (given.sites, given.days, given.rounds)
    chosen = [last[n % len(last)] for n in range(days)]
    step(f"{days} true days")
    true = [TrueDay(one, given.seed * 100_000 + n) for n, one in enumerate(chosen)]
    moments = MOMENTS_AFTER_OPENING[2:4] if given.quick else MOMENTS_AFTER_OPENING
    step("accuracy")
    exact = accuracy(chosen, true, moments)
    step(f"an update of {sites} sites")
    spent = cost(chosen[: len(last)], true[: len(last)], sites, rounds, given.workers, BUSY_AT)
    return {
        "what": f"the wait now at sites of {folder.name}, true days under our own model",
        "seconds_of_an_update": spent["median_wall_s"],
        "wait_now_held": exact["minutes"]["wait now"].get("held"),
        "wait_now_held_with_a_line": exact["minutes"]["wait now"]["with_a_line"].get("held"),
        **here,
        "seed": given.seed,
        "quick": given.quick,
        "update": spent,
        "accuracy": exact,
        "run_wall_s": round(time.perf_counter() - begun, 1),
    }


def print_table(result: dict[str, Any]) -> None:
    """The figures for people."""
    update, exact = result["update"], result["accuracy"]
    print(f"{result['what']}; {result['machine']}; commit {result['commit']}")
    print(
        f"update of {update['sites']} sites, {update['threads']} threads: {update['median_wall_s']} s of the "
        f"clock, {statistics.median(update['cpu_s'])} s of the processors, {update['moves']} moves"
    )
    print(f"{exact['known']} of {exact['asked']} asked for are known; bands say {exact['bands_say']:.0%}")
    for unit in ("minutes", "people"):
        for name, every in exact[unit].items():
            for words, one in (
                (name, every),
                (f"{name}, with a line", every["with_a_line"]),
                (f"{name}, picked by the truth", every["picked_by_the_truth"]),
            ):
                if one["bands"]:
                    print(
                        f"{words:44}{one['held']:>7.1%} +- {one['standard_error']:.1%} held, middle off by "
                        f"{one['median_error']} {unit} (median), band {one['mean_width']} {unit} wide, "
                        f"n {one['bands']}"
                    )


if __name__ == "__main__":
    sys.exit(main())
