"""Devices by serial, seals on their closures after test, seals in stock, and vehicles: all invented."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

from building_tables import Writer
from site_list import DEVICE_MARKED, EARLY_VOTE, Row

# Sites with a second accessible voting station.
TWO_ACCESSIBLE = ("S01", "S09", "S13", "S35", "S36", "S37")
KINDS = (
    # kind, slug, letter, spares for forty sites, spares for the device-marked sites
    ("check-in computer", "check-in-computer", "C", 12, 0),
    ("scanner", "scanner", "S", 12, 0),
    ("ballot-marking device", "ballot-marking-device", "V", 5, 2),
    ("ballot printer", "ballot-printer", "P", 0, 2),
    ("on-demand ballot printer", "on-demand-ballot-printer", "D", 3, 0),
)
CLOSURES = {
    "check-in computer": ("case-left", "case-right"),
    "scanner": ("memory-door", "lid"),
    "ballot-marking device": ("case-lid", "memory-door"),
    "ballot printer": ("printer-tray",),
    "on-demand ballot printer": (),
}
COMPUTERS_IN_A_CASE = 3
BOX = 400


def wanted(kind: str, row: Row, own: str) -> int:
    """How many devices of a kind have this site as their home."""
    early, marked = own in EARLY_VOTE, own in DEVICE_MARKED
    if kind == "check-in computer":
        return row.check_in
    if kind == "scanner":
        return row.scanners + (2 if early else 0)
    if kind == "ballot-marking device":
        return row.booths + 2 if marked else (2 if own in TWO_ACCESSIBLE else 1) + (1 if early else 0)
    if kind == "ballot printer":
        return row.booths + 2 if marked else 0
    return row.check_in if early else 0


def memory_of(kind: str, own: str) -> int:
    """How many memory devices a device of this site holds."""
    if kind == "scanner":
        return 1 if own in DEVICE_MARKED else 2
    return 1 if kind == "ballot-marking device" and own in ("", *DEVICE_MARKED) else 0


def receipts(copies: int) -> list[tuple[object, ...]]:
    """Every box of seals that came in: the ranges in boxes of 400, each counted by two people."""
    rows: list[tuple[object, ...]] = []
    for kind, series, first, boxes in (
        ("pull-tight seal", "LM-A", 48_001, 7 * copies),
        ("wire seal", "LM-W", 310_001, copies),
    ):
        for box in range(boxes):
            low = first + BOX * box
            told = (f"{low:07d}", f"{low + BOX - 1:07d}", BOX, BOX)
            where = ("2028-06-05", "2028-07-10", "P002 P011", "seal cabinet, warehouse")
            rows.append((f"LM-R-{len(rows) + 1}", kind, series, *told, *where))
    return rows


def fleet_tables(
    folder: Path, sites: tuple[Row, ...], like: Callable[[str], str], write: Writer, draw: random.Random
) -> None:
    """Write devices, seals on closures, seals in stock and vehicles."""
    copies = len(sites) // 40
    devices: list[tuple[object, ...]] = []
    seals: list[tuple[object, ...]] = []
    next_seal = 48_001
    for kind, slug, letter, spares, marked_spares in KINDS:
        homes = [(row.id, like(row.id)) for row in sites for _ in range(wanted(kind, row, like(row.id)))]
        if kind == "scanner":  # the third scanner of the largest election-day site has lost its home
            for site in [row.id for row in sites if like(row.id) == "S35"]:
                homes.remove((site, "S35"))
                homes.append(("", "S35"))
        homes += [
            ("", "S01" if i < spares * copies else "") for i in range((spares + marked_spares) * copies)
        ]
        at_home: dict[str, int] = {}
        for serial, (home, own) in enumerate(homes, start=1):
            at_home[home] = place = at_home.get(home, -1) + 1
            cards = " ".join(f"LM-M-{letter}{serial:04d}{'AB'[i]}" for i in range(memory_of(kind, own)))
            lifetime = draw.randrange(800, 9_000) if kind == "scanner" else ""
            box = (
                f"LM-CART-{home or 'spare'}-{place + 1}"
                if kind == "scanner"
                else f"LM-CASE-{home or 'spare'}-{letter}"
            )
            if kind == "check-in computer":
                box += str(place // COMPUTERS_IN_A_CASE + 1)
            tag, device = f"LM-TAG-{letter}{serial:04d}", f"device/{slug}/{serial:04d}"
            state = "in service"
            devices.append(
                (device, f"LM-{letter}-{serial:04d}", kind, tag, home, state, cards, lifetime, box, "", "")
            )
            for closure in CLOSURES[kind]:
                if kind == "ballot-marking device" and closure == "memory-door" and not cards:
                    continue
                seals.append((device, closure, 1, f"{next_seal:07d}"))
                next_seal += draw.choice((1, 1, 1, 1, 2))
    write(
        folder,
        "devices.csv",
        "id,serial,kind,tag,home,state,memory_devices,lifetime_counter,cart,fixed,reason",
        devices,
    )
    write(folder, "closure_seals.csv", "device,closure,position,number", seals)
    write(
        folder,
        "seal_ranges.csv",
        "seal_kind,series,first,last",
        [
            ("pull-tight seal", "LM-A", "0048001", f"{48_000 + 2_800 * copies:07d}"),
            ("wire seal", "LM-W", "0310001", f"{310_000 + 400 * copies:07d}"),
        ],
    )
    write(
        folder,
        "seal_receipts.csv",
        "id,seal_kind,series,first,last,quantity,counted,ordered,received,counted_by,held_at",
        receipts(copies),
    )
    decided = "their logs of early voting are read first, equipment manager"
    write(
        folder,
        "early_devices.csv",
        "device_kind,site,use,reason",
        [("ballot-marking device", "", "kept apart", decided)],
    )
    trucks = [("long truck", "26' 0\"", "12' 2\"", 4500, 8), ("long truck", "26' 0\"", "12' 2\"", 4500, 8)]
    trucks += [("short truck", "22' 0\"", "11' 6\"", 3100, 6), ("van", "18' 0\"", "9' 0\"", 1400, 3)]
    rows: list[tuple[object, ...]] = []
    for _ in range(copies):
        for name, length, height, payload, carts in trucks:
            rows.append(
                (f"V{len(rows) + 1}", name, length, height, payload, carts, "no" if name == "van" else "yes")
            )
    write(folder, "vehicles.csv", "id,name,length,height,payload_kg,carts,lift_gate", rows)
