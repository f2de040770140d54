"""Whom to call about a change, and why: as far as the facts tell who it is."""

from __future__ import annotations

from pollstead.election.county import Election, Person
from pollstead.election.notice import Notice, NoticeKind, by_key
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.changed.terms import Act, Call, Change, NewSheet, State, VoidSheet

LEAD, DEPUTY, OPENS = N_("site lead"), N_("deputy"), N_("opens the building")
CONTACT, WAREHOUSE, DRIVER = N_("building contact"), N_("warehouse"), N_("driver")
RECEIVER = N_("receiving worker")
REPLACED, NEW = N_("is replaced"), N_("takes over")

# Words by which a role that a county wrote in its own words is recognised, and what it is called here.
_COUNTY_ROLES = ((WAREHOUSE, "warehouse"), (DRIVER, "driver"), (RECEIVER, "receiving"))
_MOVES_THINGS = (Act.SWAP_DEVICE, Act.MOVE_SITE)


def people_to_call(
    change: Change,
    before: State,
    after: State,
    sites: tuple[str, ...],
    void: tuple[VoidSheet, ...],
    prints: tuple[NewSheet, ...],
) -> tuple[tuple[Call, ...], tuple[Notice, ...]]:
    """The calls in the order to make them, each person once, and an open item for each without a phone."""
    book = _Book(before.election, after.election)
    if change.act is Act.UNDO or change.act is Act.REPLACE_PERSON:
        _people_of_the_change(book, change)
    for site in sites:
        for what in _why_site(change, site, void, prints):
            _at_site(book, before.election, site, what)
            _at_site(book, after.election, site, what)
        if change.act is Act.MOVE_SITE:
            for election in (before.election, after.election):
                for why in (change.words, message(N_("Agree on keys, hours and room."))):
                    book.add(_site_contact(election, site), CONTACT, site, why)
    if change.act in _MOVES_THINGS or (change.act is Act.UNDO and change.new_device):
        _carriers(book, change, sites)
    return book.calls(), book.notices()


def _people_of_the_change(book: _Book, change: Change) -> None:
    site = change.sites[0] if change.sites else ""
    if change.old_person:
        book.add(
            change.old_person,
            REPLACED,
            site,
            message(N_("Say that another person takes over; ask for keys, papers and badge.")),
        )
    if change.new_person:
        book.add(
            change.new_person,
            NEW,
            site,
            message(N_("Say where and when, who opens, whose keys come over and which class is needed.")),
        )


def _why_site(
    change: Change, site: str, void: tuple[VoidSheet, ...], prints: tuple[NewSheet, ...]
) -> tuple[Message, ...]:
    """Why people at a site are called: what changes; sheets void there and sheets that come."""
    found = [change.words] if not change.sites or site in change.sites else []
    gone = sum(one.sheet.site == site for one in void)
    come = sum(one.sheet.site == site for one in prints)
    if gone or come:
        found.append(
            message(N_("Sheets void here: {void}; new sheets that come: {new}."), void=gone, new=come)
        )
    return tuple(found)


def _at_site(book: _Book, election: Election, site: str, why: Message) -> None:
    """Lead, deputy and both openers of a site."""
    for person in election.people:
        if person.site == site and "deputy" in person.role.casefold():
            book.add(person.id, DEPUTY, site, why)
        elif person.site == site and "lead" in person.role.casefold().split():
            book.add(person.id, LEAD, site, why)
    found = next((s for s in election.sites if s.id == site), None)
    for opener in () if found is None else found.openers:
        book.add(opener, OPENS, site, why)


def _site_contact(election: Election, site: str) -> str:
    found = next((s for s in election.sites if s.id == site), None)
    return "" if found is None else found.contact or ""


def _carriers(book: _Book, change: Change, sites: tuple[str, ...]) -> None:
    """Warehouse, driver and receiver: the person of the site, else the only one of the role."""
    for role, word in _COUNTY_ROLES:
        if role is RECEIVER and change.act is Act.MOVE_SITE:
            continue
        held = [p for p in book.people.values() if word in p.role.casefold()]
        managers = [p for p in held if "manager" in p.role.casefold()]
        for site in sites:
            here = [p for p in held if p.site == site] or managers
            if len(here) == 1 or (not here and len(held) == 1):
                book.add((here or held)[0].id, role, site, change.words)
            elif held and role is not RECEIVER:
                # Receiving goes by the amended list; whoever stands there needs no call.
                book.unknown(role, site, len(held), change.words)


class _Book:
    """Calls while they are gathered: one for each person, with every role and reason."""

    def __init__(self, before: Election, after: Election) -> None:
        self.people: dict[str, Person] = {p.id: p for p in (*before.people, *after.people)}
        self._sites = {s.id: s.name for s in (*before.sites, *after.sites)}
        self._calls: dict[str, tuple[str, list[Message], list[Message]]] = {}
        self._unknown: dict[tuple[str, str], tuple[int, Message]] = {}

    def add(self, person: str, role: str, site: str, why: Message) -> None:
        """Call this person, whose id may be empty, as `role` of `site` because of `why`."""
        if not person:
            return
        _, roles, reasons = self._calls.setdefault(person, (site, [], []))
        for known, new in ((roles, message(role)), (reasons, why)):
            if new not in known:
                known.append(new)

    def unknown(self, role: str, site: str, count: int, why: Message) -> None:
        """Somebody in `role` is to be called, and the facts name `count` people without saying who."""
        self._unknown.setdefault((role, site), (count, why))

    def calls(self) -> tuple[Call, ...]:
        """Every call, those without a known person last."""
        found = []
        for person, (site, roles, reasons) in self._calls.items():
            known = self.people.get(person)
            found.append(
                Call(
                    person=person,
                    name=known.name if known is not None and known.name else person,
                    phone=known.phone if known is not None else "",
                    site=site,
                    roles=tuple(roles),
                    why=tuple(reasons),
                )
            )
        for (role, site), (_, why) in self._unknown.items():
            found.append(Call(person="", name=role, phone="", site=site, roles=(message(role),), why=(why,)))
        return tuple(found)

    def notices(self) -> tuple[Notice, ...]:
        """An open item for each person without a phone and for each role whose person is not told."""
        found = [
            Notice(
                kind=NoticeKind.OPEN_ITEM,
                rule="call-without-phone",
                subject=f"person/{call.person.removeprefix('person/')}",
                text=message(N_("No phone is told for {name}, who is to be called."), name=call.name),
                remedy=message(N_("Find the number, call, and add it to the table people.")),
                depends=(call.person,),
            )
            for call in self.calls()
            if call.person and not call.phone
        ]
        found += [
            Notice(
                kind=NoticeKind.OPEN_ITEM,
                rule="call-person-not-told",
                subject=f"site/{site}",
                day=role,
                text=message(
                    N_("The tables do not say which {role} goes to {site}; people in that role: {count}."),
                    role=role,
                    site=self._sites.get(site, site),
                    count=count,
                ),
                remedy=message(N_("Ask the warehouse, and call the one who goes there.")),
                depends=(role, str(count)),
            )
            for (role, site), (count, _) in self._unknown.items()
        ]
        return by_key(tuple(found))
