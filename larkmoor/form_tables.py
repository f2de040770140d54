"""Larkmoor's own closing forms, line by line: invented, so that worksheets can show where a number goes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

COUNTS, DEVICES = "Moor Counts leaf", "Moor Counter leaf"

FORM_LINES = (
    ("ballots_received", COUNTS, "1a"),
    ("ballots_resupplied", COUNTS, "1b"),
    ("ballots_printed", COUNTS, "1c"),
    ("ballots_unused", COUNTS, "2"),
    ("ballots_spoiled", COUNTS, "3"),
    ("ballots_fled", COUNTS, "4"),
    ("ballots_auxiliary", COUNTS, "5"),
    ("check_ins", COUNTS, "6a"),
    ("check_ins_added", COUNTS, "6b"),
    ("check_ins_cancelled", COUNTS, "6c"),
    ("ballots_issued", COUNTS, "7a"),
    ("ballots_reissued", COUNTS, "7b"),
    ("provisional_issued", COUNTS, "8a"),
    ("provisional_envelopes", COUNTS, "8b"),
    ("provisional_entries", COUNTS, "8c"),
    ("public_counter_open", DEVICES, "B"),
    ("public_counter_close", DEVICES, "D"),
    ("lifetime_counter_open", DEVICES, "A"),
    ("lifetime_counter_close", DEVICES, "C"),
    ("report_count_close", DEVICES, "E"),
)
"""Term, form, line. Two terms have no line on any form of this county: not every county writes all of them."""


def form_tables(folder: Path, write: Callable[[Path, str, str, list[tuple[object, ...]]], None]) -> None:
    """Write ``form_lines.csv``; the forms are the same however many sites there are."""
    write(folder, "form_lines.csv", "term,form,line", list(FORM_LINES))
