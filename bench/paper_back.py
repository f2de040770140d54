"""What is keyed from a site's signed paper: values, keystrokes, minutes of simulated hands.

Counts the values and keys of every site of a county folder on election day. The hands are a model: 20 s
to find a sheet, 6 s to put it into a box, 4 s to key a value, each value by two people, the sheet found
again by the second. These times are common practice, no source; varies by county. The length of a number
is that of what was read on the day, else three digits.

    ./run demo
    ./run exec pollstead bench paper_back demo/larkmoor
"""

from __future__ import annotations

import json
import statistics
import sys
from pathlib import Path

from bench.measured import machine_and_moment

from pollstead.cli.paper import report_at
from pollstead.cli.reconcile import reports_of
from pollstead.reconcile.paper.progress import SitePaper
from pollstead.work.county_folder import store_of

FIND_S, BOX_S, VALUE_S = 20, 6, 4
PEOPLE = 2
DIGITS = 3
SERIAL_KEYS = 13  # twelve letters and Enter; none with a scanner
BOX_KEYS = 4  # one digit, Tab, Space for "all as expected", Enter


def keys_of(paper: SitePaper, read: dict[str, int]) -> int:
    """Keystrokes of one person for the values of a site: the digits of each and Enter."""
    return sum(len(str(read.get(v.value.key, 10 ** (DIGITS - 1)))) + 1 for v in paper.values)


def minutes_of(paper: SitePaper) -> float:
    """Minutes of work, both people added, for all sheets and values of a site."""
    sheets = len(paper.not_back) + paper.back
    once = FIND_S + VALUE_S * len(paper.values)
    return (sheets * (FIND_S + BOX_S) + VALUE_S * len(paper.values) + (PEOPLE - 1) * once) / 60


def spread(values: list[float]) -> dict[str, float]:
    """Least, median and most."""
    return {
        "min": round(min(values), 1),
        "median": round(statistics.median(values), 1),
        "max": round(max(values), 1),
    }


def main(folder: Path) -> dict[str, object]:
    """The figures of one county folder."""
    here = machine_and_moment()
    _, report = report_at(folder, "")
    with store_of(folder) as store:
        (day,) = reports_of(store, report.date)
    read = {one.site: {r.key: r.value for r in one.readings} for one in day.sites}
    sites = report.sites
    keys = [keys_of(one, read.get(one.site, {})) for one in sites]
    return {
        "what": "values and keystrokes of re-entry from paper, Larkmoor (invented), election day",
        **here,
        "assumed": {"find_sheet_s": FIND_S, "box_s": BOX_S, "value_s": VALUE_S, "people": PEOPLE},
        "sites": len(sites),
        "values_a_site": spread([float(len(one.values)) for one in sites]),
        "sites_with_values_left_on_paper": sum(1 for one in sites if one.left_out),
        "values_left_on_paper_most": max(len(one.left_out) for one in sites),
        "sheets_a_site": spread([float(len(one.not_back) + one.back) for one in sites]),
        "keys_a_site_one_person_values": spread([float(k) for k in keys]),
        "keys_a_site_both_with_boxes_by_scanner": spread(
            [
                float(PEOPLE * k + BOX_KEYS * (len(one.not_back) + one.back))
                for k, one in zip(keys, sites, strict=True)
            ]
        ),
        "keys_a_sheet_more_when_the_serial_is_typed": SERIAL_KEYS,
        "minutes_a_site_both_people_all_sheets": spread([minutes_of(one) for one in sites]),
        "minutes_a_site_both_people_values_only": spread(
            [PEOPLE * (FIND_S + VALUE_S * len(one.values)) / 60 for one in sites]
        ),
    }


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1])), indent=2))
