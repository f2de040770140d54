"""Whom the two of a vehicle may call about a site: its leads, then the people who open it."""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.custody.loads import site_key
from pollstead.reconcile.custody.not_back import leads_of

LEAD, OPENER = N_("Lead"), N_("Opens")


class Contact(Value, frozen=True, kw_only=True):
    """Somebody whom the drivers may call about a stop; `phone` is empty where it may not be shown."""

    part: str
    name: str
    phone: str = ""


def contacts_of(election: Election, *, phones: bool, keys: bool) -> dict[str, tuple[Contact, ...]]:
    """Contacts by site id; with `phones` their phones, with `keys` also who opens the building."""
    people = {person.id.removeprefix("person/"): person for person in election.people}
    found: dict[str, tuple[Contact, ...]] = {}
    for site in election.sites:
        key = site_key(site.id)
        named = [(LEAD, lead.removeprefix("person/")) for lead in leads_of(election, key)[:1]]
        if keys:
            told = {one for _, one in named}
            openers = [one.removeprefix("person/") for one in site.openers]
            named += [(OPENER, one) for one in openers if one not in told][:1]
        found[key] = tuple(
            Contact(part=part, name=people[one].name or one, phone=people[one].phone if phones else "")
            for part, one in named
            if one in people
        )
    return found
