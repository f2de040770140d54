"""Make the tables of Larkmoor County: forty invented sites, their fleet, people, rooms and past.

``python larkmoor/make_tables.py`` writes them again; the same seed gives the same bytes.
``python larkmoor/make_tables.py --copies 15 --out FOLDER`` makes a county fifteen times as large.
Everything is invented; any likeness to real places or people is accidental.
"""

from __future__ import annotations

import argparse
import csv
import random
from pathlib import Path

from ballot_tables import ballot_tables
from building_tables import building_tables
from calendar_tables import calendar_tables
from delivery_tables import delivery_tables
from fleet_tables import fleet_tables
from form_tables import form_tables
from names import LAST, name_of
from rule_list import rules_text
from site_list import EARLY_VOTE, NORTH, PLANTED, SITES, TIMES, Row

HERE = Path(__file__).parent
SEED = 20281107
REGISTERED = 118_400
PRECINCTS = 84
STYLES = 61
ELECTION_DAY = "2028-11-07"
# How a past election's turnout on the day stood to what is expected now.
PAST = (("2020-11-03", 1.0), ("2022-11-08", 0.91), ("2024-11-05", 1.03))
# A little above 23,400 in all, so that the median forecast from three past elections is that.
EARLY_VOTERS = {"S01": 6_710, "S09": 6_400, "S13": 4_300, "S36": 6_560}
EARLY_DAYS = [f"2028-10-{day}" for day in range(27, 32)] + [f"2028-11-0{day}" for day in range(1, 7)]
EARLY_SHARES = (10, 8, 7, 8, 8, 8, 9, 10, 9, 9, 14)
HOURS = (12.5, 9.5, 7.5, 7, 7.5, 8, 7, 6, 6, 7.5, 9.5, 8, 4)  # shares of the day from 07:00
CREW = (
    "site lead", "deputy lead", "check-in worker", "check-in worker", "booth worker", "scanner worker", "greeter",
    "check-in worker", "line worker", "scanner worker",
    "check-in worker", "check-in worker", "booth worker", "line worker", "help-table worker",
)  # fmt: skip
AWAY = (("receiving worker", 16), ("driver", 10), ("rover", 8), ("help desk", 6), ("reserve", 37))
OFFICE = (
    "coordinator", "warehouse manager", "equipment manager", "poll worker coordinator", "site coordinator", "trainer",
    "clerk", "clerk", "test crew", "test crew", "supply clerk", "election official",
)  # fmt: skip


def write(folder: Path, name: str, header: str, rows: list[tuple[object, ...]]) -> None:
    """Write one table with CRLF-free lines, so that it is the same everywhere."""
    with (folder / name).open("w", encoding="utf-8", newline="") as stream:
        out = csv.writer(stream, lineterminator="\n")
        out.writerow(header.split(","))
        out.writerows(rows)


def shared_out(total: int, weights: list[float]) -> list[int]:
    """`total` split in whole numbers by the weights, the largest remainders rounded up."""
    exact = [total * weight / sum(weights) for weight in weights]
    parts = [int(part) for part in exact]
    by_rest = sorted(range(len(parts)), key=lambda i: (parts[i] - exact[i], i))
    for i in by_rest[: total - sum(parts)]:
        parts[i] += 1
    return parts


