"""Operating days as the pages ask for them: which day is due at a site, and the day reconciled.

A reconciled day is kept; after new events only the sites that they touch are reconciled anew.
"""

from __future__ import annotations

import datetime as dt
import operator
import threading

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.notice import Notice
from pollstead.plan.terms.version import PlanVersion, SitePlan
from pollstead.reconcile.actions import resolution_of
from pollstead.reconcile.again import Observed, reconcile_again
from pollstead.reconcile.day import DayReport, SiteDay, reconcile_day
from pollstead.reconcile.issued import Issued, issued_lists
from pollstead.reconcile.observed import Observation
from pollstead.record.fold import Fact, Fold
from pollstead.show.web.open_folder import OpenFolder

PEOPLE_WHERE_TWO = 2


class KeptReports:
    """The reconciled days of a folder, each with what it was made of, so that it can be made again quickly.

    Another plan empties it; new events change only the sites that they touch.
    """

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.plan = ""
        self.lists: tuple[tuple[Fact, ...], Issued] | None = None
        self.observed: tuple[Fold, Observed] | None = None
        self.reports: dict[dt.date, tuple[DayReport, Observed, Issued]] = {}

    def issued_in(self, folded: Fold) -> Issued:
        """The lists in force; read again only where a list was issued or amended since."""
        facts = folded.named("expected")
        with self.lock:
            kept = self.lists
            same = kept is not None and len(kept[0]) == len(facts) and all(map(operator.is_, kept[0], facts))
            if kept is None or not same:
                kept = self.lists = (facts, issued_lists(folded))
            return kept[1]

    def observed_in(self, folded: Fold) -> Observed:
        """The observations of the record; the caller holds `lock`."""
        if self.observed is None or self.observed[0] is not folded:
            before = None if self.observed is None else self.observed[1]
            self.observed = (folded, Observed(folded, before))
        return self.observed[1]


class Days:
    """The operating days as they are now: facts, plan and record of one moment, asked for once.

    Raises ValueError before there is a plan.
    """

    def __init__(self, folder: OpenFolder, kept: KeptReports) -> None:
        self.election, self.version, self.digest = plan_in_use(folder)
        self.folded = folder.fold()
        self.issued = kept.issued_in(self.folded)
        self._kept = kept
        # What was read is compared with the version whose lists were issued, whatever was approved since.
        self._compared = self.issued.plan_among(line.digest for line in reversed(folder.versions()))
        self._folder = folder

    def report(self, date: dt.date) -> DayReport:
        """The county on one day."""
        plan = self._compared or self.digest
        with self._kept.lock:
            if plan != self._kept.plan:
                self._kept.plan, self._kept.reports = plan, {}
            observed = self._kept.observed_in(self.folded)
            found = self._kept.reports.get(date)
            if found is not None and found[1] is observed and found[2] is self.issued:
                return found[0]
            made = self._report(date, observed, found)
            self._kept.reports[date] = (made, observed, self.issued)
            return made

    def _report(
        self, date: dt.date, observed: Observed, found: tuple[DayReport, Observed, Issued] | None
    ) -> DayReport:
        election, version = self.election, self.version
        if self._compared:
            version = self._folder.version(self._compared)
            election = self._folder.snapshot(version.snapshot)
        if found is None or found[2] is not self.issued:
            return reconcile_day(election, version, self.issued, self.folded, date, observations=observed.all)
        return reconcile_again(
            found[0],
            found[1],
            election=election,
            plan=version,
            issued=self.issued,
            folded=self.folded,
            observed=observed,
        )

    def observations(self) -> tuple[Observation, ...]:
        """Every observation of the record, read once for all pages."""
        with self._kept.lock:
            return self._kept.observed_in(self.folded).all

    def site(self, site: str, date: dt.date) -> SiteDay | None:
        """One site on one day; None where it is not open then."""
        return next((one for one in self.report(date).sites if one.site == site), None)


def plan_in_use(folder: OpenFolder) -> tuple[Election, PlanVersion, str]:
    """Facts, plan version and digest that pages show; raises ValueError before there is a plan."""
    digest = folder.current_digest()
    election = folder.election()
    if not digest or election is None:
        raise ValueError("a day can be reconciled once there is a plan")
    return election, folder.version(digest), digest


def days_of(plan: SitePlan, election: Election) -> tuple[dt.date, ...]:
    """The operating days of a site in order; election day where the plan names none."""
    return tuple(sorted(day.date for day in plan.demand)) or (election.election_day,)


def all_days(version: PlanVersion, election: Election) -> tuple[dt.date, ...]:
    """Every operating day of any site, in order."""
    return tuple(sorted({date for plan in version.sites for date in days_of(plan, election)}))


def due_day(days: Days, plan: SitePlan, election: Election) -> dt.date:
    """The first operating day at which the site has not closed yet; its last when all are over."""
    dates = days_of(plan, election)
    for date in dates:
        found = days.site(plan.site, date)
        if found is None or not found.closed.values:
            return date
    return dates[-1]


NIGHT_MS = 4 * 3_600_000
"""Hours after midnight that still belong to the day before: sites close and things come back then."""


def county_day(
    days: Days, version: PlanVersion, election: Election, now_ms: int, *, until_closed: bool = False
) -> dt.date:
    """Today where some site is open today; else the first day not closed at some site, the last if all are.

    So an early day whose closing nobody wrote down does not keep the pages of election day. With
    `until_closed`, a day that has closed at every site gives way to the next one.
    """
    dates = all_days(version, election)
    today = Instant(utc_ms=now_ms - NIGHT_MS).local(election.zone_name).date()
    if today in dates:
        if not until_closed:
            return today
        dates = tuple(date for date in dates if date >= today)
    for date in dates:
        if any(not site.closed.values for site in days.report(date).sites):
            return date
    return dates[-1] if dates else election.election_day


def still_open(notices: tuple[Notice, ...], folded: Fold) -> tuple[Notice, ...]:
    """The notices on whose present values nobody has decided."""
    return tuple(notice for notice in notices if not resolution_of(notice, folded))


def held_back(site: SiteDay) -> frozenset[str]:
    """The keys of differences on lines that a second person has still to read.

    They name the expected number, so nobody who enters readings may see them yet.
    """
    return frozenset(
        result.notice.key
        for result in site.results
        if result.notice is not None
        and result.item is not None
        and result.item.second_person
        and len(result.people) < PEOPLE_WHERE_TWO
    )


def issued(folder: OpenFolder) -> Issued:
    """The expected lists in force."""
    return folder.kept_reports.issued_in(folder.fold())


def days_now(folder: OpenFolder) -> Days:
    """The operating days of a folder as they are now."""
    return Days(folder, folder.kept_reports)
