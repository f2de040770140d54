"""The facts of a county by site, as the rules read them."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterator
from typing import Protocol, TypeVar

from pollstead.election.buildings import Circuit, Door, Outlet, Port, Room, SiteAccess, SiteSurvey
from pollstead.election.county import Device, Election, PastCount, Person, Precinct, Site
from pollstead.election.notice import Notice
from pollstead.election.surroundings import SiteRoute, SiteTime, SiteVoters
from pollstead.intake.notices import due_before


class _OfSite(Protocol):
    @property
    def site(self) -> str: ...


R = TypeVar("R", bound=_OfSite)
ELECTION_DAY = "election day"


def _by_site(rows: tuple[R, ...]) -> dict[str, tuple[R, ...]]:
    found: dict[str, list[R]] = defaultdict(list)
    for row in rows:
        found[row.site].append(row)
    return {site: tuple(group) for site, group in found.items()}


class Facts:
    """An election's tables by site; a site without a row gets an empty one, in which nothing is told."""

    def __init__(self, election: Election) -> None:
        self.election = election
        self.rules = election.rules
        self.day = election.election_day
        self._rooms = _by_site(election.rooms)
        self._doors = _by_site(election.doors)
        self._circuits = _by_site(election.circuits)
        self._outlets = _by_site(election.outlets)
        self._ports = _by_site(election.ports)
        self._times = _by_site(election.site_times)
        self._access = {row.site: row for row in election.site_access}
        self._survey = {row.site: row for row in election.site_survey}
        self._route = {row.site: row for row in election.site_routes}
        self._voters = {row.site: row for row in election.site_voters}
        self._people = _by_site(election.people)
        self._precincts = _by_site(election.precincts)
        self.past_days = frozenset(row.date for row in election.history)
        self._ballots: dict[str, list[PastCount]] = defaultdict(list)
        for row in election.history:
            if row.mode == ELECTION_DAY:
                self._ballots[row.unit].append(row)
        self._at_home: dict[str, list[Device]] = defaultdict(list)
        for device in election.devices:
            self._at_home[device.fixed or device.home].append(device)

    def people(self, site: Site) -> tuple[Person, ...]:
        """Everybody named for the site."""
        return self._people.get(site.id, ())

    def precincts(self, site: Site) -> tuple[Precinct, ...]:
        """The precincts that vote at the site."""
        return self._precincts.get(site.id, ())

    def at_home(self, site: Site) -> tuple[Device, ...]:
        """The devices that a person fixed to the site, or whose home it is where nobody fixed them."""
        return tuple(self._at_home.get(site.id, ()))

    def rooms(self, site: Site) -> tuple[Room, ...]:
        """Every room of the site."""
        return self._rooms.get(site.id, ())

    def doors(self, site: Site) -> tuple[Door, ...]:
        """Every door of the site."""
        return self._doors.get(site.id, ())

    def circuits(self, site: Site) -> tuple[Circuit, ...]:
        """Every circuit of the site."""
        return self._circuits.get(site.id, ())

    def outlets(self, site: Site) -> tuple[Outlet, ...]:
        """The outlets of the rooms in which people vote."""
        voting = {room.id for room in self.rooms(site) if room.voting}
        return tuple(outlet for outlet in self._outlets.get(site.id, ()) if outlet.room in voting)

    def ports(self, site: Site) -> tuple[Port, ...]:
        """Every wired data port of the site."""
        return self._ports.get(site.id, ())

    def times(self, site: Site, *kinds: str) -> tuple[SiteTime, ...]:
        """The site's rows of some kinds about which nothing is agreed yet."""
        rows = self._times.get(site.id, ())
        return tuple(row for row in rows if row.kind in kinds and not row.settled.strip())

    def access(self, site: Site) -> SiteAccess:
        """Keys and agreements of the site."""
        return self._access.get(site.id) or SiteAccess(site=site.id)

    def survey(self, site: Site) -> SiteSurvey:
        """What was measured at the site."""
        return self._survey.get(site.id) or SiteSurvey(site=site.id)

    def route(self, site: Site) -> SiteRoute:
        """The way to the site and back."""
        return self._route.get(site.id) or SiteRoute(site=site.id)

    def voters(self, site: Site) -> SiteVoters:
        """How the site's voters differ from the county's."""
        return self._voters.get(site.id) or SiteVoters(site=site.id)

    def hours(self, site: Site) -> tuple[int, int] | None:
        """Opening and closing on election day in minutes of the wall clock, where they are told."""
        for hours in site.hours:
            if hours.date == self.day:
                return hours.opens_min, hours.closes_min
        return None

    def election_day_voters(self, site: Site) -> int | None:
        """The number a person expects, else the site's ballots of the last election in the same
        place of the four-year cycle, else of the last one."""
        if site.expected_voters is not None:
            return site.expected_voters
        units = {site.id} | {p.id for p in self.precincts(site)}
        by_date: dict[dt.date, int] = defaultdict(int)
        for unit in units:
            for row in self._ballots.get(unit, ()):
                by_date[row.date] += row.ballots
        if not by_date:
            return None
        return by_date[max(by_date, key=lambda date: (date.year % 4 == self.day.year % 4, date))]

    def due(self, days: int) -> str:
        """The date so many days before election day, as text."""
        return due_before(self.day, days)


Rule = Callable[[Facts, Site], Iterator[Notice]]
