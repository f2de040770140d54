"""Which sites a change can bear on at all: those of which anything that sheets are made from differs."""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.plan.terms.version import PlanVersion


def touched_sites(
    before: tuple[Election, PlanVersion], after: tuple[Election, PlanVersion]
) -> tuple[str, ...]:
    """The sites whose lists or sheets may differ between two plans, in order.

    Compared is all that a site's sheets are made from: its plan, its facts, the people named on them, notices
    about it, and what the whole county shares (rules, station types, how long its longest numbers are).
    """
    sites = sorted({site.site for _, plan in (before, after) for site in plan.sites})
    if _shared(*before) != _shared(*after):
        return tuple(sites)
    parts = [_Parts(election, plan) for election, plan in (before, after)]
    return tuple(site for site in sites if parts[0].of(site) != parts[1].of(site))


class _Parts:
    """What each site's sheets are made from, looked up once for all sites."""

    def __init__(self, election: Election, plan: PlanVersion) -> None:
        self._plans = {site.site: site for site in plan.sites}
        self._sites = {site.id: site for site in election.sites}
        self._people = {person.id: person for person in election.people}
        self._notices: dict[str, list[object]] = {}
        for notice in plan.notices:
            words = notice.subject.split("/")
            if len(words) > 1 and words[0] in ("site", "station"):
                self._notices.setdefault(words[1], []).append(notice)
        self._crew: dict[str, list[object]] = {}
        for person in election.people:
            self._crew.setdefault(person.site, []).append(person)

    def of(self, site: str) -> tuple[object, ...]:
        """Everything about one site; None for what is not there."""
        facts = self._sites.get(site)
        named = () if facts is None else (*facts.openers, facts.contact or "")
        return (
            self._plans.get(site),
            facts,
            [self._people.get(person) for person in named],
            self._crew.get(site, []),
            self._notices.get(site, []),
        )


def _shared(election: Election, plan: PlanVersion) -> tuple[object, ...]:
    """What stands on the sheets of every site, and the lengths that decide how many boxes a number gets."""
    devices = election.devices
    lengths: dict[str, int] = {}
    for site in plan.sites:
        for station in site.stations:
            for seal in station.seals:
                lengths[seal.seal_kind] = max(lengths.get(seal.seal_kind, 0), len(seal.number))
    return (
        (election.county, election.name, election.election_day, election.zone_name),
        (election.practice, election.invented, election.rules),
        (election.station_types, election.site_kinds, election.seal_ranges, plan.assumptions),
        max((len(device.serial) for device in devices), default=0),
        max((len(memory) for device in devices for memory in device.memory_devices), default=0),
        max((len(str(device.lifetime_counter or 0)) for device in devices), default=0),
        sorted(lengths.items()),
    )
