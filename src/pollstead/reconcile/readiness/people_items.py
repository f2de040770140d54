"""Questions about people: two ways in, who opens, who leads, who answers, and whether hands are enough."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pollstead.election.contacts import SiteContact
from pollstead.election.county import Person
from pollstead.election.instants import format_clock
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import SitePlan
from pollstead.reconcile.readiness.ground import Ground, item, table
from pollstead.reconcile.readiness.heard import Heard, digits, same_phone
from pollstead.reconcile.readiness.states import Evidence, ReadyItem, ReadyState, Whom

OPENS, LEADS, ANSWERS = N_("opens the building"), N_("site lead"), N_("building contact")
DEPUTY = N_("deputy lead")
GOOD, BAD, UNKNOWN = ReadyState.GOOD, ReadyState.BAD, ReadyState.UNKNOWN


class WayIn(Value, frozen=True, kw_only=True):
    """People who are one way in: they are one person, or share a phone or a key."""

    people: tuple[str, ...]
    shared: tuple[str, ...] = ()


def ways_in(ground: Ground, site: str) -> tuple[WayIn, ...]:
    """The openers of a site, those who depend on each other together, in the order of the table."""
    known = ground.sites.get(site)
    openers = tuple(dict.fromkeys(known.openers)) if known is not None else ()
    openers += tuple(
        row.person for row in ground.contacts[site] if row.part == "opener" and row.person not in openers
    )
    openers = tuple(dict.fromkeys(openers))
    phones = {person: ground.phones(person, site) for person in openers}
    return ways_among(openers, ground.contacts[site], phones)


def ways_among(
    openers: tuple[str, ...], contacts: Sequence[SiteContact], phones: Mapping[str, tuple[str, ...]]
) -> tuple[WayIn, ...]:
    """The ways in among openers (ids, each once) of a site, by its contacts and each person's phones."""
    ways: list[tuple[list[str], set[str], list[str]]] = []
    for person in openers:
        marks = {digits(phone) for phone in phones.get(person, ())} - {""}
        marks |= {f"key {r.key}" for r in contacts if r.person == person and r.key.strip()}
        joined = [way for way in ways if way[1] & marks]
        people, shared = [p for way in joined for p in way[0]], [s for way in joined for s in way[2]]
        for way in joined:
            shared += sorted(way[1] & marks)
            marks |= way[1]
            ways.remove(way)
        ways.append(([*people, person], marks, shared))
    return tuple(WayIn(people=tuple(people), shared=tuple(dict.fromkeys(s))) for people, _, s in ways)


def opener_items(ground: Ground, site: str) -> list[ReadyItem]:
    """Whether ways in are enough and independent, then each opener's own answer."""
    ways = ways_in(ground, site)
    need = ground.election.rules.whole("openers")
    contact = contact_of(ground, site)
    whom = ground.someone(contact, ANSWERS)
    words = N_("Independent ways in")
    remedy = N_("Find another person with a key and a phone of their own, and call both.")
    if not ways:
        first = item("openers", words, UNKNOWN, message(N_("Nobody is named.")), whom=whom, remedy=remedy)
        return [first, _nobody("opener-call", N_("Somebody opens"), whom, "door")]
    have = len(ways)
    shared = [mark for way in ways for mark in way.shared]
    text = (
        message(N_("{have} independent of {need} needed; some share a phone or a key."), have=have, need=need)
        if shared
        else message(N_("{have} independent, {need} needed."), have=have, need=need)
    )
    evidence = (table("sites"),)
    state = GOOD if have >= need else BAD
    made = [item("openers", words, state, text, whom=whom, evidence=evidence, remedy=remedy)]
    for number, way in enumerate(ways, start=1):
        for person in way.people:
            made.append(
                _answer(ground, site, person, "opener-call", OPENS, "opener_confirm", "door", f"way-{number}")
            )
    return made


def lead_items(ground: Ground, site: str) -> list[ReadyItem]:
    """The lead's and the deputy's answers; late only where neither comes."""
    leads = [p for p in ground.crew[site] if is_lead(p)]
    if not leads:
        return [_nobody("lead-call", N_("A lead comes"), Whom(role="office"), "lead")]
    return [
        _answer(
            ground,
            site,
            person.id,
            "lead-call",
            DEPUTY if is_deputy(person) else LEADS,
            "lead_confirm",
            "lead",
            person.id,
        )
        for person in sorted(leads, key=lambda p: (is_deputy(p), p.id))
    ]


def contact_item(ground: Ground, site: str) -> ReadyItem:
    """Whether the building's contact was reached in this window."""
    contact = contact_of(ground, site)
    if not contact:
        return _nobody("contact-call", N_("Contact of the building"), Whom(role="office"), "")
    return _answer(ground, site, contact, "contact-call", ANSWERS, "contact_confirm", "", "")


