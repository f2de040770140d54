"""``pollstead facts``: write a county's facts back out as a county folder. Thin: read, write, print."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import cyclopts

from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

app = cyclopts.App(name="facts", help=text(N_("Write a county's facts out as a county folder.")))

Overwrite = Annotated[
    bool, cyclopts.Parameter(negative=(), help=text(N_("Replace the tables of a folder that is not empty.")))
]


@app.command
def export(folder: Path, out: Path, /, *, overwrite: Overwrite = False) -> int:
    """Write every table of FOLDER to the folder OUT; nothing is lost, and reading it back gives the same.

    Returns 1 where FOLDER has a fault, because rows that contradict one another would be lost.
    """
    from pollstead.cli.check import print_report
    from pollstead.intake.export import write_folder
    from pollstead.intake.folder import read_folder

    intake = read_folder(folder)
    if intake.election is None or intake.faults:
        print_report(intake)
        print(text(N_("Not written: correct the faults first.")), file=sys.stderr)
        return 1
    try:
        files = write_folder(intake.election, out, overwrite)
    except FileExistsError as error:
        print(error, file=sys.stderr)
        return 1
    except OSError as error:
        reason = error.strerror or str(error)
        print(
            fill(message(N_("{out} cannot be written: {reason}"), out=str(out), reason=reason)),
            file=sys.stderr,
        )
        return 1
    print(fill(message(N_("{count} files written to {out}"), count=len(files), out=str(out))))
    return 0
