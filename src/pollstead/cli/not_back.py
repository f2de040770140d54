"""``pollstead not-back``: which thing has not come to a receiving table, and who had it last. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.county import Refused, tell
from pollstead.cli.day_standing import day_standing
from pollstead.cli.options import AsJson, Day
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.reconcile.custody.not_back import NotBack, NotBackList

FORMAT = "pollstead not-back 1"

app = cyclopts.App(
    name="not-back", help=text(N_("Say which thing has not come back, who had it last, and whom to call."))
)


@app.default
def not_back(
    folder: Path,
    /,
    *,
    as_of: Annotated[
        str,
        cyclopts.Parameter(name="--as-of", help=text(N_("Moment, such as 2028-11-07T23:30; blank is now."))),
    ] = "",
    day: Day = "",
    as_json: AsJson = False,
) -> int:
    """Print the list as of a moment. People are named by id; no name and no phone is printed."""
    from pollstead.election.instants import Instant

    try:
        election, found = list_at(folder, as_of, day)
    except Refused as refused:
        return tell(refused)
    if as_json:
        json.dump(not_back_object(found), sys.stdout, ensure_ascii=False, indent=2)
        print()
        return 0
    print(
        fill(
            message(
                N_("{county}, {day}: everything of {complete} of {sites} sites is back; {n} things are not."),
                county=election.county,
                day=found.date.isoformat(),
                complete=found.sites_complete,
                sites=found.sites,
                n=len(found.things),
            )
        )
    )
    for number, one in enumerate(found.things, start=1):
        since = text(N_("no word yet"))
        if one.last_ms is not None:
            since = Instant(utc_ms=one.last_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
        print(f"{number}. {text(one.line.sort.value)} {code_of(one)}: {one.site} {one.site_name}".rstrip())
        print(f"   {text(one.line.state.value)}; {one.last_place}; {', '.join(one.last_people)}; {since}")
        if one.call:
            print(f"   {text(N_('Call'))}: {', '.join(one.call)}")
    for silent in found.silent:
        print(
            fill(
                message(
                    N_("- {site} {name}: nobody has told its closing."), site=silent.site, name=silent.name
                )
            )
        )
    return 0


def code_of(one: NotBack) -> str:
    """What stands on the thing; all ids where one of several is meant."""
    if one.line.one_of:
        return fill(message(N_("one of {ids}"), ids=", ".join(one.line.one_of)))
    return one.line.code


def list_at(folder: Path, as_of: str, day: str) -> tuple[Election, NotBackList]:
    """The list of a folder at a moment; raises Refused naming what is not there."""
    from pollstead.reconcile.custody.legs import legs_of
    from pollstead.reconcile.custody.not_back import not_back as list_of
    from pollstead.reconcile.custody.places import held_things

    now = day_standing(folder, as_of, day)
    held = held_things(legs_of(now.folded))
    return now.election, list_of(now.election, now.sites, held, now.date, now.now_ms)


def not_back_object(found: NotBackList) -> dict[str, Any]:
    """The stable JSON form: people by id, no name and no phone."""
    return {
        "format": FORMAT,
        "day": found.date.isoformat(),
        "as_of_utc_ms": found.now_ms,
        "sites": found.sites,
        "sites_complete": found.sites_complete,
        "things": [
            {
                "thing": one.line.thing,
                "sort": one.line.sort.value,
                "code": one.line.code,
                "one_of": list(one.line.one_of),
                "site": one.site,
                "state": one.line.state.value,
                "inside": one.line.inside,
                "machine": one.line.device,
                "last_place": one.last_place,
                "last_people": list(one.last_people),
                "last_utc_ms": one.last_ms,
                "due_utc_ms": one.due_ms,
                "age_min": one.age_min,
                "overdue": one.overdue,
                "on_its_way": one.on_its_way,
                "call": list(one.call),
                "holds": list(one.holds),
                "fetching": list(one.fetching),
            }
            for one in found.things
        ],
        "not_heard_from": [
            {"site": one.site, "due_utc_ms": one.due_ms, "last_utc_ms": one.last_ms, "call": list(one.call)}
            for one in found.silent
        ],
    }
