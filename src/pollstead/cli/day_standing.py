"""A county folder's day at a moment, as the commands about the day read it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from pollstead.cli.as_of import moment_of
from pollstead.cli.county import facts_of, refuse
from pollstead.cli.standing import standing_of
from pollstead.election.words import N_

if TYPE_CHECKING:
    import datetime as dt

    from pollstead.election.county import Election
    from pollstead.reconcile.day import SiteDay
    from pollstead.record.fold import Fold


class DayStanding(NamedTuple):
    """Facts, record, day, its sites, the moment and its minute of the day."""

    election: Election
    folded: Fold
    date: dt.date
    sites: tuple[SiteDay, ...]
    now_ms: int
    now_min: int


def day_standing(folder: Path, as_of: str, day: str) -> DayStanding:
    """The day of a folder at a moment; raises Refused naming what is not there."""
    from pollstead.reconcile.day import reconcile_day
    from pollstead.reconcile.happening.supplies import minute_of
    from pollstead.reconcile.issued import issued_lists
    from pollstead.record.fold import fold

    facts_of(folder)
    plan, folded, election = standing_of(folder)
    if plan is None or election is None:
        refuse(N_("There is no plan version yet. Make one with: pollstead plan FOLDER"))
    folded = folded if folded is not None else fold(())
    now_ms = moment_of(as_of, election)
    dates = sorted({d.date for site in plan.sites for d in site.demand}) or [election.election_day]
    date = election.election_day if election.election_day in dates else dates[-1]
    if day:
        asked = next((one for one in dates if one.isoformat() == day), None)
        if asked is None:
            refuse(N_("No site is open on {day}."), day=day)
        date = asked
    sites = reconcile_day(election, plan, issued_lists(folded), folded, date).sites
    return DayStanding(election, folded, date, sites, now_ms, minute_of(now_ms, election, date))
