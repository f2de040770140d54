"""Things at a wrong site as the page of the day shows them: whose they are, and both leads by need."""

from __future__ import annotations

import datetime as dt

import msgspec

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import Message
from pollstead.reconcile.custody.legs import legs_of
from pollstead.reconcile.custody.misplaced import Misplaced, Stray, misplaced
from pollstead.reconcile.custody.places import held_things
from pollstead.reconcile.day import DayReport
from pollstead.reconcile.observed import What, short_site
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import Days
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.pages.site_people import sees_phones


class LeadLine(Value, frozen=True, kw_only=True):
    """A lead to call; the phone is empty where this role does not see it."""

    name: str
    phone: str


class StrayLine(Value, frozen=True, kw_only=True):
    """What stands at a site and belongs to another, with whom to call on both sides."""

    words: Message
    owner: str
    near: str
    here: tuple[LeadLine, ...]
    there: tuple[LeadLine, ...]


def stray_lines(ask: Ask, days: Days, report: DayReport, date: dt.date) -> tuple[StrayLine, ...]:
    """The lines of a day. What waits for a second reader is left out for those who may have to read it."""
    election = days.election
    lists = tuple(one for one in days.issued.lists if one.date == date)
    found = misplaced(election, report.sites, lists, held_things(legs_of(days.folded)))
    names = {short_site(site.id): site.name for site in election.sites}
    hidden = frozenset() if ask.may(Capability.SEE_EXPECTED) else _waiting(report)
    lines = []
    for one in found:
        kept = tuple(_shown(ask, s) for s in one.strays if not set(s.events) <= hidden)
        if kept:
            lines.append(_line(ask, election, msgspec.structs.replace(one, strays=kept), names))
    return tuple(lines)


def _line(ask: Ask, election: Election, one: Misplaced, names: dict[str, str]) -> StrayLine:
    return StrayLine(
        words=one.words(names),
        owner=one.owner,
        near=one.near or "",
        here=_leads(ask, election, one.site, one.leads_here),
        there=_leads(ask, election, one.owner, one.leads_there),
    )


def _leads(ask: Ask, election: Election, site: str, leads: tuple[str, ...]) -> tuple[LeadLine, ...]:
    if not ask.may(Capability.SEE_PEOPLE):
        return ()
    phones = {person.id.removeprefix("person/"): person.phone for person in election.people}
    shown = sees_phones(ask, election, site)
    return tuple(
        LeadLine(
            name=ask.folder.person_name(lead),
            phone=phones.get(lead.removeprefix("person/"), "") if shown else "",
        )
        for lead in leads
    )


def _shown(ask: Ask, stray: Stray) -> Stray:
    """A seal is named by its closure where its number may not be seen."""
    if stray.what != What.SEAL.value or ask.may(Capability.SEE_EXPECTED):
        return stray
    return msgspec.structs.replace(stray, value=stray.subject)


def _waiting(report: DayReport) -> frozenset[str]:
    return frozenset(
        seen.event
        for site in report.sites
        for result in site.results
        if result.item is not None and result.item.second_person and len(result.people) < 2
        for seen in result.observations
    )
