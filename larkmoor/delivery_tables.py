"""Which vehicle of Larkmoor stops where on which day: twelve drives, near sites together. All invented."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from site_list import EARLY_VOTE, Row

DAYS = ("2028-11-02", "2028-11-03", "2028-11-06")
EARLY_DAY = "2028-10-26"
VEHICLES = 4
FIRST_LEAVES_MIN = 8 * 60
STOP_MIN = 35
"""Minutes from one door to the next: unloading twenty, driving fifteen."""
SHORT_TRUCK = 3
SHORT_ROAD = "S32"
"""Its bridge takes no long truck."""


def delivery_tables(
    folder: Path,
    sites: tuple[Row, ...],
    like: Callable[[str], str],
    write: Callable[[Path, str, str, list[tuple[object, ...]]], None],
) -> None:
    """Write delivery_stops.csv: sites of early voting before it begins, the others in the last days."""
    rows: list[tuple[object, ...]] = []
    per_copy = len(DAYS) * VEHICLES
    for copy in range(len(sites) // 40):
        mine = sites[copy * 40 : (copy + 1) * 40]
        early = [row for row in mine if like(row.id) in EARLY_VOTE]
        for number, row in enumerate(early):
            rows += drive(f"V{copy * VEHICLES + 1 + number % VEHICLES}", EARLY_DAY, [row])
        late = [row for row in mine if row not in early]
        groups = [late[n * len(late) // per_copy : (n + 1) * len(late) // per_copy] for n in range(per_copy)]
        # The short truck drives where the long ones may not.
        short = next(n for n, group in enumerate(groups) if any(like(row.id) == SHORT_ROAD for row in group))
        place = short // VEHICLES * VEHICLES + SHORT_TRUCK - 1
        groups[short], groups[place] = groups[place], groups[short]
        for number, group in enumerate(groups):
            vehicle = f"V{copy * VEHICLES + 1 + number % VEHICLES}"
            rows += drive(vehicle, DAYS[number // VEHICLES], sorted(group, key=lambda row: row.drive_min))
    write(folder, "delivery_stops.csv", "vehicle,date,stop,site,arrives", rows)


def drive(vehicle: str, day: str, group: list[Row]) -> list[tuple[object, ...]]:
    """The rows of one drive."""
    found: list[tuple[object, ...]] = []
    for number, row in enumerate(group, start=1):
        minute = FIRST_LEAVES_MIN + group[0].drive_min + STOP_MIN * (number - 1)
        found.append((vehicle, day, number, row.id, f"{minute // 60:02d}:{minute % 60:02d}"))
    return found
