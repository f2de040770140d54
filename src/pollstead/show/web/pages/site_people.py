"""The people of a site as far as a role sees them: names, phones and who opens, each by need."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from pollstead.election.county import Election, Person
from pollstead.election.values import Value
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.open_folder import person_id
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.site_record import EntryOfSite

if TYPE_CHECKING:
    from pollstead.show.web.pages.site import SiteInPlan


class Someone(Value, frozen=True, kw_only=True):
    """A person of the site, as far as this role may see."""

    name: str
    role: str
    phone: str
    opens: bool


def own_site(ask: Ask, election: Election, key: str) -> bool:
    """Whether the site is the one that the person asking works at, by the county's list of people."""
    person = next((p for p in election.people if ask.who and person_id(p) == ask.who.person), None)
    return person is not None and person.site.removeprefix("site/") == key


def sees_phones(ask: Ask, election: Election, key: str) -> bool:
    """Whether phones of a site's people are shown: a site lead sees those of the own site alone."""
    if ask.may(Capability.SEE_PHONES):
        return True
    return ask.may(Capability.SEE_OWN_PHONES) and own_site(ask, election, key)


def sees_keys(ask: Ask, election: Election, key: str) -> bool:
    """Whether it is shown who opens a site: a site lead sees it of the own site alone."""
    if ask.may(Capability.SEE_KEYS):
        return True
    return ask.may(Capability.SEE_OWN_PHONES) and own_site(ask, election, key)


def people_of(ask: Ask, found: SiteInPlan) -> tuple[Someone, ...]:
    """Who works at the site or can open it, each as far as this person may see."""
    key = found.site.id.removeprefix("site/")
    see_people = ask.may(Capability.SEE_PEOPLE)
    see_keys = sees_keys(ask, found.election, key)
    see_phones = sees_phones(ask, found.election, key)
    openers = {name.strip() for name in found.site.openers}

    def opens(person: Person) -> bool:
        return bool({person.id, person_id(person), person.name} & openers)

    listed = [p for p in found.election.people if p.site.removeprefix("site/") == key or opens(p)]
    named = {p.name for p in listed} | {p.id for p in listed} | {person_id(p) for p in listed}
    rows = [
        Someone(
            name=p.name,
            role=p.role,
            phone=p.phone if see_phones or (see_keys and opens(p)) else "",
            opens=see_keys and opens(p),
        )
        for p in listed
        if see_people or (see_keys and opens(p))
    ]
    if see_keys:
        rows += [
            Someone(name=name, role="", phone="", opens=True) for name in sorted(openers - named) if name
        ]
    return tuple(rows)


def with_names(ask: Ask, entries: tuple[EntryOfSite, ...]) -> tuple[EntryOfSite, ...]:
    """The entries with people's names where this role sees them, else without."""
    shown = ask.may(Capability.SEE_PEOPLE)
    return tuple(
        msgspec.structs.replace(one, person=ask.folder.person_name(one.person) if shown else "")
        for one in entries
    )
