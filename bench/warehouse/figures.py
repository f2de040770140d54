"""The warehouse and the receiving tables in figures: hands are simulated and their times are stated.

Measured is what the program adds: keys of a scanner in a real browser, sending, the next page, the list of
what is not back. Times of hands are assumptions, marked so: common practice, no source; varies by county.
Invented data only.

    ./run exec python -m bench.warehouse.figures PLANNED_FOLDER [--chromium /usr/bin/chromium]

PLANNED_FOLDER is the small county with a plan version (`./run demo --small`); it is copied first.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import json
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
from bench.measured import machine_and_moment

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "bench" / "results" / "warehouse.json"
HANDS_S = {"take_a_seal": 3.0, "put_it_on": 6.0, "scan_it": 1.5, "second_person_scans": 2.5}
READ_S = {"serial": 5.0, "seal": 8.0, "clock": 8.0, "date": 3.0, "counter": 6.0, "report": 90.0}
READ_S |= {"memory device": 5.0}
WALK_S = 20.0
ELECTION_DAY = dt.date(2028, 11, 7)
NIGHT_MS = 1_857_790_000_000
EVENINGS, SPREAD_MIN, SERVICE_MIN, SEED = 400, 15.0, 6, 7


def seals(folder: Path, chromium: str) -> dict[str, Any]:
    """Seconds a seal: stated hands, and the program's share measured by a scanner's keys in Chromium."""
    from playwright.sync_api import sync_playwright

    from pollstead.show.commands import Command
    from pollstead.show.web.capabilities import Role
    from pollstead.show.web.who import WHO_COOKIE, Who, to_cookie

    server = subprocess.Popen(
        [sys.executable, "-m", "pollstead.cli.main", "serve", str(folder), "--port", "0"],
        stdout=subprocess.PIPE,
        text=True,
    )
    base = (server.stdout.readline() if server.stdout is not None else "").split()[-1].rstrip("/")
    field_ms: list[float] = []
    send_ms: list[float] = []
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
            context = browser.new_context(base_url=base)
            who = to_cookie(Who(person="person/P011", role=Role.WAREHOUSE))
            context.add_cookies([{"name": WHO_COOKIE, "value": who, "url": base}])
            page = context.new_page()
            numbers = iter(range(48_300, 48_400))
            for device in range(1, 7):
                site = "S01" if device < 3 else "S02" if device < 5 else "S36"
                page.goto(f"/tests/{site}?device=device/scanner/{device:04d}#device")
                count = page.locator("input[data-check]").count()
                for _ in range(count):
                    start = time.perf_counter()
                    page.keyboard.type(f"{next(numbers):07d}")
                    page.keyboard.press("Enter")
                    page.wait_for_function("document.activeElement !== document.body")
                    field_ms.append((time.perf_counter() - start) * 1000)
                if not count:
                    continue
                start = time.perf_counter()
                page.keyboard.type(Command.NEXT.value)
                with page.expect_navigation():
                    page.keyboard.press("Enter")
                page.wait_for_load_state("load")
                send_ms.append((time.perf_counter() - start) * 1000)
            browser.close()
    finally:
        server.terminate()
        server.wait(timeout=30)
    each = statistics.median(field_ms) / 1000
    share = statistics.median(send_ms) / 1000 * len(send_ms) / max(1, len(field_ms))
    first = HANDS_S["take_a_seal"] + HANDS_S["put_it_on"] + HANDS_S["scan_it"]
    return {
        "hands_s_stated": HANDS_S,
        "keys_of_one_scan_ms_median": round(each * 1000),
        "sending_one_device_ms_median": round(statistics.median(send_ms)),
        "seals_read": len(field_ms),
        "program_s_a_seal": round(each + share, 2),
        "seconds_a_seal_first_person": round(first + each + share, 1),
        "seconds_a_seal_both": round(first + HANDS_S["second_person_scans"] + 2 * (each + share), 1),
    }


def checking(folder: Path) -> dict[str, Any]:
    """Minutes a device checked at opening, by what its expected list asks for and stated times of reading."""
    from pollstead.plan.seals.expected import expected_list
    from pollstead.show.web.open_folder import OpenFolder

    opened = OpenFolder(folder)
    version, election = opened.current(), opened.election()
    if version is None or election is None:
        sys.exit(f"{folder} has no plan version: pollstead plan {folder}")
    per_device: dict[str, list[float]] = {}
    kinds = {device.id: device.kind for device in election.devices}
    for site in version.sites:
        found = expected_list(election, version, site.site, ELECTION_DAY)
        asked: dict[str, Counter[str]] = {}
        for item in found.items:
            if item.moment.value == "opening" and item.device:
                asked.setdefault(item.device, Counter())[item.what] += 1
        for device, counts in asked.items():
            seconds = sum(READ_S.get(what, 6.0) * n for what, n in counts.items())
            per_device.setdefault(kinds.get(device, "?"), []).append(seconds + WALK_S)
    opened.close()
    minutes = {kind: statistics.mean(found) / 60 for kind, found in per_device.items()}
    scanner = minutes["scanner"]
    other = minutes["ballot-marking device"]
    sites = {
        "one scanner": [scanner],
        "three scanners": [scanner] * 3,
        "27 devices (2 scanners, 25 ballot-marking devices)": [scanner] * 2 + [other] * 25,
    }
    return {
        "reading_s_stated": READ_S,
        "walking_s_stated": WALK_S,
        "minutes_a_device_by_kind": {kind: round(value, 1) for kind, value in minutes.items()},
        "site_minutes_by_pairs": {
            name: {str(pairs): round(by_pairs(work, pairs), 1) for pairs in (1, 2, 3)}
            for name, work in sites.items()
        },
    }


def by_pairs(work: list[float], pairs: int) -> float:
    """Minutes until the last pair is done, the longest work first to whoever is free."""
    done = [0.0] * pairs
    for minutes in sorted(work, reverse=True):
        done[done.index(min(done))] += minutes
    return max(done)


def receiving() -> dict[str, Any]:
    """Waits by number of tables: each site arrives after its closing, the closing work and its drive."""
    from pollstead.intake.folder import read_folder
    from pollstead.plan.lines.formulas import settled_line
    from pollstead.plan.receiving.queue import waits

    election = read_folder(ROOT / "larkmoor").election
    if election is None:
        sys.exit("larkmoor cannot be read: pollstead check larkmoor")
    closing_work = election.rules.whole("closing-work")
    to_office = [r for r in election.site_routes if not r.returns_to and r.drive_min is not None]
    drives = [r.drive_min or 0 for r in to_office]
    found: dict[str, Any] = {}
    for tables in (1, 2, 3, 4):
        means, longest = [], []
        draw = np.random.default_rng(SEED)
        for _ in range(EVENINGS):
            arrivals = sorted(
                max(0.0, closing_work + drive + float(draw.normal(0, SPREAD_MIN))) for drive in drives
            )
            sigma = 0.5
            services = [
                SERVICE_MIN * float(draw.lognormal(-(sigma**2) / 2, sigma)) for _ in range(len(arrivals))
            ]
            waited = waits(arrivals, services, tables)
            means.append(statistics.mean(waited))
            longest.append(max(waited))
        found[str(tables)] = {
            "mean_wait_min": round(statistics.mean(means), 1),
            "longest_wait_min": round(statistics.mean(longest), 1),
        }
    span = (
        max(r.drive_min or 0 for r in to_office) - min(r.drive_min or 0 for r in to_office) + 2 * SPREAD_MIN
    )
    rate = len(to_office) / span
    for tables in (1, 2, 3, 4):
        if rate * SERVICE_MIN < tables:
            line = settled_line(rate, 1 / SERVICE_MIN, tables)
            found[str(tables)]["m_m_c_mean_wait_min"] = round(line.wait, 1)
        else:
            found[str(tables)]["m_m_c_mean_wait_min"] = "no settled line: more arrives than is served"
    return {
        "sites": len(to_office),
        "closing_work_min": closing_work,
        "spread_min_stated": SPREAD_MIN,
        "service_min_stated": SERVICE_MIN,
        "evenings": EVENINGS,
        "by_tables": found,
    }


def missing(folder: Path) -> dict[str, Any]:
    """Everything of the night is received but one memory device; how long until the page names it."""
    from litestar.testing import TestClient

    from pollstead.show.web.app import make_app
    from pollstead.show.web.capabilities import Role
    from pollstead.show.web.open_folder import OpenFolder
    from pollstead.show.web.pages.expected import issue
    from pollstead.show.web.pages.site import find_site
    from pollstead.show.web.who import WHO_COOKIE, Who, to_cookie
    from pollstead.work.foreman import Foreman

    opened = OpenFolder(folder, clock=lambda: NIGHT_MS)
    version = opened.current()
    for site in () if version is None else version.sites:
        who = Who(person="person/P010", role=Role.COORDINATOR)
        issue(opened, who, find_site(opened, site.site), ELECTION_DAY)
    app = make_app(opened, Foreman(opened.store, folder), 8735)
    client: TestClient[Any] = TestClient(app, base_url="http://127.0.0.1:8735")
    client.headers["sec-fetch-site"] = "same-origin"
    client.cookies.set(WHO_COOKIE, to_cookie(Who(person="person/P010", role=Role.COORDINATOR)))
    with (folder / "devices.csv").open(encoding="utf-8", newline="") as stream:
        memory = [one for row in csv.DictReader(stream) for one in row["memory_devices"].split()]
    codes = [
        f"{word}-{site}" for site in ("S01", "S02", "S36") for word in ("CASE", "BALLOTS", "FORMS", "KEYS")
    ]
    # A machine with one memory device: of two, one may stay in the machine.
    lost = "LM-M-S003A"
    day = ELECTION_DAY.isoformat()
    scans_ms = []
    for code in (*(one for one in memory if one != lost), *codes):
        start = time.perf_counter()
        client.post(
            "/receiving", data={"table": "1", "second": "P012", "day": day, "do": "scan", "code": code}
        )
        scans_ms.append((time.perf_counter() - start) * 1000)
    times = []
    for _ in range(7):
        start = time.perf_counter()
        page = client.get(f"/not-back?day={day}").text
        times.append((time.perf_counter() - start) * 1000)
    found = page.split("<tbody", 1)[1].split("</tbody>", 1)[0] if "<tbody" in page else ""
    opened.close()
    if lost not in found:
        sys.exit(f"{lost} is not on the list of what is not back:\n{found[:2000]}")
    return {
        "named_first": lost in found.split("</tr>")[0],
        "scans": len(scans_ms),
        "scan_ms_median": round(statistics.median(scans_ms)),
        "page_ms_median": round(statistics.median(times)),
    }


def main() -> None:
    """Measure all and write the results."""
    here = machine_and_moment()
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("folder", type=Path)
    options.add_argument("--chromium", default="/usr/bin/chromium")
    given = options.parse_args()
    with tempfile.TemporaryDirectory() as room:
        copies = [Path(shutil.copytree(given.folder, Path(room) / f"county-{n}")) for n in range(2)]
        result = {
            "what": "warehouse and receiving: simulated hands with stated times, measured program",
            **here,
            "sealing": seals(copies[0], given.chromium),
            "opening_checks": checking(copies[1]),
            "receiving": receiving(),
            "naming_the_missing_item": missing(copies[1]),
        }
    OUT.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
