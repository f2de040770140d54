"""``pollstead waits``: how long the wait is now at each site, what is not known, which move helps. Thin."""

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
    from pollstead.plan.terms.now import Band, Move
    from pollstead.work.waits import SiteWait, Waits

FORMAT = "pollstead waits 1"
MINUTE_MS = 60_000

app = cyclopts.App(
    name="waits",
    help=text(N_("Estimate the wait now at each site from counted lines, and say which move helps.")),
)


@app.default
def waits(
    folder: Path,
    /,
    *,
    as_of: Annotated[
        str,
        cyclopts.Parameter(
            name=["--at", "--as-of"], help=text(N_("Moment, such as 2028-11-07T11:20; blank is now."))
        ),
    ] = "",
    day: Day = "",
    as_json: AsJson = False,
) -> int:
    """Print the longest waits first, then what is not known, then moves. All are estimates."""
    from pollstead.election.instants import Instant
    from pollstead.plan.terms.now import Known
    from pollstead.show.waits_words import KNOWN_WORDS, STAGE_WORDS, move_words, wait_words

    try:
        election, found = waits_of(folder, as_of, day)
    except Refused as refused:
        return tell(refused)
    if as_json:
        json.dump(waits_object(found), sys.stdout, ensure_ascii=False, indent=2)
        print()
        return 0
    known = [one for one in found.sites if one.wait.known is Known.ESTIMATED]
    at = Instant(utc_ms=found.now_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
    print(
        fill(
            message(
                N_("{county}, {day}, as of {at}: an estimate for {n} of {sites} sites."),
                county=election.county,
                day=found.date.isoformat(),
                at=at,
                n=len(known),
                sites=len(found.sites),
            )
        )
    )
    for one in sorted(known, key=_longest_first):
        print(f"{one.site} {one.name}: {fill(wait_words(one.wait))}")
        for stage in one.wait.stopped:
            none = message(N_("no station works there, {stage}"), stage=text(STAGE_WORDS[stage]))
            print(f"{one.site} {one.name}: {fill(none)}")
    for one in found.sites:
        if one.wait.known in (Known.STALE, Known.NEVER_TOLD):
            age = "" if one.wait.age_ms is None else f" ({one.wait.age_ms // MINUTE_MS} min)"
            print(f"{one.site} {one.name}: {text(KNOWN_WORDS[one.wait.known])}{age}")
    stopped = {one.site: one.wait.stopped for one in found.sites}
    for number, move in enumerate(found.moves, start=1):
        print(f"{number}. {fill(move_words(move, text, stopped[move.site]))}")
    return 0


def _longest_first(one: SiteWait) -> tuple[int, str]:
    return (-(one.wait.wait.middle if one.wait.wait else 0), one.site)


def waits_of(folder: Path, as_of: str, day: str) -> tuple[Election, Waits]:
    """The waits of a folder at a moment; raises Refused naming what is not there."""
    from pollstead.election.instants import Instant
    from pollstead.work.waits import waits_at

    _, election, plan, folded, dates = folder_days(folder)
    now_ms = moment_of(as_of, election)
    today = Instant(utc_ms=now_ms).local(election.zone_name).date()
    date = date_asked(day, dates, today if today in dates else usual_date(election, dates))
    return election, waits_at(election, plan, folded, date, now_ms)


def waits_object(found: Waits) -> dict[str, Any]:
    """The stable JSON form; times in milliseconds, moments since the operating day began."""
    return {
        "format": FORMAT,
        "day": found.date.isoformat(),
        "as_of_utc_ms": found.now_ms,
        "day_starts_utc_ms": found.starts_ms,
        "sites": [_site(one) for one in found.sites],
        "moves": [_move(one) for one in found.moves],
        "rules": [
            {"rule": one.rule, "minutes": one.minutes, "confirmed": one.confirmed} for one in found.rules
        ],
    }


def _band(band: Band | None) -> dict[str, int] | None:
    return None if band is None else {"low": band.low, "middle": band.middle, "high": band.high}


def _site(one: SiteWait) -> dict[str, Any]:
    wait = one.wait
    little = wait.little
    return {
        "site": one.site,
        "area": one.area,
        "known": wait.known.value,
        "age_ms": wait.age_ms,
        "wait_ms": _band(wait.wait),
        "in_line": _band(wait.in_line),
        "wait_in_30_min_ms": _band(wait.in_30),
        "wait_in_60_min_ms": _band(wait.in_60),
        "longest_to_come_ms": _band(wait.longest),
        "longest_to_come_of_others_ms": _band(wait.longest_others),
        "no_station_works": [stage.value for stage in wait.stopped],
        "last_out_ms": _band(wait.last_out),
        "binding": None if wait.binding is None else wait.binding.value,
        "line_over_throughput_ms": None if little is None else little.wait_ms,
        "unexpected_counts": list(wait.odd_reports),
        "counts": [
            {
                "event": told.event,
                "at_min": told.at_min,
                "entered_utc_ms": told.utc_ms,
                "author": told.author,
                "giver": told.giver,
                "by_phone": told.by_phone,
                **{name: number for name, number in told.named() if number is not None},
            }
            for told in one.told
        ],
    }


def _move(move: Move) -> dict[str, Any]:
    return {
        "site": move.site,
        "kind": move.kind.value,
        "stage": move.stage.value,
        "from_site": move.giver,
        "from_stage": None if move.from_stage is None else move.from_stage.value,
        "after_min": move.after_min,
        "effort_min": move.effort_min,
        "saved_voter_min": _band(move.saved),
        "saves_ppm": move.saves_ppm,
        "cost_voter_min": _band(move.cost),
        "longest_before_min": _band(move.longest_before),
        "longest_after_min": _band(move.longest_after),
    }
