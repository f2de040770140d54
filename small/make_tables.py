"""Make the tables of the small test county: three invented sites of invented Larkmoor County.

Run ``python small/make_tables.py`` to write them again; the same seed gives the same bytes. Names,
numbers, people and phones are invented; any likeness to real places or people is accidental.
"""

from __future__ import annotations

import csv
import random
from pathlib import Path

HERE = Path(__file__).parent
SEED = 20281107

SITES = [
    # id, name, address, area, kind, door in, room ft x ft, outlets, access, openers, contact, language
    (
        "S01",
        "Ansel Civic Hall",
        "1 Civic Square, Port Ansel",
        "Port Ansel",
        "hand-marked",
        36,
        "60' 0\"",
        "48' 0\"",
        14,
        "05:00",
        "P001 P002",
        "P001",
        "",
    ),
    (
        "S02",
        "Harbor Lane Library",
        "22 Harbor Lane, Port Ansel",
        "Port Ansel",
        "device-marked",
        34,
        "52' 0\"",
        "40' 0\"",
        10,
        "06:15",
        "P003",
        "P003",
        "",
    ),
    (
        "S36",
        "Southgate Library",
        "400 Southgate Road, Quarry Line",
        "Quarry Line",
        "vote-center",
        36,
        "",
        "",
        "",
        "05:30",
        "P005 P006",
        "P005",
        "second-language",
    ),
]
PRECINCTS = [
    ("001", "S01", 1610, "03 04"),
    ("002", "S01", 1385, "04"),
    ("003", "S01", 905, "05"),
    ("004", "S02", 1520, "06"),
    ("005", "S02", 1290, "06 07"),
    ("071", "S36", 2150, "41"),
    ("072", "S36", 1790, "41 42"),
]
# Share of the registered who voted in person on the day, by past election, before a local wobble.
ELECTIONS = [("2020-11-03", 0.31), ("2022-11-08", 0.30), ("2024-11-05", 0.36)]
EARLY = {  # ballots by days before election day, all styles, at the vote center
    "2020-11-03": {3: 640, 2: 590, 1: 810},
    "2022-11-08": {3: 455, 2: 430, 1: 600},
    "2024-11-05": {3: 700, 2: 655, 1: 905},
}
HOURS = [("*", "2028-11-07", "07:00", "20:00")] + [
    ("S36", day, *("07:00 20:00" if day.endswith("07") else "09:00 18:00").split())
    for day in ("2028-11-04", "2028-11-05", "2028-11-06", "2028-11-07")
]
SHARES = [12.5, 9.5, 7.5, 7, 7.5, 8, 7, 6, 6, 7.5, 9.5, 8, 4]
FLEET = [
    # kind, slug, letter, how many at S01, S02, S36, spare, memory devices, cart prefix
    ("check-in computer", "check-in-computer", "C", (7, 6, 8, 2), 0, "case"),
    ("scanner", "scanner", "S", (2, 2, 2, 1), 2, "cart"),
    ("ballot-marking device", "ballot-marking-device", "V", (2, 16, 2, 2), 1, "cart"),
    ("ballot printer", "ballot-printer", "P", (0, 14, 0, 2), 0, "cart"),
    ("on-demand ballot printer", "on-demand-ballot-printer", "D", (0, 0, 8, 1), 0, "case"),
]
CLOSURES = {  # closures that carry a seal after test, by kind of device
    "check-in computer": ["case-left", "case-right"],
    "scanner": ["memory-door", "lid"],
    "ballot-marking device": ["case-lid", "memory-door"],
    "ballot printer": ["printer-tray"],
    "on-demand ballot printer": [],
}
PEOPLE = [
    ("P001", "Ida Fenwright", "site lead", "S01"), ("P002", "Tobin Marsh-Oakley", "deputy lead", "S01"),
    ("P003", "Wren Castellan", "site lead", "S02"), ("P004", "Odell Briarly", "deputy lead", "S02"),
    ("P005", "Sunniva Hale", "site lead", "S36"), ("P006", "Jory Quillfeather", "deputy lead", "S36"),
    ("P010", "Marit Ostrander", "coordinator", ""), ("P011", "Caspian Dole", "warehouse manager", ""),
    ("P012", "Linnea Thackeray-Voss", "help desk", ""),
]  # fmt: skip


STOPS: list[tuple[object, ...]] = [
    ("V1", "2028-11-06", 1, "S02", "08:30"),
    ("V1", "2028-11-06", 2, "S01", "09:05"),
    ("V2", "2028-11-06", 1, "S36", "08:40"),
]


CONTESTS = [
    # id, words, vote for, write-in lines, choices
    ("mayor", "Mayor of Port Ansel", 1, 1, ("Zelda Coldwell", "Ansgar Elverson", "Dagny Pendry", "Ivo Quarrel")),
    ("council", "Town council", 2, 2, ("Una Gantling", "Silas Oxlade", "Petra Rushmere", "Quill Zennor", "Esme Dole")),
    ("bond", "Harbor wall bond", 1, 0, ("Yes", "No")),
]  # fmt: skip
BALLOTS = [  # style, precinct (blank: all others), contests, rotation of the lists of people
    ("03", "", ("mayor", "council", "bond"), 0),
    ("04", "", ("mayor", "council", "bond"), 1),
    ("04", "002", ("mayor", "council", "bond"), 2),
    ("05", "", ("mayor", "council", "bond"), 2),
    ("06", "", ("mayor", "bond"), 3),
    ("07", "", ("mayor", "bond"), 1),
    ("41", "", ("council", "bond"), 3),
    ("42", "", ("council", "bond"), 4),
]


