"""Sweeps over a state and a nation: one rule for stations beside another, on threads and on a cluster.

Sites are invented: their sizes follow a lognormal law about 900 voters (spread 0.6), three arrival shapes,
three ballot lengths, service times as in the bench of lines. Under our own model; not any place's lines.

    ./run exec pollstead bench sweep --json [--sites 3200] [--days 16] [--workers 2] [--write] [--keep FILE]

Prints voters simulated and seconds for the sites asked for, in threads and over processes of one machine
(``local:N``), the same tallies from both, what the cluster costs over threads, and what happens to time when
one of its processes is killed in the middle.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import resource
import signal
import statistics
import sys
import time
from pathlib import Path

import msgspec
from bench.measured import machine_and_moment

from pollstead.election.values import frozen_array
from pollstead.plan.lines.sweep import RatioRule, RuleTally, SweepAsked, added, sites_together, sweep
from pollstead.plan.terms.lines import ArrivalDay, ServiceLaw, SiteLines, SitePath, StageWork, WaitLimit
from pollstead.plan.terms.part import derive_seed
from pollstead.plan.terms.spreading import InThreads
from pollstead.work.cluster import spreading

HOUR_MS = 3_600_000
SHAPES = (
    [9, 8, 7, 6] + [4] * 16 + [5] * 8 + [8, 8, 9, 9] * 4 + [5, 4, 3, 3] * 2,
    [5] * 52,
    [12, 10, 8, 7] + [5] * 12 + [7] * 8 + [4] * 12 + [9] * 12 + [3] * 4,
)
MARKING_S = (180, 300, 420)
RULES = (
    RatioRule(
        name="one for each 300, 100, 1,500", voters_a_check_in=300, voters_a_mark=100, voters_a_cast=1500
    ),
    RatioRule(
        name="one for each 225, 75, 1,100", voters_a_check_in=225, voters_a_mark=75, voters_a_cast=1100
    ),
)
SITES_A_PART = 50
PARTS_A_CHUNK = 100
NORMAL = statistics.NormalDist()


def invented(number: int) -> SiteLines:
    """Site `number`, from its number alone."""
    chance = (derive_seed(1, "sweep bench", str(number), "size") + 0.5) / 2**63
    voters = max(20, round(900 * 2.718281828 ** (0.6 * NORMAL.inv_cdf(min(max(chance, 1e-6), 1 - 1e-6)))))

    def work(mean_s: int, cv_ppm: int) -> StageWork:
        return StageWork(law=ServiceLaw(mean_ms=mean_s * 1000, cv_ppm=cv_ppm))

    return SiteLines(
        site=f"site/N{number}",
        seed_key=f"N{number}",
        path=SitePath(
            check_in=work(85, 600_000),
            mark=work(MARKING_S[number % 3], 500_000),
            accessible=work(2 * MARKING_S[number % 3], 500_000),
            accessible_share_ppm=20_000,
            cast=work(15, 600_000),
        ),
        days=(
            ArrivalDay(
                date=dt.date(2028, 11, 7),
                open_ms=7 * HOUR_MS,
                close_ms=20 * HOUR_MS,
                slot_weights=frozen_array(SHAPES[number // 3 % 3], "int64"),
                totals=frozen_array([voters * p // 100 for p in range(80, 121, 4)], "int64"),
                opening_line_share_ppm=20_000,
            ),
        ),
        limit=WaitLimit(limit_ms=1_800_000, risk_ppm=50_000),
    )


def part(given: tuple[int, int, int]) -> tuple[RuleTally, ...]:
    """Sites from a number up to before another, each on so many days."""
    first, until, days = given
    asked = SweepAsked(rules=RULES, days=days, seed=1)
    return sites_together((tuple(invented(number) for number in range(first, until)), asked))


def parts(sites: int, days: int) -> list[tuple[int, int, int]]:
    """The parts of a sweep, each of `SITES_A_PART` sites."""
    return [(at, min(at + SITES_A_PART, sites), days) for at in range(0, sites, SITES_A_PART)]


class _Killer:
    """Kills one process of the cluster when a third is done."""

    def __init__(self, pids: list[int]) -> None:
        self.pids = pids

    def step(self, _: str, done: int, total: int) -> None:
        """Kill once."""
        if self.pids and done * 3 >= total:
            os.kill(self.pids.pop(), signal.SIGKILL)


def on_cluster(sites: int, days: int, workers: int) -> dict[str, object]:
    """Seconds over processes of this machine: to start, warm, and with one killed; and whether all agree."""
    import distributed

    threads = sweep(parts(sites, days), part, spreading=InThreads(workers))
    start = time.perf_counter()
    with spreading(f"local:{workers}") as spread:
        sweep(parts(SITES_A_PART * workers * 2, 1), part, spreading=spread)
        started = time.perf_counter() - start
        start = time.perf_counter()
        plain = sweep(parts(sites, days), part, spreading=spread)
        plain_s = time.perf_counter() - start
        start = time.perf_counter()
        sweep(parts(sites, days), part, spreading=InThreads(workers))
        threads_s = time.perf_counter() - start
        pids = list(distributed.get_client().run(os.getpid).values())
        start = time.perf_counter()
        killed = sweep(parts(sites, days), part, _Killer(pids[:1]), spread)
        killed_s = time.perf_counter() - start
    return {
        "sites": sites,
        "start of the processes and their first call, s": round(started, 1),
        "threads, s": round(threads_s, 2),
        "processes, s": round(plain_s, 2),
        "processes over threads": round(plain_s / threads_s, 2),
        "with one process killed, s": round(killed_s, 2),
        "same tallies": msgspec.json.encode(threads) == msgspec.json.encode(plain)
        and msgspec.json.encode(threads) == msgspec.json.encode(killed),
    }


class Kept(msgspec.Struct, kw_only=True):
    """What a sweep that is not over has added up: for which sites, and in how many seconds."""

    sites: int
    days: int
    commit: str
    done: int = 0
    tallies: tuple[RuleTally, ...] = ()
    wall_s: float = 0.0
    cpu_s: float = 0.0
    runs: int = 0


def begun(keep: Path | None, sites: int, days: int, commit: str) -> Kept:
    """What `keep` holds of this sweep, or nothing yet. Raises SystemExit where it holds another one."""
    wanted = Kept(sites=sites, days=days, commit=commit)
    if keep is None or not keep.is_file():
        return wanted
    found = msgspec.json.decode(keep.read_bytes(), type=Kept)
    if (found.sites, found.days, found.commit) != (sites, days, commit):
        raise SystemExit(
            f"{keep} holds a sweep of {found.sites} sites, {found.days} days, commit {found.commit}; "
            f"asked for are {sites} sites, {days} days, commit {commit}. Delete it or name another file."
        )
    return found


def figures(sites: int, days: int, workers: int, kept: Kept, keep: Path | None) -> dict[str, object]:
    """The sweep in threads, from where `kept` stands; written to `keep` after each chunk of parts."""
    sweep(parts(2, 1), part)
    every = parts(sites, days)
    kept.runs += 1
    while kept.done < len(every):
        start, cpu = time.perf_counter(), time.process_time()
        chunk = every[kept.done : kept.done + PARTS_A_CHUNK]
        found = sweep(chunk, part, spreading=InThreads(workers))
        kept.tallies = added(kept.tallies, found) if kept.tallies else found
        kept.done += len(chunk)
        kept.wall_s += time.perf_counter() - start
        kept.cpu_s += time.process_time() - cpu
        if keep is not None:
            beside = keep.with_name(keep.name + ".new")
            beside.write_bytes(msgspec.json.encode(kept))
            beside.replace(keep)
        left = kept.wall_s / kept.done * (len(every) - kept.done)
        print(
            f"{min(kept.done * SITES_A_PART, sites):,} of {sites:,} sites, {kept.wall_s:.0f} s, "
            f"about {left:.0f} s left",
            file=sys.stderr,
            flush=True,
        )
    voters = sum(t.voters for t in kept.tallies)
    return {
        "sites": sites,
        "days a site": days,
        "threads": workers,
        "seconds": round(kept.wall_s, 1),
        "CPU seconds": round(kept.cpu_s, 1),
        "begun, times": kept.runs,
        "million voter passes": round(voters / 1e6),
        "million voter passes a second": round(voters / 1e6 / max(1e-9, kept.wall_s), 1),
        "rules": [
            {
                "rule": rule.name,
                "stations": list(t.stations),
                "sites over the accepted risk": t.sites_over,
                "share of voters over 30 minutes": round(t.voters_over / max(1, t.voters), 4),
                "mean wait, s": round(t.mean_wait_ms / 1000, 1),
            }
            for rule, t in zip(RULES, kept.tallies, strict=True)
        ],
    }


def main() -> int:
    """Print the figures; with --write keep them in bench/results/sweep.json."""
    asked = argparse.ArgumentParser(prog="pollstead bench sweep")
    asked.add_argument("--sites", type=int, default=3200)
    asked.add_argument("--days", type=int, default=64)
    asked.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    asked.add_argument("--cluster-sites", type=int, default=1600, help="0: nothing on a cluster")
    asked.add_argument(
        "--keep", type=Path, help="a file for sums so far: the same command goes on from there"
    )
    asked.add_argument("--json", action="store_true")
    asked.add_argument("--write", action="store_true")
    given = asked.parse_args()
    if min(given.sites, given.days, given.workers) < 1:
        asked.error("--sites, --days and --workers must be 1 or more")
    here = machine_and_moment()
    kept = begun(given.keep, given.sites, given.days, str(here["commit"]))
    result: dict[str, object] = {
        "what": "sweep: one rule for numbers of stations beside another over many invented sites",
        **here,
        "sweep": figures(given.sites, given.days, given.workers, kept, given.keep),
        "cluster": on_cluster(given.cluster_sites, given.days, given.workers)
        if given.cluster_sites
        else None,
        "peak memory, MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
    }
    text = json.dumps(result, indent=2, ensure_ascii=False)
    if given.write:
        name = f"sweep-{given.sites}.json"
        (Path(__file__).parent / "results" / name).write_text(text + "\n", encoding="utf-8")
    print(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
