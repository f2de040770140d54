"""From three public lists to stations and sheets for a real county, beside what that county had.

Montgomery County, Maryland, general election of 4 November 2014: 227 sites, one row a precinct, and
the county's row of the federal survey as fleet total. Measures the time of each command, its largest
memory, the pages, the values given by hand, and compares the machines planned with the machines the
county reported.

Data, read from the folder that POLLSTEAD_DATA names: counts CC0 (F. Hecker, from the Maryland State
Board of Elections), places CC BY 4.0 (Center for Public Integrity and Stateline, U.S. Polling Places
2012-2020), equipment U.S. Election Assistance Commission, EAVS 2014 (public domain).

    POLLSTEAD_DATA=FOLDER ./run exec pollstead bench montgomery [--print] [--effort quick]
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import msgspec
from bench.measured import machine_and_moment

from pollstead.election.rules import CountyRules
from pollstead.election.values import frozen_array
from pollstead.intake import read_folder
from pollstead.plan.compose import compose
from pollstead.plan.demand.run import DemandGiven, DemandResult
from pollstead.plan.demand.run import run as run_demand
from pollstead.plan.terms.part import Effort, NoWatch, Outcome, Watch
from pollstead.plan.terms.version import NO_DECISIONS

UNIT = "electronic voting unit"
REAL_BALLOTS = 211_729
FIPS = "2403100000"


def timed(command: list[str], folder: Path) -> dict[str, object]:
    """Run one command; its seconds, its largest memory in MB where the system tells, its output."""
    start = time.perf_counter()
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    seconds = time.perf_counter() - start
    if done.returncode:
        sys.exit(
            f"{' '.join(command)}\nended with {done.returncode}\n{done.stdout[-3000:]}\n{done.stderr[-3000:]}"
        )
    return {"seconds": round(seconds, 1), "output": done.stdout}


def children_peak_mb() -> float | None:
    """Largest memory of any child so far, in MB; None where the system does not tell."""
    try:
        import resource
    except ImportError:
        return None
    return round(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024, 0)


def main() -> int:
    """Run the case and write bench/results/montgomery.json."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--print", action="store_true", help="print the packets too")
    ask.add_argument("--effort", default="quick")
    ask.add_argument("--keep", help="keep the county folder here")
    given = ask.parse_args()
    data = os.environ.get("POLLSTEAD_DATA")
    if not data or not (Path(data) / "md2014_sites").is_dir():
        print("absent: set POLLSTEAD_DATA to the folder that holds md2014_sites/ and eavs/")
        return 0
    data = str(Path(data).resolve())
    precincts = Path(data) / "md2014_sites" / "precincts.csv"
    equipment = Path(data) / "eavs" / "eavs2014_equipment.csv"
    pollstead = [sys.executable, "-m", "pollstead.cli.main"]
    options = [
        "--where", "precincts.csv:county=Montgomery",
        "--where", f"eavs2014_equipment.csv:fips10={FIPS}",
        "--map", "eavs2014_equipment.csv:fleet.electronic voting unit=n_dre_no_paper_trail",
        "--kind", "E", "--county", "Montgomery County", "--election-day", "2018-11-06",
        "--past-election", "2014-11-04",
        "--zone", "America/New_York", "--opens", "07:00", "--closes", "20:00", "--yes",
    ]  # fmt: skip
    result: dict[str, object] = {
        "what": "Montgomery County MD 2014: three lists to stations and sheets (public data, real county)",
        **machine_and_moment(),
        "values_given_by_hand": len(options) // 2,
        "effort": given.effort,
    }
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(given.keep or temporary) / "montgomery"
        new = timed(
            [*pollstead, "new", str(folder), "--from", str(precincts),
             "--from", str(equipment), *options],
            Path(temporary),
        )  # fmt: skip
        check = timed([*pollstead, "check", str(folder)], Path(temporary))
        plan = timed([*pollstead, "plan", str(folder), "--effort", given.effort, "--json"], Path(temporary))
        result |= {"new_s": new["seconds"], "check_s": check["seconds"], "plan_s": plan["seconds"]}
        result["largest_memory_mb_to_plan"] = children_peak_mb()
        result |= compare(json.loads(str(plan["output"])), equipment)
        result |= known_turnout(folder)
        if given.print:
            printed = timed([*pollstead, "print", str(folder)], Path(temporary))
            result["print_s"] = printed["seconds"]
            result["largest_memory_mb"] = children_peak_mb()
            result["pages"] = re.findall(r"[\d,]+ pages?", str(printed["output"]))[-3:]
    text = json.dumps(result, indent=2)
    (Path(__file__).parent / "results" / "montgomery.json").write_text(text + "\n", encoding="utf-8")
    print(text)
    return 0


def compare(plan: dict[str, Any], equipment: Path) -> dict[str, object]:
    """The plan's machines and voters per machine beside the county's own."""
    with equipment.open(encoding="utf-8-sig", newline="") as stream:
        row = next(r for r in csv.DictReader(stream) if r["fips10"] == FIPS)
    owned = int(row["n_dre_no_paper_trail"])
    planned = next(k["planned"] for k in plan["fleet"] if k["kind"] == UNIT)
    middle = sum(day["p50"] for site in plan["sites"] for day in site["days"])
    high = sum(day["p90"] for site in plan["sites"] for day in site["days"])
    return {
        "sites_planned": len(plan["sites"]),
        "voters_p50": middle,
        "voters_p90_sum_of_sites": high,
        "machines_planned": planned,
        "machines_county_had": owned,
        "ballots_2014_per_machine_county_had": round(REAL_BALLOTS / owned, 1),
        "voters_p50_per_machine_planned": round(middle / planned, 1),
    }


def known_turnout(folder: Path) -> dict[str, object]:
    """Machines for the same limit and risk if every site's number of voters were known: that of 2014."""
    intake = read_folder(folder)
    election = intake.election
    if election is None:
        sys.exit(f"{folder} could not be read")
    site_of = {precinct.id: precinct.site for precinct in election.precincts}
    voters: dict[str, int] = {}
    for row in election.history:
        voters[site_of[row.unit]] = voters.get(site_of[row.unit], 0) + row.ballots

    def told(
        given: DemandGiven, rules: CountyRules, seed: int, effort: Effort, watch: Watch
    ) -> Outcome[DemandResult]:
        drawn = run_demand(given, rules, seed, effort, watch)
        draws = drawn.value.draws
        one = [voters[day.site] for day in draws.site_days]
        totals = frozen_array([one] * draws.totals.shape[0], "int32")
        known = msgspec.structs.replace(draws, totals=totals)
        return Outcome(msgspec.structs.replace(drawn.value, draws=known))

    start = time.perf_counter()
    plan = compose(
        election, intake.digest, NO_DECISIONS, 1, Effort.QUICK, NoWatch(), workers=2, demand_run=told
    )
    planned = next(total.planned for total in plan.totals if total.kind == UNIT)
    return {
        "if_turnout_were_known": {
            "voters": sum(voters.values()),
            "machines_planned": planned,
            "ballots_per_machine": round(sum(voters.values()) / planned, 1),
            "seconds": round(time.perf_counter() - start, 1),
        }
    }


if __name__ == "__main__":
    sys.exit(main())
