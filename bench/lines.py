"""How fast the lines are simulated and a county is sized, beside simpy telling the same day in the same run.

Both tell the same model (opening line, check-in, general and accessible marking, casting; lognormal service),
draw their own random numbers, and use one core; the figure is simulated voters a second, draws included.

County: election-day ballots by polling place of Montgomery County, Maryland, November 2014, general election,
from the folder that POLLSTEAD_DATA names (md2014_sites; credit in its README); without it 227 sites of 930.
Service times and arrival shares are invented.

    POLLSTEAD_DATA=FOLDER ./run exec python bench/lines.py
"""

from __future__ import annotations

import csv
import datetime as dt
import json
import math
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import simpy

from pollstead.election.values import frozen_array
from pollstead.plan.lines.run import run
from pollstead.plan.lines.trials import Counts, Trials
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
VOTERS = 930
WAITING = 19
COUNTS: Counts = (4, 11, 2, 1)
SIMPY_DAYS = 30
ENGINE_DAYS = 20_000
ROUNDS = 3
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


def simpy_day(random: np.random.Generator) -> float:
    """One day of the same model in simpy, its draws made beforehand with numpy; the longest wait, s."""

    def lognormal(step: StageWork, n: int) -> list[float]:
        spread = math.log1p((step.law.cv_ppm / 1e6) ** 2)
        mean = math.log(step.law.mean_ms / 1000) - spread / 2
        sample: list[float] = random.lognormal(mean, math.sqrt(spread), n).tolist()
        return sample

    slots = random.choice(len(WEIGHTS), VOTERS - WAITING, p=np.array(WEIGHTS) / sum(WEIGHTS))
    later = np.sort(900 * (slots + random.random(VOTERS - WAITING)))
    times = np.concatenate([np.zeros(WAITING), later]).tolist()
    special = (random.random(VOTERS) < PAPER.accessible_share_ppm / 1e6).tolist()
    takes = [lognormal(step, VOTERS) for step in PAPER.works() if step is not None]
    world = simpy.Environment()
    stations = [simpy.Resource(world, c) for c in COUNTS]
    longest = 0.0

    def voter(number: int) -> simpy.events.ProcessGenerator:
        nonlocal longest
        yield world.timeout(times[number])
        waited = 0.0
        for k in (0, 2 if special[number] else 1, 3):
            with stations[k].request() as turn:
                reached = world.now
                yield turn
                waited += world.now - reached
                yield world.timeout(takes[k][number])
        longest = max(longest, waited)

    for number in range(VOTERS):
        world.process(voter(number))
    world.run()
    return longest


def side_by_side() -> dict[str, object]:
    """Voters a second of both, best of three rounds taken in turn; and their mean longest wait."""
    trials = Trials(PAPER, a_day([VOTERS]), LIMIT, 1)
    trials.rows([COUNTS], 0, 1)
    random = np.random.default_rng(1)
    engine_s, many_s, simpy_s = [], [], []
    for _ in range(ROUNDS):
        start = time.process_time()
        theirs = [simpy_day(random) for _ in range(SIMPY_DAYS)]
        simpy_s.append(time.process_time() - start)
        start = time.process_time()
        rows = trials.rows([COUNTS], 0, ENGINE_DAYS)
        engine_s.append(time.process_time() - start)
        near = [(COUNTS[0], COUNTS[1] + k, COUNTS[2], COUNTS[3]) for k in range(8)]
        start = time.process_time()
        trials.rows(near, 0, ENGINE_DAYS // 8)
        many_s.append(time.process_time() - start)
    ours = VOTERS * ENGINE_DAYS / min(engine_s)
    reference = VOTERS * SIMPY_DAYS / min(simpy_s)
    return {
        "engine voters/s, one core": round(ours),
        "engine passes/s, eight candidates on the same days": round(VOTERS * ENGINE_DAYS / min(many_s)),
        "simpy voters/s, one core": round(reference),
        "ratio": round(ours / reference),
        "mean longest wait of a day, s, engine": round(float(rows[0, :, 0].mean()) / 1000, 1),
        "mean longest wait of a day, s, simpy": round(float(np.mean(theirs)), 1),
        "days": {"engine": ENGINE_DAYS, "simpy": SIMPY_DAYS},
    }


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
        totals = np.random.default_rng(k).normal(voters, voters * 0.12, 1000).round().clip(0)
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
        "none can lose one": all(answer.least for answer in outcome.value),
    }


def cold_compile_s() -> float:
    """Seconds of a first call in a new process with an empty compile cache, imports included."""
    code = "import bench_lines_call"
    call = (
        "import numpy as np\n"
        "from pollstead.plan.lines.engine import simulate_days\n"
        "one = np.ones(1, np.int64)\n"
        "edges, shares = np.array([0, 9]), np.array([0, 1 << 28])\n"
        "tables = np.zeros((5, 771), np.int64)\n"
        "simulate_days(1, 0, one, one, 0, edges, shares, tables, 0, np.ones((1, 4)), 0)\n"
    )
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "bench_lines_call.py").write_text(call, encoding="utf-8")
        paths = os.pathsep.join([folder, *(p for p in sys.path if p)])
        environment = {**os.environ, "NUMBA_CACHE_DIR": folder, "PYTHONPATH": paths}
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", code], check=True, env=environment)
        return time.perf_counter() - start


def main() -> int:
    """Print the figures and write them beside this file."""
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"],
        capture_output=True,
        text=True,
        check=False,
    ).stdout.strip()
    result = {
        "what": "lines: the engine beside simpy on the same day; sizing a county",
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}",
        "other work on the machine at the start, mean of runnable tasks over 1 min": os.getloadavg()[0],
        "commit": commit,
        "date": dt.datetime.now(dt.UTC).date().isoformat(),
        "first call with an empty compile cache, s": round(cold_compile_s(), 1),
        "side by side": side_by_side(),
        "county, electronic units": size_county(ELECTRONIC, Effort.QUICK, os.cpu_count() or 1),
        "county, electronic units, usual effort": size_county(ELECTRONIC, Effort.USUAL, os.cpu_count() or 1),
        "county, paper and scanner": size_county(PAPER, Effort.QUICK, os.cpu_count() or 1),
        "peak memory, MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
    }
    text = json.dumps(result, indent=2)
    (Path(__file__).parent / "results" / "lines.json").write_text(text + "\n", encoding="utf-8")
    print(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
