"""How long a county is sized: numbers of stations of all sites, at two efforts and for two kinds of ballot.

County: election-day ballots by polling place of Montgomery County, Maryland, November 2014, general election,
from the folder that POLLSTEAD_DATA names (md2014_sites; credit in its README); without it 227 sites of 930.
Service times and arrival shares are invented.

    POLLSTEAD_DATA=FOLDER ./run exec pollstead bench sizing --json [--write]
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import json
import os
import resource
import sys
import time
from pathlib import Path

import numpy as np
from bench.measured import machine_and_moment

from pollstead.election.values import frozen_array
from pollstead.plan.lines.run import run
from pollstead.plan.lines.sizing import DAYS
from pollstead.plan.terms.lines import (
    ArrivalDay,
    LinesGiven,
    ServiceLaw,
    SiteLines,
    SitePath,
    StageWork,
    WaitLimit,
)
from pollstead.plan.terms.part import Effort

HOUR_MS = 3_600_000
DATE = dt.date(2028, 11, 7)
WEIGHTS = [9, 8, 7, 6] + [4] * 16 + [5] * 8 + [8, 8, 9, 9] * 4 + [5, 4, 3, 3] * 2
LIMIT = WaitLimit(limit_ms=1_800_000, risk_ppm=50_000)


def work(mean_s: int, cv_ppm: int) -> StageWork:
    """A step with lognormal service and a line."""
    return StageWork(law=ServiceLaw(mean_ms=mean_s * 1000, cv_ppm=cv_ppm))


PAPER = SitePath(
    check_in=work(85, 600_000),
    mark=work(300, 500_000),
    accessible=work(600, 500_000),
    accessible_share_ppm=20_000,
    cast=work(15, 600_000),
)
ELECTRONIC = SitePath(check_in=work(85, 600_000), mark=work(240, 500_000))


def a_day(totals: object) -> ArrivalDay:
    """07:00 to 20:00 with a morning and an evening peak."""
    return ArrivalDay(
        date=DATE,
        open_ms=7 * HOUR_MS,
        close_ms=20 * HOUR_MS,
        slot_weights=frozen_array(WEIGHTS, "int64"),
        totals=frozen_array(totals, "int64"),
        opening_line_share_ppm=20_000,
    )


def county_sizes() -> tuple[str, list[int]]:
    """Election-day ballots of each site, and where they are from."""
    folder = os.environ.get("POLLSTEAD_DATA")
    path = Path(folder or "") / "md2014_sites" / "sites.csv"
    if not folder or not path.is_file():
        return "227 sites of 930 voters (POLLSTEAD_DATA absent)", [930] * 227
    with path.open(encoding="utf-8", newline="") as f:
        rows = [r for r in csv.DictReader(f) if r["county"].startswith("Montgomery")]
    sizes = [int(r["ballots_election_day"]) for r in rows]
    return "Montgomery County, Maryland, November 2014, election-day ballots", [n for n in sizes if n > 0]


def size_county(path: SitePath, effort: Effort, workers: int) -> dict[str, object]:
    """Seconds, work and stations of sizing the county's sites; totals spread by 12 %."""
    words, sizes = county_sizes()
    sites = []
    for k, voters in enumerate(sizes):
        # As many draws of demand as a plan of this effort has.
        totals = np.random.default_rng(k).normal(voters, voters * 0.12, DAYS[effort]).round().clip(0)
        sites.append(
            SiteLines(
                site=f"site/S{k:03}", seed_key=f"S{k:03}", path=path, days=(a_day(totals),), limit=LIMIT
            )
        )
    start, cpu = time.perf_counter(), time.process_time()
    outcome = run(LinesGiven(sites=tuple(sites)), 1, effort, workers=workers)
    seconds = time.perf_counter() - start
    counts = np.array([answer.counts.by_stage() for answer in outcome.value])
    return {
        "sites": f"{len(sites)}, {words}",
        "voters": sum(sizes),
        "effort": effort.value,
        "workers": workers,
        "seconds": round(seconds, 1),
        "CPU seconds of all threads": round(time.process_time() - cpu, 1),
        "million voter passes": round(outcome.work_units / 1e6),
        "stations by stage": counts.sum(axis=0).tolist(),
        "all keep the limit": all(answer.meets_limit for answer in outcome.value),
        "close to the limit": sum(answer.undecided for answer in outcome.value),
        "fresh days of a site, mean": round(
            sum(answer.figures.risk.days for answer in outcome.value) / len(sites)
        ),
        "none can lose one": all(answer.least for answer in outcome.value),
    }


def main() -> int:
    """Print the figures; with --write keep them in bench/results/sizing.json."""
    asked = argparse.ArgumentParser(prog="pollstead bench sizing")
    asked.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    asked.add_argument("--json", action="store_true", help="as ever: the figures are printed as JSON")
    asked.add_argument("--write", action="store_true", help="keep them as bench/results/sizing.json")
    given = asked.parse_args()
    result: dict[str, object] = {
        "what": "lines: sizing a county",
        **machine_and_moment(),
    }
    for name, path, effort in (
        ("county, electronic units", ELECTRONIC, Effort.QUICK),
        ("county, electronic units, usual effort", ELECTRONIC, Effort.USUAL),
        ("county, paper and scanner", PAPER, Effort.QUICK),
    ):
        print(name, file=sys.stderr, flush=True)
        result[name] = size_county(path, effort, given.workers)
    result["peak memory, MB"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    text = json.dumps(result, indent=2)
    if given.write:
        (Path(__file__).parent / "results" / "sizing.json").write_text(text + "\n", encoding="utf-8")
    print(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
