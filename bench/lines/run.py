"""The lines of a county beside general libraries, in one run; they take turns, so both meet the same machine.

    ./run exec pollstead bench lines --json [--write] [--no-breaks] [--quick]

The county is Larkmoor: its sites, days and service times, the numbers of stations that its plan gives, people
waiting at opening, its accessible stations, and breaks (15 minutes of each check-in station by the rules'
hours where the county sets none). Draws and statistics are counted on both sides. A run that finds other
waits than a library does ends with code 1: then the comparison says nothing.
"""

from __future__ import annotations

import argparse
import json
import resource
import sys
import time
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bench.lines import dividing, many, speed, starting
from bench.lines.county import planned_county
from bench.measured import machine_and_moment

from pollstead.plan.lines.vectors import machine

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

TOP = Path(__file__).resolve().parents[2]
RESULTS = TOP / "bench" / "results"
KEYS = (
    "ratio_simpy",
    "ratio_ciw",
    "ratio_sampling_floor",
    "threads_2_over_1",
    "county_over_simpy_one_day",
    "split_gap_pct",
    "split_gain_pct",
    "fast_share",
    "isa",
)
AIMS = {
    "ratio_simpy": (">= 1,000", "voters/s of one core over simpy's, same site-days, breaks included"),
    "ratio_ciw": (">= 4,000", "the same over ciw's, without breaks and failures"),
    "ratio_sampling_floor": ("<= 8", "time of draws and lines over the draws alone, same days"),
    "threads_2_over_1": (">= 1.8", "voters/s of two threads over one, by the clock"),
    "county_over_simpy_one_day": ("<= 1.5", "500 sites x 60 numbers x 64 days over simpy's one day of them"),
    "split_gap_pct": ("<= 0.1", "how far the split may be from the best of the numbers tried, percent"),
    "split_gain_pct": ("", "waiting saved on fresh days beside a split by load, percent"),
    "fast_share": (">= 0.95", "share of simulated days that the fast engine did"),
    "isa": ("", "vectors that the compiled code is for"),
}


def result_of(options: argparse.Namespace, step: Callable[[str], None]) -> tuple[dict[str, Any], bool]:
    """The whole result, and whether the libraries told the same waits."""
    quick = options.quick
    begun, cpu = time.perf_counter(), time.process_time()
    here = machine_and_moment()
    folder = TOP / ("small" if quick else "larkmoor")
    step(f"the plan of {folder.name}")
    county = planned_county(
        folder, options.seed, breaks=options.breaks, by_load=quick, workers=options.workers
    )
    planned_s, planned_cpu = time.perf_counter() - begun, time.process_time() - cpu
    each, rounds = (32, 2) if quick else (512, options.rounds)
    site_days = tuple({one.name: one for one in county.days}.values()) if quick else county.days
    ratios, figures, agree = speed.side_by_side(
        site_days, each, rounds, options.seed, step, budget_s=1.5 if quick else 4.0
    )
    sites, numbers, days, turns = (3, 6, 16, 1) if quick else (500, 60, 64, 2)
    over, county_figures = many.many_sites(
        sites, numbers, days, turns, options.workers, breaks=options.breaks, step=step
    )
    step("the split")
    split_days = (16, 32) if quick else (64, 256)
    split_ratios, split_figures = dividing.divide(county, *split_days, options.workers)
    step("import and first call")
    started = None if quick else starting.starting()
    ratios |= {"county_over_simpy_one_day": over, **split_ratios}
    found = {key: machine() if key == "isa" else round(ratios[key], 6) for key in KEYS}
    return {
        "what": f"waiting lines of the sites of {folder.name} beside general libraries, in one run",
        **found,
        **here,
        "versions": {name: version(name) for name in ("numba", "llvmlite", "numpy", "simpy", "ciw")},
        "seed": options.seed,
        "quick": quick,
        "county": {"name": folder.name, "sites": county.sites, "breaks at check-in": county.breaks},
        "speed": figures,
        "many_sites": county_figures,
        "split": split_figures,
        "starting": started,
        "plan_wall_s": round(planned_s, 1),
        "plan_cpu_s": round(planned_cpu, 1),
        "run_wall_s": round(time.perf_counter() - begun, 1),
        "run_cpu_s": round(time.process_time() - cpu, 1),
        "peak_memory_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
    }, agree


def print_table(result: dict[str, Any]) -> None:
    """The figures for people."""
    print(f"{result['what']}; {result['machine']}; commit {result['commit']}")
    for key in KEYS:
        aim, words = AIMS[key]
        value = result[key]
        shown = value if isinstance(value, str) else f"{value:,.4g}" if value < 1000 else f"{value:,.0f}"
        print(f"{key:28}{shown:>12}  {aim:10}  {words}")
    print()
    print(f"{'voters a second':28}{'median':>14}{'least':>14}{'most':>14}  by")
    for name, one in result["speed"].items():
        if isinstance(one, dict) and "voters_per_s" in one:
            numbers = "".join(f"{one[key]:>14,}" for key in _RATES)
            print(f"{name:28}{numbers}  {one['measured_by']}")
    for name, one in result["speed"]["beside"].items():
        words = "agree" if one["agree"] else "DO NOT AGREE"
        far = max(one["standard_errors_between"], key=abs)
        print(f"waits of {name} and the engine {words}: at most {far} standard errors between them")
    for name, one in (result["starting"] or {}).items():
        print(f"{name} start: import {one['import_s']} s, first call {one['first_call_s']} s")


_RATES = ("voters_per_s", "voters_per_s_least", "voters_per_s_most")


def options_of(arguments: Sequence[str] | None) -> argparse.Namespace:
    """What the command is asked for; leaves with code 2 for what makes no sense."""
    parser = argparse.ArgumentParser(prog="pollstead bench lines")
    parser.add_argument("--json", action="store_true", help="print the result as JSON")
    parser.add_argument("--write", action="store_true", help="keep it as bench/results/lines.json")
    parser.add_argument(
        "--breaks",
        action=argparse.BooleanOptionalAction,
        default=True,
        help="breaks at check-in, the bench's own where the county sets none",
    )
    parser.add_argument("--quick", action="store_true", help="a small county, few days: says nothing")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--workers", type=int, default=2, help="threads of the county and the split")
    options = parser.parse_args(arguments)
    if min(options.rounds, options.workers) < 1:
        parser.error("--rounds and --workers must be 1 or more")
    if options.quick and options.write:
        parser.error("--write keeps a whole run, not a quick one")
    return options


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and print; 0 when measured, 1 when a library told other waits."""
    options = options_of(arguments)
    begun = time.perf_counter()

    def step(words: str) -> None:
        print(f"{time.perf_counter() - begun:5.0f} s: {words}", file=sys.stderr, flush=True)

    result, agree = result_of(options, step)
    text = json.dumps(result, indent=2, ensure_ascii=False)
    if options.write:
        (RESULTS / "lines.json").write_text(text + "\n", encoding="utf-8")
    if options.json:
        print(text)
    else:
        print_table(result)
    return 0 if agree else 1


if __name__ == "__main__":
    sys.exit(main())
