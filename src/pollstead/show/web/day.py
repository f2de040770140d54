"""Operating days as the pages ask for them: which day is due at a site, and the day reconciled.

The reconciled day is kept until the record or the plan shown changes.
"""

from __future__ import annotations

import datetime as dt
import threading

from pollstead.election.county import Election
from pollstead.election.notice import Notice
from pollstead.plan.terms.version import PlanVersion, SitePlan
from pollstead.reconcile.actions import resolution_of
from pollstead.reconcile.day import DayReport, SiteDay, reconcile_day
from pollstead.reconcile.issued import Issued, issued_lists
from pollstead.record.fold import Fold
from pollstead.show.web.open_folder import OpenFolder

PEOPLE_WHERE_TWO = 2


class KeptReports:
    """The reconciled days of one state of the record and the plan; another state empties it."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.state: tuple[int, str] = (-1, "")
        self.reports: dict[dt.date, DayReport] = {}


class Days:
    """The operating days as they are now: facts, plan and record of one moment, asked for once.

    Raises ValueError before there is a plan.
    """

    def __init__(self, folder: OpenFolder, kept: KeptReports) -> None:
        self.election, self.version, self.digest = plan_in_use(folder)
        self.folded = folder.fold()
        self.issued = issued_lists(self.folded)
        self._kept = kept
        # What was read is compared with the version whose lists were issued, whatever was approved since.
        self._compared = self.issued.plan_among(line.digest for line in reversed(folder.versions()))
        self._folder = folder

    def report(self, date: dt.date) -> DayReport:
        """The county on one day."""
        state = (len(self.folded.order), self._compared or self.digest)
        with self._kept.lock:
            if state != self._kept.state:
                self._kept.state, self._kept.reports = state, {}
            if date not in self._kept.reports:
                election, version = self.election, self.version
                if self._compared:
                    version = self._folder.version(self._compared)
                    election = self._folder.snapshot(version.snapshot)
                self._kept.reports[date] = reconcile_day(election, version, self.issued, self.folded, date)
            return self._kept.reports[date]

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


def county_day(days: Days, version: PlanVersion, election: Election) -> dt.date:
    """The first day on which some site that is open has not closed yet; the last when all are over."""
    dates = all_days(version, election)
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
    return issued_lists(folder.fold())


def days_now(folder: OpenFolder) -> Days:
    """The operating days of a folder as they are now."""
    return Days(folder, folder.kept_reports)
