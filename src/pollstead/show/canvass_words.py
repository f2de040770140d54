"""The canvass in words: rows of text that the page's files, the report and the command line share."""

from __future__ import annotations

from collections.abc import Callable

from pollstead.election.county import Election
from pollstead.election.words import N_
from pollstead.reconcile.counts.canvass_version import (
    CanvassVersion,
    RowState,
    VersionChange,
    VersionMachine,
    VersionRow,
)
from pollstead.reconcile.counts.quantities import BY_QUANTITY
from pollstead.reconcile.counts.uploads import UploadState
from pollstead.work.count_names import MODE_WORDS

Say = Callable[[str], str]
"""A function that gives an English text in the reader's language."""

UNOFFICIAL = N_(
    "Unofficial staff counts, to find copying errors; the canvassing body decides what they mean."
)

HEADS = (
    N_("Site"),
    N_("Name"),
    N_("Way of voting"),
    N_("Quantity"),
    N_("Ballot style"),
    N_("Unit"),
    N_("Counted by the site"),
    N_("Received"),
    N_("Canvass"),
    N_("Site less received"),
    N_("Site less canvass"),
    N_("State"),
    N_("Who has it"),
    N_("How far"),
)
NUMBERS = range(6, 11)
"""The places of the columns that hold numbers."""

MACHINE_HEADS = (
    N_("Site"),
    N_("Machine"),
    N_("Way of voting"),
    N_("Memory devices"),
    N_("State"),
    N_("Counted by the machine"),
    N_("Taken"),
    N_("Difference"),
)

UPLOAD_MARKS = {UploadState.ONCE: "square", UploadState.NOT_YET: "ring", UploadState.TWICE: "diamond"}
ROW_MARKS = {
    RowState.EQUAL: "square",
    RowState.DIFFERENCE: "diamond",
    RowState.TWO_VALUES: "diamond",
    RowState.NOT_READ: "ring",
    RowState.NOT_COMPARED: "ring",
}
Cell = str | int | None
"""A cell: a number stays a number; None is a number that nobody has."""


def quantity_words(quantity: str, say: Say) -> str:
    """A quantity in the reader's language; one of another program's by its own word."""
    return say(BY_QUANTITY[quantity].words) if quantity in BY_QUANTITY else quantity


def mode_words(mode: str, say: Say) -> str:
    """A way of voting in the reader's language; a county's own by its own word."""
    return say(MODE_WORDS[mode]) if mode in MODE_WORDS else mode


def row_cells(
    version: CanvassVersion, row: VersionRow, say: Say, name_of: Callable[[str], str]
) -> tuple[Cell, ...]:
    """One row of the county table as cells under `HEADS`."""
    work = version.work_on(row)
    return (
        row.site or say(N_("county")),
        row.name,
        mode_words(row.mode, say),
        quantity_words(row.quantity, say),
        row.style,
        say(row.unit),
        row.own,
        row.received,
        row.canvass,
        row.received_difference,
        row.canvass_difference,
        say(row.state.value),
        name_of(work.who) if work is not None and work.who else "",
        say(version.state_of(row).value) if work is not None else "",
    )


def machine_cells(machine: VersionMachine, say: Say, serials: dict[str, str]) -> tuple[Cell, ...]:
    """One machine as cells under `MACHINE_HEADS`."""
    return (
        machine.site,
        serials.get(machine.device, machine.device),
        mode_words(machine.mode, say),
        ", ".join(machine.memory),
        say(machine.state.value),
        machine.own,
        ", ".join(f"{memory} {count}" for memory, count, _ in machine.taken),
        machine.difference,
    )


def serials_of(election: Election) -> dict[str, str]:
    """Each device's serial by its id."""
    return {device.id: device.serial for device in election.devices}


def signed(number: int | None) -> str:
    """A difference with its sign; 0 without one, a dash where there is none."""
    return "–" if number is None else f"{number:+,}" if number else "0"


def plain_number(number: int | None) -> str:
    """A number with thousands apart; a dash where nobody has it."""
    return "–" if number is None else f"{number:,}"


def change_lines(change: VersionChange, say: Say) -> tuple[tuple[str, str, str], ...]:
    """What differs between two versions: of what, before, after."""
    found = []
    for one in change.rows:
        shown = one.after or one.before
        if shown is None:
            continue
        of = " ".join(filter(None, (shown.site or say(N_("county")), shown.name)))
        what = ", ".join(
            filter(None, (quantity_words(shown.quantity, say), mode_words(shown.mode, say), shown.style))
        )
        found.append((f"{of}: {what}", _numbers(one.before, say), _numbers(one.after, say)))
    return tuple(found)


def _numbers(row: VersionRow | None, say: Say) -> str:
    if row is None:
        return say(N_("not there"))
    numbers = " / ".join(plain_number(n) for n in (row.own, row.received, row.canvass))
    return f"{numbers} ({say(row.state.value)})"
