"""A county folder's days, and one day at a moment, as the commands about the day read them."""

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
    from pollstead.plan.terms.version import PlanVersion
    from pollstead.reconcile.day import SiteDay
    from pollstead.record.fold import Fold


class FolderDays(NamedTuple):
    """Plan and record of a folder with the facts of the plan and, as `tables`, those of the tables now."""

    tables: Election
    election: Election
    plan: PlanVersion
    folded: Fold
    dates: list[dt.date]


class DayStanding(NamedTuple):
    """Facts, record, day, its sites, the moment and its minute of the day."""

    election: Election
    folded: Fold
    date: dt.date
    sites: tuple[SiteDay, ...]
    now_ms: int
    now_min: int


def folder_days(folder: Path) -> FolderDays:
    """Plan, record and days of a folder; raises Refused naming what is not there."""
    from pollstead.record.fold import fold

    tables, _ = facts_of(folder)
    plan, folded, election = standing_of(folder)
    if plan is None or election is None:
        refuse(N_("There is no plan version yet. Make one with: pollstead plan FOLDER"))
    folded = folded if folded is not None else fold(())
    return FolderDays(tables, election, plan, folded, operating_dates(plan, election))


def operating_dates(plan: PlanVersion, election: Election) -> list[dt.date]:
    """Every day on which a site of the plan is open, in order; election day where the plan has none."""
    return sorted({d.date for site in plan.sites for d in site.demand}) or [election.election_day]


def usual_date(election: Election, dates: list[dt.date]) -> dt.date:
    """Election day where a site is open then, else the last day."""
    return election.election_day if election.election_day in dates else dates[-1]


def date_asked(day: str, dates: list[dt.date], usual: dt.date) -> dt.date:
    """The day that was typed, `usual` where none was; raises Refused where no site is open on it."""
    if not day:
        return usual
    asked = next((one for one in dates if one.isoformat() == day), None)
    if asked is None:
        refuse(N_("No site is open on {day}."), day=day)
    return asked


def day_standing(folder: Path, as_of: str, day: str) -> DayStanding:
    """The day of a folder at a moment; raises Refused naming what is not there."""
    from pollstead.election.instants import Instant, OperatingDay
    from pollstead.reconcile.day import reconcile_day
    from pollstead.reconcile.issued import issued_lists

    _, election, plan, folded, dates = folder_days(folder)
    now_ms = moment_of(as_of, election)
    date = date_asked(day, dates, usual_date(election, dates))
    sites = reconcile_day(election, plan, issued_lists(folded), folded, date).sites
    now_min = OperatingDay(date=date, zone_name=election.zone_name).wall_clock_of(Instant(utc_ms=now_ms))
    return DayStanding(election, folded, date, sites, now_ms, now_min)