def write(name: str, header: str, rows: list[tuple[object, ...]]) -> None:
    """Write one table with CRLF-free lines, so that it is the same everywhere."""
    with (HERE / name).open("w", encoding="utf-8", newline="") as stream:
        out = csv.writer(stream, lineterminator="\n")
        out.writerow(header.split(","))
        out.writerows(rows)


def main() -> None:
    """Write every table."""
    draw = random.Random(SEED)
    write(
        "sites.csv",
        "id,name,address,area,kind,door_clear_in,room_width,room_depth,outlets,access_from,openers,contact,"
        "language_assistance",
        SITES,
    )
    write("precincts.csv", "id,site,registered,styles", PRECINCTS)
    history: list[tuple[object, ...]] = []
    for election, share in ELECTIONS:
        for precinct, _, registered, _ in PRECINCTS:
            then = round(registered * draw.uniform(0.93, 0.99))
            ballots = round(then * share * draw.uniform(0.88, 1.12))
            history.append((election, election, precinct, "election day", ballots, then))
        year, month, day = election.split("-")
        for before, ballots in EARLY[election].items():
            date = f"{year}-{month}-{int(day) - before:02d}" if int(day) > before else f"{year}-10-31"
            history.append((election, date, "S36", "early", ballots, ""))
    write("history.csv", "election,date,unit,mode,ballots,registered", history)
    write("hours.csv", "site,date,opens,closes", HOURS)
    write("arrivals.csv", "hour,share_percent", [(7 + i, share) for i, share in enumerate(SHARES)])
    devices: list[tuple[object, ...]] = []
    seals: list[tuple[object, ...]] = []
    next_seal = 48_001
    for kind, slug, letter, numbers, memory, container in FLEET:
        serial = 0
        for home, count in zip(("S01", "S02", "S36", ""), numbers, strict=True):
            for _ in range(count):
                serial += 1
                memory_count = memory
                if (kind, home) == ("scanner", "S02"):
                    memory_count = 1  # the station type there holds one
                if kind == "ballot-marking device" and home not in ("S02", ""):
                    memory_count = 0  # an accessible station there prints a ballot and keeps nothing
                cards = " ".join(f"LM-M-{letter}{serial:03d}{'AB'[i]}" for i in range(memory_count))
                lifetime = draw.randrange(800, 9_000) if kind == "scanner" else ""
                cart = f"{container}-{home or 'spare'}-{letter}"
                tag = f"LM-TAG-{letter}{serial:03d}"
                devices.append(
                    (f"device/{slug}/{serial:04d}", f"LM-{letter}-{serial:04d}", kind, tag, home, "in service",
                     cards, lifetime, cart, "", "")
                )  # fmt: skip
                for closure in CLOSURES[kind]:
                    if (
                        kind == "ballot-marking device"
                        and home not in ("S02", "")
                        and closure == "memory-door"
                    ):
                        continue
                    seals.append((f"device/{slug}/{serial:04d}", closure, 1, f"{next_seal:07d}"))
                    next_seal += draw.choice((1, 1, 1, 1, 2))
    write(
        "devices.csv",
        "id,serial,kind,tag,home,state,memory_devices,lifetime_counter,cart,fixed,reason",
        devices,
    )
    write("closure_seals.csv", "device,closure,position,number", seals)
    write(
        "seal_ranges.csv",
        "seal_kind,series,first,last",
        [("pull-tight seal", "LM-A", "0048001", "0048400"), ("wire seal", "LM-W", "0310001", "0310120")],
    )
    write(
        "people.csv",
        "id,name,role,site,phone",
        [(*person, f"555-01{i:02d}") for i, person in enumerate(PEOPLE, start=10)],
    )
    write("vehicles.csv", "id,name,carts", [("V1", "long truck", 8), ("V2", "van", 3)])
    write("delivery_stops.csv", "vehicle,date,stop,site,arrives", STOPS)
    write(
        "fixed.csv",
        "table,row,field,value,reason",
        [
            (
                "stations",
                "S02/marker-check-in",
                "count",
                "6",
                "One table more near the second door, agreed with the library",
            )
        ],
    )
    write("contests.csv", "id,words,vote_for,write_in_lines", [contest[:4] for contest in CONTESTS])
    write(
        "choices.csv",
        "contest,id,order,words",
        [
            (contest, f"{order}", order, words)
            for contest, *_, choices in CONTESTS
            for order, words in enumerate(choices, start=1)
        ],
    )
    write(
        "ballot_contests.csv",
        "style,precinct,contest,order,rotation",
        [
            (style, precinct, contest, order, rotation if contest != "bond" else 0)
            for style, precinct, contests, rotation in BALLOTS
            for order, contest in enumerate(contests, start=1)
        ],
    )
    folder = HERE.parent / "src" / "pollstead" / "intake" / "data"
    types = "".join((folder / f"station_types_{letter}.toml").read_text("utf-8") + "\n" for letter in "abc")
    (HERE / "station_types.toml").write_text(types, "utf-8")


if __name__ == "__main__":
    main()
