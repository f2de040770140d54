"""``pollstead bench counts``: seed faults over Larkmoor, have them explained, print the figures.

    pollstead bench counts --json
    pollstead bench counts --sites 2000 --seed 7 --workers 2
    pollstead bench counts --write          also into bench/results/counts.json and counts.svg

Under our own error model; not field accuracy.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import sys
import time
from collections import defaultdict
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from bench.counts import day_run, score, slips
from bench.counts.acts import Chooser, Played, likeliest, play, suggested
from bench.counts.asking import Product, mis_set
from bench.counts.judge import Explainer, Verdict, judge
from bench.counts.naive import rule_of_nine
from bench.counts.night import Generator
from bench.counts.plot import reliability_picture
from bench.counts.process import Process
from bench.counts.site_days import SiteDay, site_days
from bench.measured import machine_and_moment

from pollstead.reconcile.explain.odds import USUAL

CAUTION = "Under our own error model; not field accuracy."
SEED = 20281107
SITES = 20_000
CHUNK = 100
STATE_SITES = 3_200
RESULTS = Path(__file__).resolve().parents[1] / "results"
ONE_SHEET_TIMES = 4
"""So many site-days with one sheet per ballot come to one with two."""


PRODUCT = "product"
MIS_SET = ("mis-set one way", "mis-set the other way")
SETTLED = "acts_settle_of_those_a_look_can_settle"
NO_PACKS = "pack size unknown"
RULE_OF_NINE = "rule of nine"
_ODDS = {
    PRODUCT: lambda: USUAL,
    NO_PACKS: lambda: USUAL,
    MIS_SET[0]: lambda: mis_set(0),
    MIS_SET[1]: lambda: mis_set(1),
}
"""The odds that the product is asked with."""


class Job(NamedTuple):
    """A run of nights of one generator, for one process."""

    generator: str
    explainer: str
    seed: int
    faults: int
    first: int
    last: int


def all_days() -> tuple[SiteDay, ...]:
    """Larkmoor's site-days in turn; one in five with two sheets per ballot."""
    return site_days(1) * ONE_SHEET_TIMES + site_days(2)


@cache
def generator_of(name: str) -> tuple[Generator, int]:
    """A generator by name, and the size of a pack of ballots in its county."""
    made: dict[str, tuple[Generator, int]] = {
        slips.HandSlips.name: (slips.HandSlips(all_days()), slips.PACK),
        Process.name: (Process(all_days()), day_run.PACK),
    }
    return made[name]


def work(job: Job) -> list[Verdict]:
    """Judge the nights of a job."""
    generator, pack = generator_of(job.generator)
    explainer: Explainer = (
        rule_of_nine
        if job.explainer == RULE_OF_NINE
        else Product(0 if job.explainer == NO_PACKS else pack, _ODDS[job.explainer]())
    )
    return [
        judge(generator.draw(job.seed, index, job.faults), generator, explainer)
        for index in range(job.first, job.last)
    ]


def jobs_of(generator: str, explainer: str, seed: int, faults: int, sites: int) -> list[Job]:
    """Nights in runs that keep every process busy."""
    return [
        Job(generator, explainer, seed, faults, first, min(first + CHUNK, sites))
        for first in range(0, sites, CHUNK)
    ]


def judged(pool: ProcessPoolExecutor, jobs: Sequence[Job]) -> list[Verdict]:
    """The verdicts of all jobs in order, saying now and then how far it is."""
    found: list[Verdict] = []
    for done, verdicts in enumerate(pool.map(work, jobs), start=1):
        found += verdicts
        if done % 20 == 0 or done == len(jobs):
            first = jobs[0]
            print(f"{first.generator}, faults {first.faults}: {len(found)} nights", file=sys.stderr)
    return found


def by_label(singles: Sequence[Verdict]) -> dict[str, dict[str, float]]:
    """Recall beside the bound for each seeded fault, most nights first."""
    groups: dict[str, list[Verdict]] = defaultdict(list)
    for one in singles:
        if one.differs:
            groups[one.labels[0]].append(one)
    return {
        label: {
            "nights": len(found),
            "top1": score.share_of(one.rank == 1 for one in found)[0],
            "top3": score.share_of(0 < one.rank <= 3 for one in found)[0],
            "bound": score.mean(one.bound_named for one in found),
        }
        for label, found in sorted(groups.items(), key=lambda item: (-len(item[1]), item[0]))
    }


