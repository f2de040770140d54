"""Back-test of the demand method on a real public series: in-person votes by county, 2016 to 2022.

No public series by polling place over several elections was at hand, so the counties of a state
stand in for the sites of a county, with the same code. The method is trained on the elections
before the last and scored on the last; its rivals are "same as last" and "last + 25 %". Registered
voters are not in the series: all participants of a county stand in, so the rate is a share of the
voters who came by this mode, times how many came.

Data: U.S. Election Assistance Commission, Election Administration and Voting Survey, 2016-2022,
participation by method; read from the folder that POLLSTEAD_DATA names.

    POLLSTEAD_DATA=FOLDER ./run exec pollstead bench demand
"""

from __future__ import annotations

import csv
import json
import math
import os
import statistics
import sys
from pathlib import Path

import numpy as np
from bench.measured import machine_and_moment

from pollstead.plan.demand.pooling import PastRate, draw_ballots, draw_tide, fit_rates

YEARS = (2016, 2018, 2020, 2022)
MODES = {"election day": "election_day_part", "early": "in_person_early_part"}
SMALLEST = 200
DRAWS = 2000
LOG_OF_RATIO_CAP = 20.0


def read_series(folder: Path) -> dict[str, dict[str, dict[int, dict[str, int]]]]:
    """State -> county -> year -> counts by mode, where the county reported that year."""
    series: dict[str, dict[str, dict[int, dict[str, int]]]] = {}
    for year in YEARS:
        with (folder / "eavs" / f"participation_by_method_{year}.csv").open(
            encoding="utf-8-sig", newline=""
        ) as f:
            for row in csv.DictReader(f):
                counts = {mode: int(float(row[column] or 0)) for mode, column in MODES.items()}
                county = series.setdefault(row["state_po"], {}).setdefault(row["fips"], {})
                county[year] = counts
    return series


def score(
    series: dict[str, dict[str, dict[int, dict[str, int]]]], mode: str, train: list[int], last: int
) -> dict[str, object]:
    """Error and coverage for `mode` in the year `last`, trained on the years `train`.

    A county counts when it reported at least SMALLEST votes by the mode in the last training year
    and in the target year, so that "0 often means not reported" (the source's own words) stays out.
    """
    errors: dict[str, list[float]] = {"ours": [], "same as last": [], "last + 25 %": []}
    pinball: dict[str, list[float]] = {"ours": [], "same as last": [], "last + 25 %": []}
    below = above = inside = n = states = 0
    widths = []
    for state in sorted(series):
        counties = [
            (fips, years)
            for fips, years in sorted(series[state].items())
            if min(years.get(y, {}).get(mode, 0) for y in (train[-1], last)) >= SMALLEST
        ]
        if len(counties) < 5:
            continue
        states += 1
        base = {fips: 4 * max(years[y][mode] for y in train if y in years) for fips, years in counties}
        past = tuple(
            PastRate(site=s, election=e, ballots=years[y][mode], registered=base[fips])
            for s, (fips, years) in enumerate(counties)
            for e, y in enumerate(train)
            if years.get(y, {}).get(mode, 0) >= SMALLEST
        )
        model = fit_rates(past, len(counties), tuple(y % 4 == last % 4 for y in train))
        tide = draw_tide(model, np.random.Generator(np.random.PCG64(last)), DRAWS)
        for s, (fips, years) in enumerate(counties):
            rng = np.random.Generator(np.random.PCG64([last, int(fips)]))
            draws = draw_ballots(model, s, base[fips], tide, rng)
            low, middle, high = np.quantile(draws, (0.1, 0.5, 0.9))
            truth, before = years[last][mode], years[train[-1]][mode]
            n += 1
            below += truth < low
            above += truth > high
            inside += low <= truth <= high
            widths.append((high - low) / max(middle, 1))
            for name, guess in (("ours", middle), ("same as last", before), ("last + 25 %", 1.25 * before)):
                errors[name].append(min(abs(math.log((guess + 1) / (truth + 1))), LOG_OF_RATIO_CAP))
                pinball[name].append(abs(guess - truth) / truth)
    return {
        "mode": mode,
        "trained_on": train,
        "scored_on": last,
        "states": states,
        "counties": n,
        "inside_p10_p90": round(inside / n, 3),
        "below_p10": round(below / n, 3),
        "above_p90": round(above / n, 3),
        "median_width_p10_p90_of_p50": round(statistics.median(widths), 2),
        "median_absolute_error": {k: round(statistics.median(v), 3) for k, v in pinball.items()},
        "mean_absolute_log_error": {k: round(statistics.fmean(v), 3) for k, v in errors.items()},
    }


def main() -> int:
    """Print the scores and write them beside this file."""
    here = machine_and_moment()
    folder = os.environ.get("POLLSTEAD_DATA")
    if not folder or not (Path(folder) / "eavs").is_dir():
        print("absent: set POLLSTEAD_DATA to the folder that holds eavs/")
        return 0
    series = read_series(Path(folder))
    runs = [([2016, 2018, 2020], 2022), ([2016, 2018], 2020), ([2018], 2022), ([2020], 2022), ([2016], 2018)]
    rows = [score(series, mode, train, last) for train, last in runs for mode in MODES]
    result = {
        "what": "demand on votes by county and mode (EAVS 2016-2022); no site-level series at hand",
        **here,
        "scores": rows,
    }
    text = json.dumps(result, indent=2)
    (Path(__file__).parent / "results" / "demand.json").write_text(text + "\n", encoding="utf-8")
    print(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
