"""``pollstead fix``: fix a number of the plan, with a reason and a name. Thin: look, record, tell."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import cyclopts

from pollstead.cli.county import Refused, digests, facts_of, store_of, tell, version_of
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

app = cyclopts.App(name="fix", help=text(N_("Fix a number of the plan; planning again honors it.")))

Why = Annotated[str, cyclopts.Parameter(help=text(N_("Why, in a few words; no voter's name.")))]
By = Annotated[str, cyclopts.Parameter(help=text(N_("Id of the person who decides.")))]
NOT_SAID = N_('Say who decides and why: --by PERSON --reason "…". Nothing was written.')


@app.default
def fix(
    folder: Path, table: str, row: str, field: str, value: str, /, *, by: By = "", reason: Why = ""
) -> int:
    """Record that a person fixes one cell, such as: stations S01/check-in-desk count 5.

    Returns 1 where the plan has no such cell or the value does not fit, 2 where nobody said who and why.
    """
    from pollstead.cli.fact_desk import desk_for, moment_now, person
    from pollstead.plan.cells import find_cell
    from pollstead.work import overruling

    if not by or not reason.strip():
        print(text(NOT_SAID), file=sys.stderr)
        return 2
    place = overruling.Place(table=table, row=row, field=field)
    try:
        election, _ = facts_of(folder)
        with store_of(folder) as store:
            kept = digests(store)
            version = version_of(store, kept[-1]) if kept else None
        fault = overruling.fault_of(place, value, reason, election, version)
        if fault is not None:
            raise Refused(fault[1])
        people = person(by)
        with desk_for(folder, people, election) as desk:
            overruling.fix(
                desk.recorder,
                desk.fold(),
                place,
                value,
                reason=reason,
                people=people,
                moment=moment_now(),
            )
    except Refused as refused:
        return tell(refused)
    found = find_cell(election, version, table, row, field) if version is not None else None
    words = N_("Fixed: {table} {row} {field} at {value}; the plan has {before}. Plan again: {command}")
    print(
        fill(
            message(
                words,
                table=table,
                row=row,
                field=field,
                value=value,
                before="-" if found is None else found.value,
                command=f"pollstead plan {folder}",
            )
        )
    )
    return 0
