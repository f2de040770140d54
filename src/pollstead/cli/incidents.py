"""``pollstead incidents``: what goes wrong where, bursts over several sites, lost minutes. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.county import Refused, tell
from pollstead.cli.day_standing import DayStanding, day_standing
from pollstead.cli.options import AsJson, Day
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.reconcile.happening.incidents import Incident
    from pollstead.reconcile.happening.lost import Lost
    from pollstead.reconcile.happening.spread import Spread

FORMAT = "pollstead incidents 1"

app = cyclopts.App(
    name="incidents",
    help=text(N_("Say what goes wrong where, what came from several sites, and which minutes were lost.")),
)


@app.default
def incidents(
    folder: Path,
    /,
    *,
    as_of: Annotated[
        str,
        cyclopts.Parameter(name="--as-of", help=text(N_("Moment, such as 2028-11-07T14:20; blank is now."))),
    ] = "",
    day: Day = "",
    as_json: AsJson = False,
) -> int:
    """Print the incidents of a day as of a moment. Nobody's words and no name of a caller is printed."""
    from pollstead.election.incidents import kinds_of
    from pollstead.election.instants import format_clock
    from pollstead.reconcile.happening.incidents import incidents_of
    from pollstead.reconcile.happening.spread import calls_begin_min, spreads_of

    try:
        standing = day_standing(folder, as_of, day)
    except Refused as refused:
        return tell(refused)
    election = standing.election
    found = incidents_of(standing.folded, standing.date)
    first = min((s.opened.set_min for s in standing.sites if s.opened.set_min is not None), default=0)
    spreads = spreads_of(found, election.rules, calls_begin_min(first, election.rules))
    lost = lost_of(standing, found)
    if as_json:
        json.dump(incidents_object(standing, found, spreads, lost), sys.stdout, ensure_ascii=False, indent=2)
        print()
        return 0
    words = {kind.id: text(kind.words) for kind in kinds_of(election.incident_kinds)}
    serials = {device.id: device.serial for device in election.devices}
    going_on = sum(one.goes_on and not one.into for one in found)
    lead = message(
        N_("{county}, {day}: {n} incidents go on."),
        county=election.county,
        day=standing.date.isoformat(),
        n=going_on,
    )
    print(fill(lead))
    for spread in spreads:
        said = N_("{n} sites in {minutes} minutes: {what} ({sites}). Advice only.")
        what, sites = words.get(spread.what, spread.what), ", ".join(spread.sites)
        print(fill(message(said, n=len(spread.sites), minutes=spread.minutes, what=what, sites=sites)))
    for one in found:
        until = text(N_("goes on")) if one.ended_min is None else format_clock(one.ended_min)
        place = " ".join(filter(None, (one.site, serials.get(one.device, one.device))))
        same = f" (= {one.into.rpartition('/')[2]})" if one.into else ""
        what = words.get(one.what, one.what)
        print(f"{one.label}. {format_clock(one.began_min)}–{until} {place}: {what}{same}")
    for row in lost:
        if row.site_min:
            told = message(
                N_("{site}: {minutes} min lost at the whole site."), site=row.site, minutes=row.site_min
            )
            print(fill(told))
    return 0


def lost_of(standing: DayStanding, found: tuple[Incident, ...]) -> tuple[Lost, ...]:
    """The lost minutes of each site that has some."""
    from pollstead.reconcile.happening.site_lost import lost_of_site

    rows = [
        lost_of_site(
            standing.folded,
            standing.date,
            site.site,
            found,
            hours=(site.opened.set_min, site.closed.set_min),
            told=site.opened.values,
            now_min=standing.now_min,
        )
        for site in standing.sites
        if site.opened.set_min is not None and site.closed.set_min is not None
    ]
    return tuple(row for row in rows if row.stretches)


def incidents_object(
    standing: DayStanding,
    found: tuple[Incident, ...],
    spreads: tuple[Spread, ...],
    lost: tuple[Lost, ...],
) -> dict[str, Any]:
    """The stable JSON form: no words, no callers."""
    return {
        "format": FORMAT,
        "day": standing.date.isoformat(),
        "as_of_utc_ms": standing.now_ms,
        "incidents": [
            {
                "event": one.event,
                "subject": one.subject,
                "label": one.label,
                "site": one.site,
                "device": one.device,
                "what": one.what,
                "service": one.service,
                "began_min": one.began_min,
                "ended_min": one.ended_min,
                "ends_differ": list(one.ends_differ),
                "same_as": one.into,
                "calls": one.calls,
                "told_utc_ms": one.told_utc_ms,
            }
            for one in found
        ],
        "several_sites": [
            {
                "what": one.what,
                "sites": list(one.sites),
                "from_min": one.from_min,
                "to_min": one.to_min,
                "incidents": list(one.incidents),
                "expected_milli": one.expected_milli,
                "chance_ppm": one.chance_ppm,
            }
            for one in spreads
        ],
        "lost": [
            {
                "site": one.site,
                "site_min": one.site_min,
                "devices": [{"device": device, "min": minutes} for device, minutes in one.devices],
                "running": one.running,
                "stretches": [
                    {
                        "from_min": s.from_min,
                        "to_min": s.to_min,
                        "what": s.what,
                        "device": s.device,
                        "incident": s.incident,
                        "running": s.running,
                    }
                    for s in one.stretches
                ],
            }
            for one in lost
        ],
    }
