"""*Ready to open?* of a county as it stands: the plan in use, the contacts of the tables now, the record."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import msgspec

from pollstead.intake.site_facts import notices_of
from pollstead.reconcile.readiness.ground import Ground
from pollstead.reconcile.readiness.ready import ready_to_open
from pollstead.work.decks import decks_of

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.plan.terms.version import PlanVersion
    from pollstead.reconcile.day import DayReport
    from pollstead.reconcile.issued import Issued
    from pollstead.reconcile.readiness.ready import ReadyList
    from pollstead.record.facts import Fold


def with_present_contacts(planned: Election, tables: Election | None) -> Election:
    """The facts of the plan with the people, phones, keys and agreements that the tables tell now.

    A phone that changed after the plan was made must open a confirmation again at once.
    """
    if tables is None:
        return planned
    now = {site.id: site for site in tables.sites}
    sites = tuple(
        msgspec.structs.replace(site, openers=now[site.id].openers, contact=now[site.id].contact)
        if site.id in now
        else site
        for site in planned.sites
    )
    return msgspec.structs.replace(
        planned,
        sites=sites,
        people=tables.people,
        site_contacts=tables.site_contacts,
        site_access=tables.site_access,
        site_survey=tables.site_survey,
        site_times=tables.site_times,
        ready_weights=tables.ready_weights,
        incident_kinds=tables.incident_kinds,
        rules=tables.rules,
    )


def ready_list(
    election: Election,
    plan: PlanVersion,
    issued: Issued,
    folded: Fold,
    report: DayReport,
    now_ms: int,
) -> ReadyList:
    """The list at one moment, the notices of the fact rules among it."""
    return ready_to_open(
        election,
        plan,
        issued,
        folded,
        report,
        now_ms=now_ms,
        notices=tuple(notices_of(election)),
        decks=decks_of(election).decks,
    )


def ground_of(
    election: Election, plan: PlanVersion, issued: Issued, folded: Fold, date: dt.date, now_ms: int
) -> Ground:
    """The ledgers behind the list, for sheets that name who opens."""
    return Ground(election, plan, issued, folded, date, now_ms, ())
