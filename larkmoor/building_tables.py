"""Rooms, doors, circuits, outlets and data ports of the invented sites."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from site_list import DEVICE_MARKED, PLANTED, Row

Writer = Callable[[Path, str, str, list[tuple[object, ...]]], None]
USES = {
    "school": "gym", "library": "meeting room", "worship": "fellowship hall", "fire": "apparatus bay",
    "community": "main hall", "county": "assembly room", "college": "ballroom",
}  # fmt: skip


class Room(NamedTuple):
    """What the list of sites repeats of a voting room."""

    kind: str
    door_clear: str
    width: str
    depth: str
    outlets: int


def feet(inches: int) -> str:
    """Inches as feet and inches."""
    return f"{inches // 12}' {inches % 12}\""


def building_tables(
    folder: Path, sites: tuple[Row, ...], like: Callable[[str], str], write: Writer
) -> dict[str, Room]:
    """Write the five tables and give what sites.csv repeats of them."""
    rooms: list[tuple[object, ...]] = []
    corners: list[tuple[object, ...]] = []
    doors: list[tuple[object, ...]] = []
    circuits: list[tuple[object, ...]] = []
    outlets: list[tuple[object, ...]] = []
    ports: list[tuple[object, ...]] = []
    found: dict[str, Room] = {}
    for n, row in enumerate(sites):
        own = like(row.id)
        planted = PLANTED["rooms"].get(own, {})
        use, site = USES[row.building], row.id
        # Room for booths and stations at about 45 square feet each, and half as much again to move.
        width = 12 * (32 + row.booths + n % 4)
        depth = 12 * (26 + row.booths // 2 + n % 3)
        rooms.append(
            (
                site,
                "main",
                f"{use.capitalize()} of {row.name}",
                use,
                "yes",
                "",
                planted.get("heated_at_night", "yes"),
            )
        )
        outline = [(0, 0), (width, 0), (width, depth), (0, depth)]
        if n % 5 == 3:  # one room in five has a corner cut out
            outline = [
                (0, 0),
                (width, 0),
                (width, depth - 96),
                (width - 120, depth - 96),
                (width - 120, depth),
                (0, depth),
            ]
        corners += [(site, "main", i, feet(x), feet(y)) for i, (x, y) in enumerate(outline, start=1)]
        front = "30.5" if own == "S05" else "36"
        doors.append((site, "main", "front", "front door", feet(width // 2), feet(0), front, "yes", "yes"))
        doors.append((site, "main", "side", "side door", feet(0), feet(depth // 2), "34", "no", "no"))
        if own == "S01":
            doors.append(
                (
                    site,
                    "main",
                    "square",
                    "door to the square",
                    feet(width),
                    feet(depth // 3),
                    "36",
                    "yes",
                    "no",
                )
            )
        if own == "S20":
            rooms.append((site, "upper", "Upper gym", use, "no", "no", "yes"))
            corners += [(site, "upper", i, feet(x), feet(y)) for i, (x, y) in enumerate(outline[:4], start=1)]
        reach = (
            row.check_in + 3 if row.building in ("county", "college") or own == "S36" else 3 + row.scanners
        )
        amps = 20
        if own in ("S07", "S31"):
            reach, amps = 1, 15
        if own == "S36":
            reach = 2
        names = [f"C{i}" for i in range(1, reach + 1)]
        circuits += [(site, name, amps, 120, "") for name in names]
        if own != "S31":
            circuits.append((site, "K1", 20, 120, "kitchen or office"))
        count = 2 if own == "S31" else max(6 + row.booths // 2, 2 * reach)
        for i in range(count):
            along = width * (i // 2 + 1) // (count // 2 + 2)
            outlets.append(
                (site, "main", f"O{i + 1}", names[i % reach], feet(along), feet(0 if i % 2 == 0 else depth))
            )
        if own == "S15":
            rooms.append((site, "office", "School office", "office", "no", "no", "yes"))
            ports.append((site, "office", "D1", "190' 0\""))
        else:
            ports.append((site, "main", "D1", feet(240 + 12 * (n % 20))))
        kind = "device-marked" if own in DEVICE_MARKED else "hand-marked"
        found[site] = Room(kind, min(front, "34", key=float), feet(width), feet(depth), count)
    write(folder, "rooms.csv", "site,id,name,use,voting,marked,heated_at_night", rooms)
    write(folder, "room_corners.csv", "site,room,number,x,y", corners)
    write(folder, "doors.csv", "site,room,id,name,x,y,clear_in,public,sign", doors)
    write(folder, "circuits.csv", "site,id,amps,volts,shared_with", circuits)
    write(folder, "outlets.csv", "site,room,id,circuit,x,y", outlets)
    write(folder, "ports.csv", "site,room,id,cable", ports)
    return found