def crew_item(ground: Ground, site: str, plan: SitePlan) -> ReadyItem | None:
    """Whether as many people are named for the site as its set-up wants at once."""
    need = max((step.people for step in plan.run_sheet), default=0)
    if not need:
        return None
    have = len(ground.crew[site])
    words = N_("Hands for the set-up")
    text = message(N_("{have} named, {need} wanted at once."), have=have, need=need)
    lead = next((p.id for p in ground.crew[site] if is_lead(p)), "")
    whom = ground.someone(lead, LEADS)
    remedy = N_("Send a reserve, or somebody from a site near by.")
    if not have:
        return item("crew", words, UNKNOWN, text, whom=whom, remedy=remedy)
    state = GOOD if have >= need else BAD
    return item("crew", words, state, text, whom=whom, evidence=(table("people"),), remedy=remedy)


def is_deputy(person: Person) -> bool:
    """Whether a county's own word for a role says deputy."""
    return "deputy" in person.role.casefold()


def is_lead(person: Person) -> bool:
    """Whether a county's own word for a role says lead or deputy."""
    words = person.role.casefold().split()
    return is_deputy(person) or "lead" in words


def contact_of(ground: Ground, site: str) -> str:
    """The building contact that the tables name; "" for none."""
    known = ground.sites.get(site)
    rows = [r.person for r in ground.contacts[site] if r.part in ("contact", "backup contact")]
    return (known.contact if known is not None and known.contact else "") or next(iter(rows), "")


def _nobody(question: str, words: str, whom: Whom, group: str) -> ReadyItem:
    return item(
        question,
        words,
        UNKNOWN,
        message(N_("Nobody is named.")),
        whom=whom,
        remedy=N_("Find out who it is, enter the name and the phone, then call."),
        group=group,
        member="nobody" if group else "",
    )


def _answer(
    ground: Ground, site: str, person: str, question: str, role: str, purpose: str, group: str, member: str
) -> ReadyItem:
    """What is known of one person's coming, by calls and by the date in the tables."""
    state, old, text, evidence = _known(ground, site, person, question, purpose)
    return item(
        question,
        role,
        state,
        text,
        whom=Whom(person=person, role=role),
        evidence=evidence,
        remedy=N_("Call, and hear it from the person."),
        old=old,
        id=f"{question}/{person}",
        group=group,
        member=member,
    )


def _known(
    ground: Ground, site: str, person: str, question: str, purpose: str
) -> tuple[ReadyState, bool, Message, tuple[Evidence, ...]]:
    phones = ground.phones(person, site)
    access = ground.access.get(site)
    since = access.contact_since if access is not None and question != "lead-call" else None
    since_ms = None if since is None else ground.start_of(since)
    calls = [
        call
        for call in ground.calls.with_person(person)
        if call.purpose == purpose and call.concerns(site) and call.utc_ms <= ground.now_ms
    ]
    telling = [call for call in calls if call.answered or call.result == "wrong_number"]
    if telling:
        return _heard(ground, site, telling[-1], phones, since_ms)
    confirmed = access.openers_confirmed if access is not None and question == "opener-call" else None
    if confirmed is not None and (since is None or confirmed >= since):
        at = ground.start_of(confirmed)
        if at <= ground.now_ms:
            evidence = (table("site_access", at),)
            text = message(N_("The table says confirmed on {date}."), date=confirmed.isoformat())
            return (GOOD if ground.fresh(at) else UNKNOWN), True, text, evidence
    if confirmed is not None:
        return UNKNOWN, False, message(N_("The contact changed after the last confirmation.")), ()
    if calls:
        return UNKNOWN, False, message(N_("Called {n} times, nobody reached."), n=len(calls)), ()
    return UNKNOWN, False, message(N_("Nobody has called yet.")), ()


def _heard(
    ground: Ground, site: str, call: Heard, phones: tuple[str, ...], since_ms: int | None
) -> tuple[ReadyState, bool, Message, tuple[Evidence, ...]]:
    evidence = (call.evidence,)
    if not same_phone(call.phone, phones):
        text = (
            N_("The phone changed after the last call.")
            if call.phone is not None
            else N_("Which phone was called is not kept any more.")
        )
        return UNKNOWN, False, message(text), ()
    if since_ms is not None and call.utc_ms < since_ms:
        return UNKNOWN, False, message(N_("The contact changed after the last call.")), ()
    if call.result == "wrong_number":
        return BAD, False, message(N_("The phone is wrong.")), evidence
    if call.result == "answered_no":
        return BAD, False, message(N_("Said no.")), evidence
    needed = ground.needed_by(site)
    if call.there_by_min is not None and needed is not None and call.there_by_min > needed:
        late = message(
            N_("Comes at {there}; the crew needs the door at {needed}."),
            there=format_clock(call.there_by_min),
            needed=format_clock(needed),
        )
        return BAD, False, late, evidence
    if not ground.fresh(call.utc_ms):
        return UNKNOWN, True, message(N_("Said yes, before the present call-back window.")), evidence
    if call.there_by_min is not None:
        said = message(N_("Said yes, there at {there}."), there=format_clock(call.there_by_min))
        return GOOD, False, said, evidence
    return GOOD, False, message(N_("Said yes.")), evidence