def sites_of(copies: int) -> tuple[Row, ...]:
    """The forty sites, and copies of them further out with ids of their own."""
    found = []
    for copy in range(copies):
        for n, row in enumerate(SITES, start=1):
            name = row.name if copy == 0 else " ".join((LAST[copy], row.building, LAST[-n % len(LAST)]))
            street = row.address if copy == 0 else moved_street(row.address, copy)
            x_km, y_km = row.x_km + 70 * (copy % 4), row.y_km + 60 * (copy // 4)
            site = f"S{copy * len(SITES) + n:02d}"
            found.append(row._replace(id=site, name=name, address=street, x_km=x_km, y_km=y_km))
    return tuple(found)


def moved_street(address: str, copy: int) -> str:
    """An address in a street of another name; neighbors in one street stay neighbors."""
    number, street = address.split(" ", 1)
    letters = "".join(chr((ord(c) - 97 + 3 * copy) % 26 + 97) if c.islower() else c for c in street)
    return f"{int(number) + 3_000 * copy} {letters}"


def like(site: str) -> str:
    """The one of the forty sites that this site is a copy of."""
    return f"S{(int(site[1:]) - 1) % len(SITES) + 1:02d}"


def moved(site: str, other: str) -> str:
    """The site that is to `site` what `other` is to the one it is a copy of."""
    block = (int(site[1:]) - 1) // len(SITES)
    return f"S{block * len(SITES) + int(other[1:]):02d}"


def precinct_tables(folder: Path, sites: tuple[Row, ...], draw: random.Random) -> None:
    """Precincts with styles and registered voters, and three past elections."""
    copies = len(sites) // len(SITES)
    registered = shared_out(REGISTERED * copies, [row.voters * draw.uniform(0.95, 1.05) for row in sites])
    numbers = [
        1 + n for n in shared_out((PRECINCTS - len(SITES)) * copies, [float(row.voters) for row in sites])
    ]
    for n, row in enumerate(sites):  # the two precincts in one room
        if like(row.id) == "S16" and numbers[n] != 2:
            largest = max(range(len(sites)), key=lambda i: numbers[i])
            numbers[largest] -= 2 - numbers[n]
            numbers[n] = 2
    precincts: list[tuple[object, ...]] = []
    history: list[tuple[object, ...]] = []
    split: dict[str, list[tuple[str, int]]] = {}
    total = sum(numbers)
    for row, count, voters in zip(sites, numbers, registered, strict=True):
        for n, size in enumerate(shared_out(voters, [draw.uniform(0.8, 1.2) for _ in range(count)])):
            place = len(precincts)
            style = place * STYLES * copies // total + 1
            styles = f"{style:02d}"
            if like(row.id) == "S11" and n == 0:  # a bond district's border runs through this precinct
                styles = f"{style:02d} {style % (STYLES * copies) + 1:02d}"
            precincts.append((f"{place + 1:03d}", row.id, size, styles, ""))
            split.setdefault(row.id, []).append((f"{place + 1:03d}", size))
    for election, factor in PAST:
        for row, voters in zip(sites, registered, strict=True):
            own = draw.uniform(0.98, 1.02)
            for precinct, size in split[row.id]:
                then = round(size * draw.uniform(0.95, 0.99))
                ballots = round(then * row.voters / voters * factor * own)
                history.append((election, election, precinct, "election day", ballots, then))
        for row in sites:
            if like(row.id) in EARLY_VOTE:
                days = shared_out(round(EARLY_VOTERS[like(row.id)] * factor), list(map(float, EARLY_SHARES)))
                for before, ballots in zip(range(len(days), 0, -1), days, strict=True):
                    date = days_before(election, before)
                    history.append((election, date, row.id, "early", ballots, ""))
    write(folder, "precincts.csv", "id,site,registered,styles,style_told_by", precincts)
    write(folder, "history.csv", "election,date,unit,mode,ballots,registered", history)


def days_before(date: str, days: int) -> str:
    """The date so many days before an early-November date."""
    year, month, day = date.split("-")
    left = int(day) - days
    return f"{year}-{month}-{left:02d}" if left > 0 else f"{year}-10-{31 + left:02d}"


def people_tables(folder: Path, sites: tuple[Row, ...]) -> None:
    """Crews, people away from sites, the office, and a contact for each building."""
    copies = len(sites) // len(SITES)
    rows: list[tuple[object, ...]] = []

    def person(role: str, site: str = "", languages: str = "") -> None:
        number = len(rows) + 1
        party = "" if role in OFFICE or role == "building contact" else ("party A", "party B")[number % 2]
        rows.append((f"P{number:03d}", name_of(number), role, site, f"555-{number:04d}", party, languages))

    for role in OFFICE:
        person(role)
    for row in sites:
        for role in CREW[: row.crew]:
            person(role, row.id)
    for role, count in AWAY:
        for n in range(count * copies):
            spoken = {0: "second-language", 1: "third-language"}.get(n % 12, "") if role == "reserve" else ""
            person(role, "", spoken)
    for _ in sites:
        person("building contact")
    write(folder, "people.csv", "id,name,role,site,phone,party,languages", rows)


def site_tables(folder: Path, sites: tuple[Row, ...]) -> None:
    """Sites, hours, roads, keys, survey, voters, and what happens around the sites."""
    lead: dict[str, int] = {}
    at = len(OFFICE) + 1
    for row in sites:
        lead[row.id] = at
        at += row.crew
    contact = at + sum(count for _, count in AWAY) * (len(sites) // len(SITES))
    rooms = building_tables(folder, sites, like, write)
    tables: dict[str, list[dict[str, object]]] = {
        name: [] for name in ("sites", "site_access", "site_survey", "site_routes", "site_voters")
    }
    for n, row in enumerate(sites):
        planted = {name: dict(PLANTED[name].get(like(row.id), {})) for name in tables}
        for name, field in (("site_access", "backup_site"), ("site_routes", "returns_to")):
            if planted[name].get(field):
                planted[name][field] = moved(row.id, str(planted[name][field]))
        room = rooms[row.id]
        kind = "vote-center" if like(row.id) in EARLY_VOTE else room.kind
        first = lead[row.id]
        tables["sites"].append(
            {
                "id": row.id, "name": row.name, "address": f"{row.address}, {row.area}", "area": row.area, "kind": kind,
                "door_clear": room.door_clear, "room_width": room.width, "room_depth": room.depth, "outlets": room.outlets,
                "access_from": "05:30", "openers": f"P{first:03d} P{first + 1:03d}", "contact": f"P{contact + n:03d}",
                "language_assistance": "", **planted["sites"],
            }
        )  # fmt: skip
        tables["site_access"].append(
            {
                "site": row.id, "contact_since": "2026-02-02", "openers_confirmed": f"2028-09-{1 + n % 28:02d}",
                "evening_from": "", "closed_weekdays": "Sunday" if row.building == "library" else "", "key_hand_off": "",
                "may_be_needed_for": "", "backup_site": "", "backup_agreed": "",
                "crew_may_be_called_out": "yes" if row.building == "fire" else "no",
                "when_called_out": "engines stand outside from 18:00 the evening before" if row.building == "fire" else "",
                **planted["site_access"],
            }
        )  # fmt: skip
        tables["site_survey"].append(
            {
                "site": row.id, "surveyed": f"2028-0{5 + n % 4}-{1 + n % 27:02d}", "entrance_moved": "",
                "steps": 0, "dock": "yes" if row.building in ("school", "county", "college") else "no",
                "way_in_for_carts": "level from the side door", "ramp_rise": "6" if n % 3 == 0 else "",
                "ramp_run": "6' 0\"" if n % 3 == 0 else "", "soft_ground": "", "matting": "", "fire_lane": "",
                "line_route": "along the wall, away from the drive", "mobile_bars": 1 + n % 5, "other_line": "desk phone",
                "offline_min": 0, "paper_list": "yes", "heaters_w": 0, "generator": "no", "generator_tested": "",
                **planted["site_survey"],
            }
        )  # fmt: skip
        tables["site_routes"].append(
            {
                "site": row.id, "x_m": row.x_km * 1000, "y_m": row.y_km * 1000, "drive_min": row.drive_min, "vehicle": "",
                "truck_limit": "", "road_grade_percent": "3" if row.area == "Mount Issary" else "", "snow_plan": "",
                "returns_to": moved(row.id, "S14") if like(row.id) in NORTH else "",
                "returns_by": "by car, two people of two parties", "receives": "no", "receiving_lead": "",
                **planted["site_routes"],
            }
        )  # fmt: skip
        tables["site_voters"].append(
            {
                "site": row.id, "busy_from": "", "busy_to": "", "busy_share_percent": "", "busy_plan": "",
                "address_changes_percent": "1", "help_tables": 1, "precincts_kept_apart": "no", "room_divided_by": "",
                **planted["site_voters"],
            }
        )  # fmt: skip
    for name, rows in tables.items():
        write(folder, f"{name}.csv", ",".join(rows[0]), [tuple(row.values()) for row in rows])
    write(
        folder,
        "site_times.csv",
        "site,date,kind,from,to,what,settled",
        [(row.id, *time[1:]) for row in sites for time in TIMES if time[0] == like(row.id)],
    )
    early = [row.id for row in sites if like(row.id) in EARLY_VOTE]
    hours = [("*", ELECTION_DAY, "07:00", "20:00")]
    hours += [(site, day, "09:00", "18:00") for site in early for day in EARLY_DAYS]
    hours += [(site, ELECTION_DAY, "07:00", "20:00") for site in early]
    write(folder, "hours.csv", "site,date,opens,closes", list(hours))


SCANNER_SERVICE = """  mean_s = 30
  cv_percent = 60
  assumed = true
"""
SCANNER_FAILS = (
    SCANNER_SERVICE
    + """
  # Taken from no log (invented).
  [station_type.failure]
  mean_use_hours = 163
  repair_minutes = 20
  assumed = true
"""
)


def main() -> None:
    """Write every table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--copies", type=int, default=1, help="how many times the forty sites")
    options.add_argument("--out", type=Path, default=HERE, help="folder to write into")
    given = options.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    sites = sites_of(given.copies)
    draw = random.Random(SEED)
    precinct_tables(given.out, sites, draw)
    people_tables(given.out, sites)
    site_tables(given.out, sites)
    fleet_tables(given.out, sites, like, write, draw)
    delivery_tables(given.out, sites, like, write)
    calendar_tables(given.out, write)
    form_tables(given.out, write)
    ballot_tables(given.out, STYLES * given.copies, write)
    write(given.out, "arrivals.csv", "hour,share_percent", [(7 + i, share) for i, share in enumerate(HOURS)])
    (given.out / "county.toml").write_text(
        "# Larkmoor County is invented; any likeness to real places or people is accidental.\n"
        'county = "Larkmoor County"\nname = "General election"\n'
        f'election_day = {ELECTION_DAY}\nzone = "EST5EDT"\ninvented = true\npractice = false\n',
        "utf-8",
    )
    (given.out / "rules.toml").write_text(rules_text(), "utf-8")
    shipped = HERE.parent / "src" / "pollstead" / "intake" / "data"
    types = "".join((shipped / f"station_types_{letter}.toml").read_text("utf-8") + "\n" for letter in "abc")
    # Larkmoor timed its vote centers (invented): looking up a voter and printing the ballot take 90 s.
    types = types.replace("mean_s = 120", "mean_s = 90")
    (given.out / "station_types.toml").write_text(types.replace(SCANNER_SERVICE, SCANNER_FAILS), "utf-8")


if __name__ == "__main__":
    main()
