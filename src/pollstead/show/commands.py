"""Command cards: what a scanner may say to the program, on codes that no serial and no seal can be.

Each payload begins with an equal sign, which no serial, tag or seal number holds, and is long: a typed
character or a torn label never does anything.
"""

from __future__ import annotations

import enum
import json
from types import MappingProxyType
from typing import Final

from pollstead.election.words import N_


class Command(enum.StrEnum):
    """What a card does; the value is what its code holds."""

    UNDO = "=UNDO=LAST=SCAN="
    VOID = "=VOID=THIS=SEAL="
    NEXT = "=NEXT=ONE=PLEASE="
    OTHER_PAIR = "=OTHER=TWO=PEOPLE="
    STOP = "=STOP=FOR=NOW="
    PASSED = "=TEST=WAS=PASSED="
    NOT_PASSED = "=TEST=NOT=PASSED="


WORDS: Final = MappingProxyType(
    {
        Command.UNDO: (N_("Undo"), N_("Takes back the last scan. The record keeps both.")),
        Command.VOID: (N_("Void"), N_("This seal is damaged or lost: opens the form that makes it void.")),
        Command.NEXT: (N_("Next"), N_("Sends what was read, or goes on to the next one.")),
        Command.OTHER_PAIR: (
            N_("Other pair"),
            N_("Other people take over: scan two badges or choose names."),
        ),
        Command.PASSED: (N_("Passed"), N_("Test passed and the counter shows zero: records the test.")),
        Command.NOT_PASSED: (
            N_("Not passed"),
            N_("Test failed or was not run: opens the form that asks why."),
        ),
        Command.STOP: (N_("Stop"), N_("Stops here. Everything is kept; go on at any time.")),
    }
)


def for_scripts() -> str:
    """The payloads and their names as JSON, for the script of a page."""
    return json.dumps({command.value: command.name.lower() for command in Command})


def command_of(code: str) -> Command | None:
    """The command that a scanned code is; None for every other code."""
    try:
        return Command(code.strip().upper())
    except ValueError:
        return None
