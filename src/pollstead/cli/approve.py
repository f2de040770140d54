"""``pollstead approve``: a plan version by name; an earlier one again undoes an approval. Thin."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import cyclopts

from pollstead.cli.fact_options import By
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

app = cyclopts.App(
    name="approve", help=text(N_("Approve a plan version by name, also an earlier one again."))
)

Version = Annotated[
    str, cyclopts.Parameter(help=text(N_("Plan version by number or digest; 1 is the oldest.")))
]


@app.default
def approve(folder: Path, version: Version, /, *, by: By = "") -> int:
    """Approve plan VERSION of FOLDER; pages and packets show the version approved last.

    To undo an approval, approve the earlier version again: nothing is erased. Facts stay as they are
    now, expected lists as issued, sheets as printed. Returns 1 where there is no such version, 2 where
    nobody said who approves.
    """
    from pollstead.cli.fact_desk import desk_for, moment_now, person
    from pollstead.intake.folder import read_folder
    from pollstead.record.kinds.offices import PlanApproved
    from pollstead.work.county_folder import Refused, digest_named, digests, store_of

    if not by:
        print(text(N_("Nothing was approved. Say who approves: --by PERSON.")), file=sys.stderr)
        return 2
    people = person(by)
    try:
        with store_of(folder) as store:
            digest = digest_named(store, version)
            number = digests(store).index(digest) + 1
            made_from = next(line.snapshot for line in store.plans.list() if line.digest == digest)
        with desk_for(folder, people, None) as desk:
            fact = desk.fold().find("plan", PlanApproved.kind)
            standing = [] if fact is None else [str(one.value["digest"]) for one in fact.current]
            if standing == [digest]:
                print(fill(message(N_("Plan version {number} is approved already."), number=number)))
                return 0
            desk.recorder.record(
                PlanApproved(digest=digest),
                subject="plan",
                people=people,
                moment=moment_now(),
                after=desk.fold().heads("plan", PlanApproved.kind),
            )
    except Refused as error:
        print(fill(error.said), file=sys.stderr)
        return 1
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    print(fill(message(N_("Plan version {number} is approved; pages and packets show it."), number=number)))
    if standing:
        print(text(N_("Sheets printed from another version stay as they are: print again.")))
    if made_from != read_folder(folder).digest:
        print(text(N_("It was made from other facts than the tables hold now.")))
    return 0
