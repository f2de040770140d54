"""I12: hours assigned, sworn and paid at each site, as stretches of time; two parties when they must be.

Paid lies within sworn and sworn within assigned, minute by minute, not day by day. What nobody typed is
missing and compared with nothing. No party is named here: a gap says from when until when, and where.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable

from pollstead.election.county import Election
from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import BY_ID
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.record.facts import Fold, Reading

RULE = "both-parties"
ASSIGNED, SWORN, PAID = "assigned", "sworn", "paid"
WHOLE_DAY = 48 * 60


class Stretch(Value, frozen=True, kw_only=True, order=True):
    """From one minute of the operating day until another, the last one not counted."""

    from_min: int
    until_min: int

    @property
    def words(self) -> str:
        """As ``07:00 to 12:30``."""
        return f"{format_clock(self.from_min)} to {format_clock(self.until_min)}"


class PersonHours(Value, frozen=True, kw_only=True):
    """One person's hours at a site on a day: three lists, and what of one lies outside the one before.

    `untold` are the lists that nobody typed, `differing` those of which two people typed different hours;
    nothing is compared with either.
    """

    person: str
    assigned: tuple[Stretch, ...]
    sworn: tuple[Stretch, ...]
    paid: tuple[Stretch, ...]
    sworn_unassigned: tuple[Stretch, ...]
    paid_unsworn: tuple[Stretch, ...]
    untold: tuple[str, ...]
    differing: tuple[str, ...]
    events: tuple[str, ...]


class SiteHours(Value, frozen=True, kw_only=True):
    """The hours of one site and day. `wanted` is when two parties must be there, () where no rule says so.

    `alone` are the stretches of it in which the people sworn in were of fewer than two parties; `no_party`
    are people sworn in whose party no table tells, so that a gap may be none.
    """

    site: str
    date: dt.date
    people: tuple[PersonHours, ...]
    wanted: tuple[Stretch, ...]
    alone: tuple[Stretch, ...]
    no_party: tuple[str, ...]


def together(stretches: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """The same minutes as stretches that do not touch, in order."""
    found: list[Stretch] = []
    for one in sorted(stretches):
        if found and one.from_min <= found[-1].until_min:
            last = found.pop()
            one = Stretch(from_min=last.from_min, until_min=max(last.until_min, one.until_min))
        found.append(one)
    return tuple(found)


def without(stretches: Iterable[Stretch], taken: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """The minutes of `stretches` that are in none of `taken`."""
    left: list[Stretch] = []
    gone = together(taken)
    for one in together(stretches):
        at = one.from_min
        for hole in gone:
            if hole.until_min <= at or hole.from_min >= one.until_min:
                continue
            if hole.from_min > at:
                left.append(Stretch(from_min=at, until_min=hole.from_min))
            at = max(at, hole.until_min)
        if at < one.until_min:
            left.append(Stretch(from_min=at, until_min=one.until_min))
    return tuple(left)


def shared(one: Iterable[Stretch], other: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """The minutes that are in both."""
    first = together(one)
    return without(first, without(first, other))


Lists = dict[tuple[str, str], list[Reading]]
"""A person's readings by list and post."""


def site_hours(election: Election, folded: Fold, date: dt.date) -> tuple[SiteHours, ...]:
    """The hours of every site where any were typed on a day, by site."""
    told: dict[str, dict[str, Lists]] = defaultdict(lambda: defaultdict(dict))
    for fact in folded.named("hours.told"):
        if fact.day != date.isoformat():
            continue
        for reading in fact.current:
            lists = told[reading.site.removeprefix("site/")][fact.subject]
            lists.setdefault((str(fact.key["which"]), str(fact.key["post"])), []).append(reading)
    return tuple(_site(election, site, date, people) for site, people in sorted(told.items()))


def wanted_stretches(election: Election, site: str, date: dt.date) -> tuple[Stretch, ...]:
    """When two parties must be at a site, by the county's rule and the site's hours."""
    how = election.rules.choice(RULE)
    known = next((one for one in election.sites if one.id == site), None)
    hours = next((h for h in known.hours if h.date == date), None) if known is not None else None
    if hours is None or how == "not asked":
        return ()
    opens, closes = hours.opens_min, hours.closes_min
    ends = min(closes + election.rules.whole("closing-work"), WHOLE_DAY)
    stretches = {
        "while voters vote": (opens, closes),
        "while the site closes": (closes, ends),
        "from setting up until leaving": (max(0, opens - election.rules.whole("morning-set-up")), ends),
    }
    begins, until = stretches[how]
    return (Stretch(from_min=begins, until_min=until),) if begins < until else ()


