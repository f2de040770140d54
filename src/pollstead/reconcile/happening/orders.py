"""Orders of a day: which of them hold at a site, what hours they give, who has not read them back yet.

An order's own words govern. Where a later order names an earlier one, the earlier holds no longer at the
sites of the later; ballots cast while it held stay in the class that it named.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter

from msgspec.structs import replace

from pollstead.election.county import Election
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.counts.rows import Step
from pollstead.reconcile.observed import short_site
from pollstead.record.facts import Fact, Fold, Reading

STAY = "stay"


class Order(Value, frozen=True, kw_only=True):
    """One order as the office wrote it down.

    `label` is its number; `sites` those that it names, () for every site; minutes are of the operating day.
    """

    event: str
    subject: str
    label: str
    day: str
    does: str
    issued_by: str
    source: str
    sites: tuple[str, ...]
    from_min: int | None
    until_min: int | None
    to_place: str
    apart: str
    supersedes: tuple[str, ...]
    told_utc_ms: int
    words: str = ""

    def covers(self, site: str) -> bool:
        """Whether it is for this site."""
        return not self.sites or site in self.sites


class Acknowledged(Value, frozen=True, kw_only=True):
    """Whether a site has read an order back: `state` is same, not_same, not_reached, differs or not_yet."""

    site: str
    order: str
    state: str
    at_min: int | None = None
    event: str = ""


def subject_of(date: dt.date, number: int) -> str:
    """The subject of the order with this number on this day."""
    return f"order/{date.isoformat()}/{number}"


def next_number(orders: tuple[Order, ...]) -> int:
    """The number after the highest one given."""
    given = (one.subject.rpartition("/")[2] for one in orders)
    return 1 + max((int(text) for text in given if text.isdigit()), default=0)


def orders_of(folded: Fold, date: dt.date) -> tuple[Order, ...]:
    """The orders of a day that stand, in the order of their numbers."""
    day, found = date.isoformat(), []
    twins: Counter[str] = Counter()
    for fact in sorted(folded.named("order.given"), key=_place):
        if fact.day == day:
            for reading in fact.current[:1]:
                twins[fact.subject] += 1
                found.append(_order(fact, reading, twins[fact.subject]))
    return tuple(found)


def _place(fact: Fact) -> tuple[int, int]:
    text = fact.subject.rpartition("/")[2]
    return (int(text) if text.isdigit() else 0, min(reading.utc_ms for reading in fact.readings))


def _order(fact: Fact, reading: Reading, twin: int) -> Order:
    value = reading.value

    def text(name: str) -> str:
        found = value.get(name, "")
        return found if isinstance(found, str) else ""

    def minute(name: str) -> int | None:
        found = value.get(name)
        return found if isinstance(found, int) else None

    def several(name: str) -> tuple[str, ...]:
        found = value.get(name, ())
        return tuple(str(one) for one in found) if isinstance(found, tuple) else ()

    label = fact.subject.rpartition("/")[2]
    words = reading.private.get("words", "") if reading.private is not None else ""
    return Order(
        event=reading.event,
        subject=fact.subject,
        label=label if twin == 1 else f"{label} {chr(ord('a') + min(twin, 26) - 1)}",
        day=fact.day,
        does=text("does"),
        issued_by=text("issued_by"),
        source=text("source"),
        sites=tuple(short_site(one) for one in several("sites")),
        from_min=minute("from_min"),
        until_min=minute("until_min"),
        to_place=text("to_place"),
        apart=text("apart") or "no",
        supersedes=several("supersedes"),
        told_utc_ms=min(r.utc_ms for r in fact.readings),
        words=words if isinstance(words, str) else "",
    )


def superseding(order: Order, orders: tuple[Order, ...], site: str = "") -> tuple[Order, ...]:
    """The later orders that name this one, at one site or, with "", at any of its sites."""
    after = orders[orders.index(order) + 1 :]
    return tuple(
        one
        for one in after
        if order.subject in one.supersedes and (one.covers(site) if site else _share_a_site(one, order))
    )


def _share_a_site(one: Order, other: Order) -> bool:
    return not one.sites or not other.sites or bool(set(one.sites) & set(other.sites))


def holding(orders: tuple[Order, ...], site: str) -> tuple[Order, ...]:
    """The orders that hold at a site now: those for it that no later one for it names."""
    return tuple(one for one in orders if one.covers(site) and not superseding(one, orders, site))


def closes_at(orders: tuple[Order, ...], site: str, set_min: int) -> int:
    """When voting ends at a site, minutes of the day: by the last extension that holds, else as set."""
    ends = [
        o.until_min for o in holding(orders, site) if o.does == "extend_hours" and o.until_min is not None
    ]
    return ends[-1] if ends else set_min


def with_ordered_hours(election: Election, orders: tuple[Order, ...], date: dt.date) -> Election:
    """The facts with each site's closing on `date` as the orders that hold say."""
    sites = tuple(
        replace(
            site,
            hours=tuple(
                replace(hours, closes_min=closes_at(orders, site.id, hours.closes_min))
                if hours.date == date
                else hours
                for hours in site.hours
            ),
        )
        for site in election.sites
    )
    return election if sites == election.sites else replace(election, sites=sites)


