"""``pollstead heard``: which sites have not been heard from, how late, and whom to call next. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.as_of import moment_of
from pollstead.cli.county import Refused, tell
from pollstead.cli.day_standing import date_asked, folder_days, usual_date
from pollstead.cli.options import AsJson, Day
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.reconcile.heard.silence import CallHeard, HeardList, SiteHeard

FORMAT = "pollstead heard 1"

app = cyclopts.App(
    name="heard", help=text(N_("Say which sites are silent past the minute they are expected."))
)


@app.default
def heard(
    folder: Path,
    /,
    *,
    as_of: Annotated[
        str,
        cyclopts.Parameter(
            name=["--at", "--as-of"], help=text(N_("Moment, such as 2028-11-07T06:20; blank is now."))
        ),
    ] = "",
    day: Day = "",
    as_json: AsJson = False,
) -> int:
    """Print the list as of a moment. People are named by id; no name and no phone is printed."""
    from pollstead.election.instants import Instant, format_clock
    from pollstead.reconcile.heard.steps import STEP_WORDS

    try:
        election, found = list_at(folder, as_of, day)
    except Refused as refused:
        return tell(refused)
    if as_json:
        json.dump(heard_object(found), sys.stdout, ensure_ascii=False, indent=2)
        print()
        return 0
    at = Instant(utc_ms=found.now_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
    print(
        fill(
            message(
                N_("{county}, {day}, as of {at}: {n} of {sites} sites are overdue."),
                county=election.county,
                day=found.date.isoformat(),
                at=at,
                n=len(found.silent),
                sites=len(found.sites),
            )
        )
    )
    for number, site in enumerate(found.silent, start=1):
        print(f"{number}. {site.site} {site.name}: {site.late_min} min")
        for one in site.overdue:
            print(f"   {text(STEP_WORDS[one.call.step])}, {format_clock(one.call.due_min)}")
        if site.lost_running and site.lost_min:
            print(f"   {fill(message(N_('Minutes since the due opening: {n}'), n=site.lost_min))}")
        tried = ", ".join(f"{one.person} ({one.result})" for one in site.tries)
        print(
            f"   {text(N_('Call'))}: {_callees(site)}" + (f"; {text(N_('tried'))}: {tried}" if tried else "")
        )
    for rule in found.unconfirmed:
        print(fill(message(N_("Rule {rule} is not confirmed: call the office."), rule=rule.rule)))
    return 0


def _callees(site: SiteHeard) -> str:
    first = site.next_call
    rest = [one for one in site.callees if one is not first]
    ordered = [*([first] if first else []), *rest]
    return ", ".join(f"{one.person} ({', '.join(map(text, one.parts))})" for one in ordered)


def list_at(folder: Path, as_of: str, day: str) -> tuple[Election, HeardList]:
    """The list of a folder at a moment; raises Refused naming what is not there."""
    from pollstead.election.instants import Instant
    from pollstead.reconcile.heard.silence import heard_list

    _, election, plan, folded, dates = folder_days(folder)
    now_ms = moment_of(as_of, election)
    today = Instant(utc_ms=now_ms).local(election.zone_name).date()
    date = date_asked(day, dates, today if today in dates else usual_date(election, dates))
    return election, heard_list(election, plan, folded, date, now_ms)


def heard_object(found: HeardList) -> dict[str, Any]:
    """The stable JSON form: people by id, no name and no phone."""
    return {
        "format": FORMAT,
        "day": found.date.isoformat(),
        "as_of_utc_ms": found.now_ms,
        "sites": [_site(site) for site in found.sites],
        "rules": [
            {"rule": one.rule, "value": str(one.value), "unit": one.unit, "confirmed": one.confirmed}
            for one in found.rules
        ],
    }


def _site(site: SiteHeard) -> dict[str, Any]:
    first = site.next_call
    return {
        "site": site.site,
        "area": site.area,
        "voters": site.voters,
        "opens_min": None if site.hours is None else site.hours.opens_min,
        "late_min": site.late_min,
        "lost_min": site.lost_min,
        "lost_running": site.lost_running,
        "calls": [_call(one) for one in site.calls],
        "call_next": None if first is None else first.person,
        "call": [{"person": one.person, "parts": list(one.parts)} for one in site.callees],
        "tried": [
            {"person": one.person, "by": one.by, "result": one.result, "utc_ms": one.utc_ms}
            for one in site.tries
        ],
    }


def _call(one: CallHeard) -> dict[str, Any]:
    return {
        "step": one.call.step.value,
        "hour_min": one.call.hour_min,
        "due_min": one.call.due_min,
        "state": one.state.value,
        "late_min": one.late_min,
        "told": [
            {
                "event": word.event,
                "at_min": word.at_min,
                "utc_ms": word.utc_ms,
                "author": word.author,
                "by_phone_from": word.giver,
                "read_back": word.read_back,
            }
            for word in one.words
        ],
    }
