"""``pollstead ready``: the calls that make a morning open on time, and how each site stands. Thin."""

from __future__ import annotations

import datetime as dt
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.as_of import moment_of
from pollstead.cli.county import Refused, tell
from pollstead.cli.day_standing import date_asked, folder_days
from pollstead.cli.options import AsJson, Day
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.reconcile.readiness.ready import ReadyList
    from pollstead.record.facts import Fold

FORMAT = "pollstead ready 1"
HALF_DAY_MS = 12 * 3_600_000

app = cyclopts.App(
    name="ready",
    help=text(N_("Say which ten calls make the morning open on time, and how each site stands.")),
)


@app.default
def ready(
    folder: Path,
    /,
    *,
    as_of: Annotated[
        str,
        cyclopts.Parameter(name="--as-of", help=text(N_("Moment, such as 2028-11-06T18:00; blank is now."))),
    ] = "",
    day: Day = "",
    as_json: AsJson = False,
) -> int:
    """Print the list as of a moment. No name and no phone is printed; the app and its sheets show them."""
    try:
        election, _, found, date = list_at(folder, as_of, day)
    except Refused as refused:
        return tell(refused)
    if as_json:
        json.dump(ready_object(found, date), sys.stdout, ensure_ascii=False, indent=2)
        print()
        return 0
    good = sum(site.ready for site in found.sites)
    print(
        fill(
            message(
                N_("{county}, {day}: {ready} of {all} sites are known good in every question."),
                county=election.county,
                day=date.isoformat(),
                ready=good,
                all=len(found.sites),
            )
        )
    )
    print(text(N_("Only the order is claimed, not how often a site opens late.")))
    for act in found.desk:
        print(f"- {fill(act.asks[0].words)} [{len(act.sites)}; {round(act.worth_micro / 1_000_000)}]")
    for number, call in enumerate(found.ten, start=1):
        worth = round(call.worth_micro / 1_000_000)
        print(f"{number}. {call.person} ({text(call.role)}), {call.minutes} min [{worth}]")
        for ask in call.asks:
            print(f"   {fill(ask.words)}")
    return 0


def list_at(folder: Path, as_of: str, day: str) -> tuple[Election, Fold, ReadyList, dt.date]:
    """Facts, record, list and day of a folder at a moment; raises Refused naming what is not there."""
    from pollstead.election.instants import Instant
    from pollstead.reconcile.day import reconcile_day
    from pollstead.reconcile.issued import issued_lists
    from pollstead.work.readiness import ready_list, with_present_contacts

    tables, planned, plan, folded, dates = folder_days(folder)
    election = with_present_contacts(planned, tables)
    now_ms = moment_of(as_of, election)
    soon = Instant(utc_ms=now_ms + HALF_DAY_MS).local(election.zone_name).date()
    date = date_asked(day, dates, next((one for one in dates if one >= soon), dates[-1]))
    issued = issued_lists(folded)
    report = reconcile_day(election, plan, issued, folded, date)
    return election, folded, ready_list(election, plan, issued, folded, report, now_ms), date


def ready_object(found: ReadyList, date: dt.date) -> dict[str, Any]:
    """The stable JSON form: people by id, no name and no phone."""
    return {
        "format": FORMAT,
        "day": date.isoformat(),
        "as_of_utc_ms": found.now_ms,
        "window": found.window,
        "sites": [
            {
                "site": site.site,
                "voters": site.voters,
                "risk_ppb": site.risk_ppb,
                "stake_micro_voters": site.stake_micro,
                "questions": [
                    {
                        "id": item.id,
                        "question": item.question,
                        "state": item.state.value,
                        "old": item.old,
                        "share_ppm": share.ppm,
                        "text": item.text.english(),
                        "evidence": [
                            {
                                "source": proof.source,
                                "event": proof.event,
                                "people": list(proof.people),
                                "utc_ms": proof.utc_ms,
                            }
                            for proof in item.evidence
                        ],
                    }
                    for item, share in zip(site.items, site.shares, strict=True)
                ],
            }
            for site in found.sites
        ],
        "calls": [
            {
                "person": call.person,
                "role": call.role,
                "sites": list(call.sites),
                "minutes": call.minutes,
                "worth_micro_voters": call.worth_micro,
                "stays_in_ten": call.stays,
                "asks": [ask.words.english() for ask in call.asks],
            }
            for call in found.calls
        ],
        "desk": [
            {
                "question": act.asks[0].question,
                "sites": list(act.sites),
                "worth_micro_voters": act.worth_micro,
            }
            for act in found.desk
        ],
    }
