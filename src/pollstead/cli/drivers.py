"""``pollstead drivers``: the page that two people of a vehicle take along. Thin: read, print."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import cyclopts

from pollstead.cli.county import Refused, facts_of, tell
from pollstead.cli.standing import standing_of
from pollstead.cli.warehouse_print import print_to
from pollstead.election.words import N_
from pollstead.show.words import text

app = cyclopts.App(
    name="drivers",
    help=text(N_("Print the driver pages: stops in order, what goes to each door, whom to call.")),
)


@app.default
def drivers(
    folder: Path,
    /,
    *,
    print_: Annotated[Path, cyclopts.Parameter(name="--print", help=text(N_("Print into this PDF file.")))],
    vehicle: Annotated[
        tuple[str, ...],
        cyclopts.Parameter(negative=(), help=text(N_("Only this vehicle, an id; may be given again."))),
    ] = (),
    date: Annotated[str, cyclopts.Parameter(help=text(N_("Only this day, like 2028-11-05.")))] = "",
) -> int:
    """Print a page for each drive of delivery_stops.csv. Returns 1 where there is none, or it is not set."""
    from pollstead.show.packet.driver_page import driver_pages
    from pollstead.work.clock import now_ms
    from pollstead.work.contacts_of_stops import contacts_of
    from pollstead.work.loading import drives_of

    try:
        election, _ = facts_of(folder)
        plan, folded, _ = standing_of(folder)
    except Refused as refused:
        return tell(refused)
    found = tuple(
        one
        for one in drives_of(election, folded, now_ms())
        if (not vehicle or one.vehicle in vehicle) and (not date or one.date.isoformat() == date)
    )
    if not found:
        print(text(N_("No such drive stands in delivery_stops.csv.")), file=sys.stderr)
        return 1
    contacts = contacts_of(election, phones=True, keys=True)
    return print_to(print_, election, plan, lambda given: driver_pages(given, found, contacts))
