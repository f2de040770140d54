"""The printer of changes: draws sheets up, tells their serials, sets just those that a change asks for."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.plan.seals.expected import expected_list
from pollstead.plan.terms.version import PlanVersion, SitePlan
from pollstead.reconcile.changed.on_the_day import Swap
from pollstead.reconcile.changed.terms import PlannedSheet
from pollstead.show.packet.changed import Earlier, change_notice, only_of, planned_sheets
from pollstead.show.packet.changed_printing import print_changed
from pollstead.show.packet.given import SiteGiven, box_counts
from pollstead.show.packet.packet import Only
from pollstead.show.packet.wording import sheet_serial
from pollstead.show.words import spoken
from pollstead.store.sheets import Sheet
from pollstead.work.paper import ChangePrint

NO_MOMENT = Instant(utc_ms=0)
"""Sheets that are only drawn up and not printed have no moment; it is no part of their content."""


class PacketPrinter:
    """See `pollstead.work.paper.Printer`. Sheets without a language are in the one spoken now."""

    def planned(
        self,
        election: Election,
        plan: PlanVersion,
        digest: str,
        sites: tuple[str, ...],
        language: str,
        swaps: tuple[Swap, ...] = (),
    ) -> tuple[PlannedSheet, ...]:
        """The sheets of these sites as the plan gives them, and the swaps of the day with them."""
        givens = _givens(election, plan, digest, sites, NO_MOMENT, language, swaps)
        return tuple(sheet for given in givens for sheet in planned_sheets(given))

    def serials(
        self, election: Election, digest: str, sheets: tuple[PlannedSheet, ...]
    ) -> dict[tuple[str, str, str], str]:
        """The serial of each sheet in the plan version `digest`, by its place."""
        return {
            sheet.place: sheet_serial(digest, sheet.site, sheet.key, sheet.language, election.practice)
            for sheet in sheets
        }

    def print_change(self, job: ChangePrint) -> tuple[tuple[str, ...], tuple[Sheet, ...]]:
        """Print the change notice and the new sheets of each site; the file names and the sheets."""
        report = print_changed(self._wanted(job), Path(job.folder), job.number)
        return (
            tuple(Path(file.path).name for file in report.files),
            tuple(
                Sheet(
                    serial=sheet.serial,
                    kind=sheet.kind.value,
                    site=sheet.site,
                    day=sheet.day,
                    plan_digest=job.digest,
                    list_digest=job.list_digests.get((sheet.site, sheet.day), ""),
                    printed_utc_ms=job.printed_utc_ms,
                    key=sheet.key,
                    language=sheet.language,
                    content=sheet.content,
                    replaces=" ".join(sheet.replaces),
                )
                for file in report.files
                for sheet in file.sheets
            ),
        )

    def _wanted(self, job: ChangePrint) -> Iterator[tuple[SiteGiven, Only]]:
        (old_election, old_plan), (election, plan) = job.before, job.after
        found = job.consequence
        sheets = (*(one.sheet for one in found.prints), *(one.sheet for one in found.void))
        touched = {sheet.site for sheet in sheets}
        planned = {site.site for site in plan.sites}
        languages = dict.fromkeys(sheet.language for sheet in sheets)
        moment = Instant(utc_ms=job.printed_utc_ms)
        for language in languages:
            # A site that the plan has no more gets no sheet: its people are called.
            sites = tuple(sorted(touched & planned))
            for given in _givens(election, plan, job.digest, sites, moment, language, job.swaps):
                earlier = Earlier(old_election, _plan_of(old_plan, given.site.id))
                notice = change_notice(given, earlier, found, job.number, job.reason)
                yield given, only_of(given, found, notice)


def _plan_of(plan: PlanVersion, site: str) -> SitePlan | None:
    return next((one for one in plan.sites if one.site == site), None)


def _givens(
    election: Election,
    plan: PlanVersion,
    digest: str,
    sites: tuple[str, ...],
    moment: Instant,
    language: str,
    swaps: tuple[Swap, ...],
) -> Iterator[SiteGiven]:
    boxes = box_counts(election, plan)
    for site in sites:
        lists = tuple(
            expected_list(election, plan, site, day.date, plan_digest=digest)
            for day in plan.site(site).demand
        )
        yield SiteGiven(
            election=election,
            plan=plan,
            digest=digest,
            site=site,
            printed_at=moment,
            language=language or spoken(),
            expected=lists,
            boxes=boxes,
            swaps=swaps,
        )
