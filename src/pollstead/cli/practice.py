"""``pollstead practice``: a practice election from a county's facts, in a folder of its own. Thin."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import cyclopts

from pollstead.cli.county import Refused, facts_of, refuse, tell
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

app = cyclopts.App(name="practice", help=text(N_("Make a practice election from a county's facts.")))


@app.default
def practice(
    folder: Path,
    to: Path,
    /,
    *,
    phones: Annotated[
        bool, cyclopts.Parameter(name="--phones", negative=(), help=text(N_("Take telephone numbers along.")))
    ] = False,
) -> int:
    """Make TO, a new folder, with the facts of FOLDER as a practice election.

    No record, no key, no plan and no paper goes along. Returns 1 where that cannot be done.
    """
    from pollstead.election.practice import MARK, practice_of
    from pollstead.intake.export import write_folder
    from pollstead.store.folders import refuse_shared

    try:
        election, _ = facts_of(folder)
        if election.practice:
            refuse(
                N_("{folder} is a practice election already. Name the real county folder."),
                folder=str(folder),
            )
        refuse_shared(to)
        write_folder(practice_of(election, phones=phones), to)
    except Refused as refused:
        return tell(refused)
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    for said in (
        message(N_("{to} is a practice election of {county}."), to=str(to), county=election.county),
        message(
            N_("PRACTICE stands on every page and sheet; the real record refuses what is entered there.")
        ),
        message(
            N_("Its sheet serials and seal numbers begin with {mark}; device serials are the real ones."),
            mark=MARK,
        ),
        message(N_("Go on by: pollstead plan {to}, print {to}, serve {to}"), to=str(to)),
        message(N_("When it is over, remove the folder; your county decides what becomes of its paper.")),
    ):
        print(fill(said))
    return 0
