"""What is left out or done twice in the process of a day, and what each does to the closing form.

An omission has a direction: the numbers that it moves, by how much for each ballot, entry or count that it
is of. Sizes are drawn from the day as it was. Weights are our own guess; no source; varies by county.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from bench.counts.day_run import PACK, exchanged
from bench.counts.site_days import SiteDay

COUNTERS = ("public_counter_close", "report_count_close", "memory_count_close", "lifetime_counter_close")
FEW = ((1, 0.72), (2, 0.17), (3, 0.07), (4, 0.04))
TEST_RUN = ((2, 0.3), (3, 0.2), (5, 0.2), (10, 0.2), (12, 0.1))
ONE = ((1, 1.0),)

OPENED_AFTER_TEST = "test sheets left in, lifetime read after"
"""The counter was not zero at opening, and zero was written."""

WEIGHTS: Mapping[str, float] = {
    "spoiled ballot not put in its envelope": 8,
    "spoiled ballot and its replacement not tallied": 5,
    "replacement not tallied": 6,
    "voter left, ballot not held apart": 3,
    "ballot held as left, cast after all": 2,
    "cancelled check-in not written down": 4,
    "checked in twice": 4,
    "let in without a check-in": 2,
    "curbside voter not on the tally": 6,
    "curbside voter on the tally and the list": 3,
    "mark on the tally of ballots left out": 7,
    "mark on the tally of ballots too many": 3,
    "two ballots stuck together, both fed": 2,
    "provisional ballot fed to a device": 5,
    "provisional ballots on the tally of regular ones": 4,
    "provisional entry not written": 5,
    "envelope not in the bag": 4,
    "provisional ballot not on the tally card": 4,
    "jammed, fed again, counted twice": 6,
    "jammed, in the box, not counted": 3,
    "bin not emptied": 4,
    "bin fed later and counted by hand too": 4,
    "test sheets left in the counter": 4,
    OPENED_AFTER_TEST: 2,
    "exchanged device not read": 4,
    "memory device read twice": 4,
    "memory device not read": 5,
    "opening written as zero": 6,
    "closing number not taken, opening stands": 3,
    "report of the day before copied": 3,
    "resupply not written": 4,
    "unused counted before the resupply": 3,
    "pack counted twice or not": 5,
    "test print counted": 3,
    "bin counted in sheets": 4,
    "spoiled counted in sheets": 4,
    "unused counted in sheets": 5,
}
"""Every omission and how often it is the one, where it can happen at all."""


class Move(NamedTuple):
    """One way an omission happens: what it moves per count, and (size, share) of each size."""

    target: str
    direction: tuple[tuple[str, int], ...]
    sizes: tuple[tuple[int, float], ...]


def ways(label: str, day: SiteDay, form: Mapping[str, int]) -> Iterator[Move]:
    """Every way in which an omission can happen on this day; none where it cannot."""
    for target, direction, sizes in _ways(label, day, form):
        kept = tuple((key, step) for key, step in direction if key in form)
        fitting = tuple(
            (size, share)
            for size, share in sizes
            if size and all(form[key] + step * size >= 0 for key, step in kept)
        )
        if len(kept) == len(direction) and fitting:
            whole = sum(share for _, share in fitting)
            yield Move(target, kept, tuple((size, share / whole) for size, share in fitting))


_Way = tuple[str, tuple[tuple[str, int], ...], tuple[tuple[int, float], ...]]


def _ways(label: str, day: SiteDay, form: Mapping[str, int]) -> Iterator[_Way]:
    if label in _SIMPLE:
        direction, sizes = _SIMPLE[label]
        yield "", direction, sizes
    elif label in _WHOLE:
        key, moved_by = _WHOLE[label]
        if key in form and form[moved_by] and (day.sheets > 1 or "sheets" not in label):
            sign = 1 if "sheets" in label or "regular" in label else -1
            yield "", ((key, sign),), ((form[moved_by] * (day.sheets - 1 if "sheets" in label else 1), 1.0),)
    elif label == "pack counted twice or not":
        for sign in (1, -1):
            yield "", (("ballots_unused", sign * PACK),), ONE
    else:
        for device in day.devices:
            yield from _ways_of_device(label, day, form, device)


def _ways_of_device(label: str, day: SiteDay, form: Mapping[str, int], device: str) -> Iterator[_Way]:
    up = tuple((f"{term}@{device}", 1) for term in COUNTERS)
    down = tuple((key, -1) for key, _ in up)
    close, opening = f"public_counter_close@{device}", f"public_counter_open@{device}"
    moved = form[close] - form[opening]
    if label == "jammed, fed again, counted twice":
        yield device, up, FEW[:2]
    elif label == "jammed, in the box, not counted":
        yield device, down, FEW[:2]
    elif label == "provisional ballot fed to a device":
        fed = tuple((key, step * day.sheets) for key, step in up)
        yield device, (*fed, ("provisional_envelopes", -1)), FEW[:2]
    elif label == "two ballots stuck together, both fed":
        if not day.on_demand:
            fed = tuple((key, step * day.sheets) for key, step in up)
            yield device, (*fed, ("ballots_unused", -1)), ONE
    elif label == "bin fed later and counted by hand too":
        fed = tuple((key, step * day.sheets) for key, step in up)
        yield device, fed, ((form["ballots_auxiliary"], 1.0),)
    elif label == "test sheets left in the counter":
        yield device, up, TEST_RUN
    elif label == OPENED_AFTER_TEST and not form[opening]:
        yield device, (*up, (f"lifetime_counter_open@{device}", 1)), TEST_RUN
    elif label == "exchanged device not read":
        if exchanged(day) and device == day.devices[-2]:
            yield device, tuple(one for one in down if "memory" not in one[0]), ((moved, 1.0),)
    elif label == "memory device read twice":
        yield device, ((f"memory_count_close@{device}", 1),), ((form[close], 1.0),)
    elif label == "memory device not read":
        yield device, ((f"memory_count_close@{device}", -1),), ((form[close], 1.0),)
    elif label == "opening written as zero":
        yield device, ((opening, -1),), ((form[opening], 1.0),)
    elif label == "closing number not taken, opening stands":
        yield device, ((close, -1),), ((moved, 1.0),)
    elif label == "report of the day before copied" and day.previous:
        yield device, ((f"report_count_close@{device}", -1),), ((moved, 1.0),)


_SIMPLE: dict[str, tuple[tuple[tuple[str, int], ...], tuple[tuple[int, float], ...]]] = {
    "spoiled ballot not put in its envelope": ((("ballots_spoiled", -1),), FEW),
    "spoiled ballot and its replacement not tallied": (
        (("ballots_issued", -1), ("ballots_reissued", -1), ("ballots_spoiled", -1)),
        FEW,
    ),
    "replacement not tallied": ((("ballots_reissued", -1),), FEW),
    "voter left, ballot not held apart": ((("ballots_fled", -1),), FEW),
    "ballot held as left, cast after all": ((("ballots_fled", 1),), ONE),
    "cancelled check-in not written down": ((("check_ins_cancelled", -1),), FEW),
    "checked in twice": ((("check_ins", 1),), FEW),
    "let in without a check-in": ((("check_ins", -1),), FEW),
    "curbside voter not on the tally": ((("check_ins_added", -1),), FEW),
    "curbside voter on the tally and the list": ((("check_ins", 1),), FEW),
    "mark on the tally of ballots left out": ((("ballots_issued", -1),), FEW),
    "mark on the tally of ballots too many": ((("ballots_issued", 1),), FEW),
    "provisional entry not written": ((("provisional_entries", -1),), FEW),
    "envelope not in the bag": ((("provisional_envelopes", -1),), FEW),
    "provisional ballot not on the tally card": ((("provisional_issued", -1),), FEW),
    "test print counted": ((("ballots_printed", 1),), FEW),
}
"""Omissions at the tables: what one of them moves."""

_WHOLE: dict[str, tuple[str, str]] = {
    "provisional ballots on the tally of regular ones": ("ballots_issued", "provisional_issued"),
    "bin not emptied": ("ballots_auxiliary", "ballots_auxiliary"),
    "resupply not written": ("ballots_resupplied", "ballots_resupplied"),
    "unused counted before the resupply": ("ballots_unused", "ballots_resupplied"),
    "bin counted in sheets": ("ballots_auxiliary", "ballots_auxiliary"),
    "spoiled counted in sheets": ("ballots_spoiled", "ballots_spoiled"),
    "unused counted in sheets": ("ballots_unused", "ballots_unused"),
}
"""Omissions of a whole number: the number that moves, and the one by which it moves."""
