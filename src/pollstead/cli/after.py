"""What comes after a command that may have written: a copy at the change, and when the last good one was."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path
from typing import Final

from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

READING: Final = frozenset(
    {"backup", "bench", "check", "demo", "diff", "new", "practice", "restore", "serve", "why"}
)
"""Commands that write nothing into a county folder's store, or see to its copies themselves."""
READING_PARTS: Final = frozenset({("record", "verify"), ("record", "head"), ("record", "export")})
DATABASE: Final = "pollstead.db"


def folder_of(arguments: list[str]) -> Path | None:
    """The county folder with a store that a command was given; None for a command that only reads."""
    if not arguments or arguments[0] in READING or tuple(arguments[:2]) in READING_PARTS:
        return None
    given = (Path(argument) for argument in arguments[1:] if not argument.startswith("-"))
    return next((folder for folder in given if (folder / DATABASE).is_file()), None)


def say_practice(arguments: list[str]) -> None:
    """Say that a folder is a practice election, whatever the command about it, on the error channel."""
    for argument in arguments[1:]:
        try:
            facts = tomllib.loads((Path(argument) / "county.toml").read_text(encoding="utf-8"))
        except (OSError, ValueError):  # an option, a file, a word: no county folder
            continue
        if facts.get("practice") is True:
            print(text(N_("PRACTICE: nothing of this folder reaches the real record.")), file=sys.stderr)
            return


def copy_after_command(arguments: list[str]) -> None:
    """Copy the folder of a command to the place set for it, and say when the last good copy was made.

    Never changes what the command did or its exit code. Says nothing on standard output, where
    JSON may stand.
    """
    folder = folder_of(arguments)
    if folder is None:
        return
    from pollstead.cli.backup import wall_time
    from pollstead.store.backup import copy_after_change
    from pollstead.store.copy_status import copy_sentences, copy_status
    from pollstead.store.opening import open_store
    from pollstead.work.clock import now_ms

    try:
        with open_store(folder, create=False) as store:
            status = copy_status(store)
        if status.target is not None:
            copy_after_change(folder, utc_ms=now_ms())
            with open_store(folder, create=False) as store:
                status = copy_status(store)
    except (OSError, ValueError) as error:
        print(fill(message(N_("No copy was made: {why}."), why=str(error))), file=sys.stderr)
        return
    for sentence in copy_sentences(status, wall_time):
        print(fill(sentence), file=sys.stderr)
    if status.target is None:
        print(text(N_("Set a place by: pollstead backup FOLDER TO --set")), file=sys.stderr)
