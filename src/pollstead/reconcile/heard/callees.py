"""Whom to call about a silent site: lead, deputy, second opener, backup, from the facts; what was tried.

The order is common practice, no source; varies by county.
"""

from __future__ import annotations

from collections.abc import Sequence

from pollstead.election.contacts import SiteContact
from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.custody.not_back import leads_of
from pollstead.reconcile.readiness.heard import Calls
from pollstead.reconcile.readiness.people_items import ANSWERS, DEPUTY, LEADS, is_deputy, ways_among

PURPOSE = "not_heard"
FIRST_OPENER, SECOND_OPENER = N_("first opener"), N_("second opener")
BACKUP = N_("backup contact")
OPENER_PARTS = (FIRST_OPENER, SECOND_OPENER)


class Try(Value, frozen=True, kw_only=True):
    """A call about the site's silence: to whom (id), by whom, what came of it, when."""

    event: str
    person: str
    by: str
    result: str
    utc_ms: int


class Callee(Value, frozen=True, kw_only=True):
    """Somebody to call (id) with the parts that the facts give them, and what was tried today."""

    person: str
    parts: tuple[str, ...]
    tries: tuple[Try, ...] = ()


def people_to_call(election: Election, site: str, *, door: bool) -> tuple[Callee, ...]:
    """The people to call in order, each once; with `door` those who open the building as well."""
    known = next((one for one in election.sites if short(one.id) == site), None)
    rows = [row for row in election.site_contacts if short(row.site) == site]
    roles = {short(p.id): p for p in election.people}
    found: list[tuple[str, str]] = []
    for person in map(short, leads_of(election, site)):
        found.append((person, DEPUTY if is_deputy(roles[person]) else LEADS))
    openers = (*(known.openers if known is not None else ()), *(r.person for r in rows if r.part == "opener"))
    ways = (
        ways_among(tuple(dict.fromkeys(map(short, openers))), rows, _phones(election, rows)) if door else ()
    )
    # Who shares a phone or a key with the first opener is no second way in, unless there is no other.
    in_order = [way.people[0] for way in ways] if len(ways) > 1 else [p for way in ways for p in way.people]
    found += [(person, SECOND_OPENER) for person in in_order[1:2]]
    backups = [short(row.person) for row in rows if row.part == "backup contact"]
    found += [(person, BACKUP) for person in backups]
    if not backups and known is not None and known.contact:
        found.append((short(known.contact), ANSWERS))
    found += [(person, FIRST_OPENER) for person in in_order[:1]]
    parts: dict[str, list[str]] = {}
    for person, part in found:
        parts.setdefault(person, []).append(part)
    return tuple(Callee(person=person, parts=tuple(dict.fromkeys(of))) for person, of in parts.items())


def _phones(election: Election, rows: Sequence[SiteContact]) -> dict[str, tuple[str, ...]]:
    """Every phone that the tables tell, by the id of a person."""
    found: dict[str, list[str]] = {short(p.id): [p.phone] for p in election.people if p.phone}
    for row in rows:
        if row.other_phone:
            found.setdefault(short(row.person), []).append(row.other_phone)
    return {person: tuple(dict.fromkeys(phones)) for person, phones in found.items()}


def tries_about(calls: Calls, site: str, since_ms: int, now_ms: int) -> tuple[Try, ...]:
    """The calls about a site's silence since a moment, by their moment."""
    found = [
        Try(
            event=call.event,
            person=call.person,
            by=call.evidence.people[0] if call.evidence.people else "",
            result=call.result,
            utc_ms=call.utc_ms,
        )
        for call in calls.about(site)
        if call.purpose == PURPOSE and since_ms <= call.utc_ms <= now_ms
    ]
    return tuple(sorted(found, key=lambda one: (one.utc_ms, one.event)))


def with_tries(callees: tuple[Callee, ...], tries: tuple[Try, ...]) -> tuple[Callee, ...]:
    """Each person with the calls made to them."""
    return tuple(
        Callee(person=one.person, parts=one.parts, tries=tuple(t for t in tries if t.person == one.person))
        for one in callees
    )


def next_to_call(callees: tuple[Callee, ...]) -> Callee | None:
    """The one tried least often, in the order of the list; a wrong phone comes last; None where nobody is."""
    return min(callees, key=lambda one: (_wrong(one), len(one.tries)), default=None)


def _wrong(callee: Callee) -> bool:
    return any(one.result == "wrong_number" for one in callee.tries)


def short(person: str) -> str:
    """An id without its kind: ``person/P001`` and ``site/S01`` are ``P001`` and ``S01``."""
    return person.rpartition("/")[2]
