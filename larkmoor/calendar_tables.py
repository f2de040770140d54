"""Larkmoor's calendar: the list that ships as a start, made this county's own, and its holidays. All invented.

Laws, directives, sections and holidays stand in no real book; any likeness is accidental.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

SHIPPED = Path(__file__).parent.parent / "src" / "pollstead" / "intake" / "data" / "starter_tasks.csv"
OWNERS = {
    "coordinator": "P001", "warehouse manager": "P002", "equipment manager": "P003", "poll worker coordinator": "P004",
    "site coordinator": "P005", "trainer": "P006", "clerk": "P007", "test crew": "P009", "supply clerk": "P011",
    "election official": "P012",
}  # fmt: skip
COUNSEL = {"confirmed_by": "county counsel", "confirmed_on": "2028-04-14"}
LAW = {"kind": "law", "source": "Larkmoor election code, section {} (invented)"}
DIRECTIVE = {"kind": "directive", "source": "Directive {} of the Larkmoor state office (invented)"}


def _by(level: dict[str, str], number: str, **more: str) -> dict[str, str]:
    return {**level, "source": level["source"].format(number), **more}


OWN: dict[str, dict[str, str]] = {
    "order-ballots": _by(DIRECTIVE, "7", **COUNSEL),
    "public-test-notice": _by(LAW, "31", **COUNSEL),
    "public-test": _by(
        LAW, "31", **COUNSEL, fixed_date="2028-10-17", fixed_reason="the county hall is free that Tuesday"
    ),
    "early-vote-opens": _by(LAW, "44", **COUNSEL),
    "early-vote-ends": _by(LAW, "44", **COUNSEL),
    "election-day": _by(LAW, "2", **COUNSEL),
    "canvass-papers": _by(LAW, "63"),
    "balance-sites": _by(DIRECTIVE, "12", **COUNSEL),
    "use-agreements": {"kind": "policy", "source": "Larkmoor office handbook, page 9 (invented)"},
    "pack-supplies": {"offset_days": "-4", "from_task": "load-carts", "offset_counts": "working days"},
    "thank-buildings": {"owner_role": "", "owner": ""},
}
"""What Larkmoor says otherwise than the shipped list; canvass-papers is not confirmed, thank-buildings unowned."""

HOLIDAYS = (
    ("2028-05-29", "Orchard Day", "yes"),
    ("2028-07-04", "Lantern Day", "yes"),
    ("2028-08-18", "Fair Friday", "no"),
    ("2028-09-04", "Workers' Rest", "yes"),
    ("2028-10-09", "Founders' Morning", "yes"),
    ("2028-11-10", "Remembrance of the Moor", "yes"),
    ("2028-11-23", "Harvest Table", "yes"),
    ("2028-11-24", "Day after Harvest Table", "yes"),
    ("2028-12-25", "Midwinter", "yes"),
    ("2029-01-01", "First Day", "yes"),
)
COLUMNS = (
    "id", "words", "owner_role", "owner", "offset_days", "from_task", "offset_counts", "timing", "roll",
    "duration_days", "after", "kind", "fixed_date", "fixed_reason", "source", "confirmed_by", "confirmed_on",
    "done_shown_by",
)  # fmt: skip


def calendar_tables(folder: Path, write: Callable[[Path, str, str, list[tuple[object, ...]]], None]) -> None:
    """Write ``tasks.csv`` and ``holidays.csv``; the office's tasks are the same however many sites there are."""
    rows: list[tuple[object, ...]] = []
    with SHIPPED.open(encoding="utf-8", newline="") as stream:
        for shipped in csv.DictReader(stream):
            row = {"owner": OWNERS.get(shipped["owner_role"], ""), **shipped, **OWN.get(shipped["id"], {})}
            rows.append(tuple(row.get(column, "") for column in COLUMNS))
    write(folder, "tasks.csv", ",".join(COLUMNS), rows)
    write(folder, "holidays.csv", "date,name,closed", list(HOLIDAYS))
