"""The county table of a record: every day reconciled, then sites, receiving and canvass side by side."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Election
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.counts.county import county_table, site_counts
from pollstead.reconcile.counts.county_shapes import CountyTable
from pollstead.reconcile.counts.totals import typed_totals
from pollstead.reconcile.counts.uploads import uploads_of
from pollstead.reconcile.day import DayReport, reconcile_day
from pollstead.reconcile.issued import Issued
from pollstead.reconcile.observed import Observation, observations_of
from pollstead.record.fold import Fold


def canvass_table(election: Election, plan: PlanVersion, issued: Issued, folded: Fold) -> CountyTable:
    """The county table as recorded, every day reconciled anew."""
    observations = observations_of(folded)
    days = {dt.date.fromisoformat(o.day) for o in observations if o.day}
    reports = tuple(
        reconcile_day(election, plan, issued, folded, date, observations=observations)
        for date in sorted({one.date for one in issued.lists} | days)
    )
    return table_of_days(reports, election, folded)


def days_of_canvass(plan: PlanVersion, observations: tuple[Observation, ...]) -> tuple[dt.date, ...]:
    """Every operating day of any site of the plan and every day on which something was seen, in order.

    A day of which nothing was read yet is one of them: its numbers are missing, and never left out.
    """
    planned = {day.date for site in plan.sites for day in site.demand}
    return tuple(sorted(planned | {dt.date.fromisoformat(one.day) for one in observations if one.day}))


def table_of_days(reports: tuple[DayReport, ...], election: Election, folded: Fold) -> CountyTable:
    """The county table from the reports of every day that was recorded."""
    counts = site_counts(reports, election.election_day)
    return county_table(counts, typed_totals(folded), uploads_of(folded))