def _site(election: Election, site: str, date: dt.date, told: dict[str, Lists]) -> SiteHours:
    people = tuple(_person(person, lists) for person, lists in sorted(told.items()))
    parties = {f"person/{one.id}": one.party.strip() for one in election.people}
    wanted = wanted_stretches(election, site, date)
    by_party: dict[str, list[Stretch]] = defaultdict(list)
    for one in people:
        if parties.get(one.person):
            by_party[parties[one.person]].extend(one.sworn)
    both: list[Stretch] = []
    names = sorted(by_party)
    for place, name in enumerate(names):
        for other in names[place + 1 :]:
            both.extend(shared(by_party[name], by_party[other]))
    return SiteHours(
        site=site,
        date=date,
        people=people,
        wanted=wanted,
        alone=without(wanted, both),
        no_party=tuple(one.person for one in people if one.sworn and not parties.get(one.person)),
    )


def _person(person: str, lists: Lists) -> PersonHours:
    hours: dict[str, tuple[Stretch, ...]] = {}
    unknown: dict[str, str] = {}
    for name in (ASSIGNED, SWORN, PAID):
        by_post = [readings for (which, _), readings in lists.items() if which == name]
        hours[name] = together(one for readings in by_post for r in readings for one in _stretches(r))
        if not by_post:
            unknown[name] = "untold"
        elif any(len({_stretches(r) for r in readings}) > 1 for readings in by_post):
            unknown[name] = "differing"

    def outside(inner: str, outer: str) -> tuple[Stretch, ...]:
        return () if {inner, outer} & set(unknown) else without(hours[inner], hours[outer])

    return PersonHours(
        person=person,
        assigned=hours[ASSIGNED],
        sworn=hours[SWORN],
        paid=hours[PAID],
        sworn_unassigned=outside(SWORN, ASSIGNED),
        paid_unsworn=outside(PAID, SWORN),
        untold=tuple(name for name, why in unknown.items() if why == "untold"),
        differing=tuple(name for name, why in unknown.items() if why == "differing"),
        events=tuple(sorted(r.event for readings in lists.values() for r in readings)),
    )


def _stretches(reading: Reading) -> tuple[Stretch, ...]:
    spans = reading.value.thawed().get("spans", [])
    return together(
        Stretch(from_min=int(span["from_min"]), until_min=int(span["until_min"])) for span in spans
    )


def hours_notices(sites: tuple[SiteHours, ...]) -> tuple[Notice, ...]:
    """What differs between the three lists, and when two parties were not told to be there."""
    found = []
    for site in sites:
        for one in site.people:
            for rule, words, outside in (
                ("hours-sworn", _SWORN, one.sworn_unassigned),
                ("hours-paid", _PAID, one.paid_unsworn),
            ):
                if outside:
                    found.append(_outside(site, one, rule, words, outside))
            if one.differing:
                found.append(_outside(site, one, "hours-differ", _DIFFER, ()))
        if site.alone:
            found.append(_alone(site))
    return tuple(found)


_SWORN = N_("{person} at {site}: sworn in at hours without an assignment: {hours}.")
_PAID = N_("{person} at {site}: paid for hours without being sworn in: {hours}.")
_DIFFER = N_("{person} at {site}: two entries tell different hours ({lists}).")


def _outside(
    site: SiteHours, one: PersonHours, rule: str, words: str, outside: tuple[Stretch, ...]
) -> Notice:
    hours = ", ".join(stretch.words for stretch in outside)
    return Notice(
        kind=NoticeKind.DIFFERENCE,
        rule=rule,
        subject=f"{one.person}/{site.site}",
        day=site.date.isoformat(),
        text=message(words, person=one.person, site=site.site, hours=hours, lists=", ".join(one.differing)),
        found=hours,
        remedy=message(N_("Look at the post list, the oath and the time sheet; correct what is off.")),
        who_decides="election official",
        depends=one.events,
    )


def _alone(site: SiteHours) -> Notice:
    hours = ", ".join(stretch.words for stretch in site.alone)
    unknown = message(N_("Of {n} people sworn in there no table tells the party."), n=len(site.no_party))
    return Notice(
        kind=NoticeKind.RULE_NOT_MET,
        rule=RULE,
        subject=f"site/{site.site}",
        day=site.date.isoformat(),
        text=message(N_("{site}: two parties are not told there: {hours}."), site=site.site, hours=hours),
        found=hours,
        wanted=", ".join(stretch.words for stretch in site.wanted),
        remedy=unknown
        if site.no_party
        else message(N_("Look at the oath sheet of these hours; your office says what the rule asks for.")),
        who_decides=BY_ID[RULE].who_decides,
        depends=tuple(event for one in site.people for event in one.events),
    )