def measure(name: str, seed: int, sites: int, pool: ProcessPoolExecutor) -> dict[str, Any]:
    """All figures of one generator."""
    singles = judged(pool, jobs_of(name, PRODUCT, seed, 1, sites))
    half, quarter, eighth = (max(sites // part, 1) for part in (2, 4, 8))
    doubles = judged(pool, jobs_of(name, PRODUCT, seed, 2, quarter))
    nothing = judged(pool, jobs_of(name, PRODUCT, seed, 0, half))
    rival = judged(pool, jobs_of(name, RULE_OF_NINE, seed, 1, quarter))
    top1_of = {
        asked: score.share_of(
            one.rank == 1 for one in judged(pool, jobs_of(name, asked, seed, 1, eighth)) if one.differs
        )[0]
        for asked in (*MIS_SET, NO_PACKS)
    }
    looks = jobs_of(name, PRODUCT, seed, 1, eighth)
    played = [one for found in pool.map(_play_suggested, looks) for one in found]
    rivals = [one for found in pool.map(_play_likeliest, looks) for one in found]
    bins = score.reliability(score.first_answers(singles, doubles))
    return {
        **score.figures(singles, doubles, nothing),
        "single_top1_with_odds_mis_set_by_two": min(top1_of[one] for one in MIS_SET),
        "single_top1_without_the_pack_size": top1_of[NO_PACKS],
        **score.acts_figures(played),
        "looking_at_the_likeliest_settles_of_those": score.acts_figures(rivals)[SETTLED],
        "rule_of_nine_top1": score.share_of(one.rank == 1 for one in rival if one.differs)[0],
        "reliability": [one._asdict() for one in bins],
        "by_fault": by_label(singles),
    }


def state_seconds(seed: int, sites: int, pool: ProcessPoolExecutor) -> tuple[float, float]:
    """Explain as many sites as a state has, all of which differ: seconds of the clock, and of all processors.

    Drawing the nights is in the first; other work on the machine makes it longer.
    """
    begun = time.perf_counter()
    jobs = jobs_of(Process.name, PRODUCT, seed, 1, sites)
    processor = sum(pool.map(_explain_only, jobs))
    return time.perf_counter() - begun, processor


def _play_suggested(job: Job) -> list[Played]:
    return _play(job, suggested)


def _play_likeliest(job: Job) -> list[Played]:
    return _play(job, likeliest)


def _play(job: Job, choose: Chooser) -> list[Played]:
    """Look where `choose` says on the nights of a job that differ."""
    generator, pack = generator_of(job.generator)
    nights = ((index, generator.draw(job.seed, index, job.faults)) for index in range(job.first, job.last))
    return [
        play(night, USUAL, pack, f"{job.seed} look {index}", choose)
        for index, night in nights
        if night.differs
    ]


def _explain_only(job: Job) -> float:
    generator, pack = generator_of(job.generator)
    explainer = Product(pack, USUAL)
    nights = [generator.draw(job.seed, index, job.faults) for index in range(job.first, job.last)]
    begun = time.process_time()
    for night in nights:
        explainer(night)
    return time.process_time() - begun


def result_of(sites: int, seed: int, workers: int, state_sites: int) -> dict[str, Any]:
    """The whole result: the worse of both generators on top, each under its name."""
    here = machine_and_moment()
    with ProcessPoolExecutor(workers) as pool:
        generators = {name: measure(name, seed, sites, pool) for name in (slips.HandSlips.name, Process.name)}
        clock, processor = state_seconds(seed, state_sites, pool)
    return {
        "what": f"explaining differences of closing counts over Larkmoor. {CAUTION}",
        **score.worse_of(tuple(generators.values())),
        "rule_of_nine_top1": max(one["rule_of_nine_top1"] for one in generators.values()),
        "state": {"sites": state_sites, "seconds": clock, "processor_seconds": processor},
        **here,
        "workers": workers,
        "seed": seed,
        "sites": sites,
        "generators": generators,
    }


def rounded(value: Any) -> Any:
    """Four digits after the point everywhere, for people who read the file; nothing of nothing is null."""
    if isinstance(value, float):
        if math.isnan(value):
            return None
        return round(value, 4)
    if isinstance(value, dict):
        return {key: rounded(one) for key, one in value.items()}
    return [rounded(one) for one in value] if isinstance(value, list) else value


def print_figures(result: dict[str, Any]) -> None:
    """The figures of both generators side by side."""
    generators = result["generators"]
    print(result["what"])
    print(f"{'':34}" + "".join(f"{name:>14}" for name in generators))
    for key, value in next(iter(generators.values())).items():
        if isinstance(value, (int, float)):
            print(f"{key:34}" + "".join(f"{one[key]:>14}" for one in generators.values()))
    state = result["state"]
    print(
        f"{state['sites']} sites that all differ, {result['workers']} workers: "
        f"{state['seconds']} s of the clock, "
        f"{state['processor_seconds']} s of the processors for explaining alone"
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and print; 0 when done."""
    parser = argparse.ArgumentParser(prog="pollstead bench counts", description=CAUTION)
    parser.add_argument("--json", action="store_true", help="print the result as JSON")
    parser.add_argument("--sites", type=int, default=SITES, help="nights with one fault for each generator")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--state-sites", type=int, default=STATE_SITES, help="sites that are timed together")
    parser.add_argument(
        "--write", action="store_true", help=f"also write counts.json and counts.svg into {RESULTS.name}"
    )
    options = parser.parse_args(arguments)
    if min(options.sites, options.workers, options.state_sites) < 1:
        parser.error("--sites, --workers and --state-sites must be 1 or more")
    result = rounded(result_of(options.sites, options.seed, options.workers, options.state_sites))
    text = json.dumps(result, indent=2)
    if options.write:
        (RESULTS / "counts.json").write_text(text + "\n", encoding="utf-8")
        picture = reliability_picture(
            {name: one["reliability"] for name, one in result["generators"].items()}
        )
        (RESULTS / "counts.svg").write_text(picture, encoding="utf-8")
    if options.json:
        print(text)
    else:
        print_figures(result)
    return 0


if __name__ == "__main__":
    sys.exit(main())