def apart_steps(orders: tuple[Order, ...], site: str) -> frozenset[Step]:
    """The classes of ballots that orders made at a site, also those that hold no longer."""
    classes = {one.apart for one in orders if one.covers(site)}
    found = {Step.PROVISIONAL} if "provisional" in classes else set()
    return frozenset(found | ({Step.HELD_APART} if "held_apart" in classes else set()))


def acknowledgements(folded: Fold, order: Order, sites: tuple[str, ...]) -> tuple[Acknowledged, ...]:
    """Each site that the order is for, and what it read back; those to call come first."""
    found = []
    for site in sites:
        if not order.covers(site):
            continue
        fact = folded.find(order.subject, "order.acknowledged", order.day, at_site=f"site/{site}")
        current = fact.current if fact is not None else ()
        states = {str(reading.value.get("read_back", "")) for reading in current}
        last = current[-1] if current else None
        minute = last.value.get("at_min") if last is not None else None
        found.append(
            Acknowledged(
                site=site,
                order=order.subject,
                state="not_yet" if not states else "differs" if len(states) > 1 else states.pop(),
                at_min=minute if isinstance(minute, int) else None,
                event=last.event if last is not None else "",
            )
        )
    return tuple(sorted(found, key=lambda one: (_CALL_ORDER.index(one.state), one.site)))


_CALL_ORDER = ("not_same", "differs", "not_yet", "not_reached", "same")


def order_notices(orders: tuple[Order, ...]) -> tuple[Notice, ...]:
    """What orders leave open: a named order that is not here, one that takes back a stay."""
    known = {one.subject: one for one in orders}
    found = []
    for one in orders:
        for name in one.supersedes:
            other = known.get(name)
            if other is None or other.subject == one.subject:
                found.append(
                    _open(
                        one,
                        N_("Order {number} names an order that is not written down here: {other}."),
                        N_("Write that order down, or correct this one."),
                        other=name.rpartition("/")[2],
                    )
                )
            elif other.does == STAY:
                found.append(
                    _open(
                        one,
                        N_("Order {number} takes back order {other}, which stayed an earlier one."),
                        N_("Ask counsel what holds now, and write that down as an order of its own."),
                        other=other.label,
                    )
                )
    return tuple(found)


def _open(order: Order, template: str, remedy: str, **params: str) -> Notice:
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="order-chain",
        subject=order.subject,
        day=order.day,
        text=message(template, number=order.label, **params),
        remedy=message(remedy),
        owner="office",
        depends=(order.subject, *order.supersedes),
    )
