"""``pollstead unfix``: let a number that a person fixed follow the plan again. Thin: record, tell."""

from __future__ import annotations

import sys
from pathlib import Path

import cyclopts

from pollstead.cli.county import Refused, facts_of, store_of, tell
from pollstead.cli.fix import NOT_SAID, By, Why
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

app = cyclopts.App(name="unfix", help=text(N_("Let a number that a person fixed follow the plan again.")))


@app.default
def unfix(folder: Path, table: str, row: str, field: str, /, *, by: By = "", reason: Why = "") -> int:
    """Record that one cell is no longer fixed.

    Returns 1 where no decision fixes it, 2 where nobody said who and why.
    """
    from pollstead.cli.fact_desk import desk_for, moment_now, person
    from pollstead.work import overruling

    if not by or not reason.strip():
        print(text(NOT_SAID), file=sys.stderr)
        return 2
    place = overruling.Place(table=table, row=row, field=field)
    people = person(by)
    try:
        election, _ = facts_of(folder)
        store_of(folder).close()
        with desk_for(folder, people, election) as desk:
            overruling.unfix(
                desk.recorder, desk.fold(), place, reason=reason, people=people, moment=moment_now()
            )
    except Refused as refused:
        return tell(refused)
    words = N_("{table} {row} {field} follows the plan again. Plan again: {command}")
    command = f"pollstead plan {folder}"
    print(fill(message(words, table=table, row=row, field=field, command=command)))
    return 0
