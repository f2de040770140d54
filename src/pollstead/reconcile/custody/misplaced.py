"""Things that stand at another site than the lists say: whose they are, and both leads, so that two can talk.

A single device or seal, or a whole cart. Whether things are exchanged or listed anew is for the county's rule
and the office; nothing is decided here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import ExpectedList
from pollstead.reconcile.custody.inventory import tidy
from pollstead.reconcile.custody.near_sites import near_to
from pollstead.reconcile.custody.not_back import leads_of
from pollstead.reconcile.custody.places import Held
from pollstead.reconcile.day import SiteDay
from pollstead.reconcile.observed import Observation, What, short_site

CART = "cart/"


class Stray(Value, frozen=True, kw_only=True):
    """One thing of another site: what it is, its value, and the entries that say that it is here.

    `cart` is the cart that the book has the device in, or the cart itself.
    """

    what: str
    value: str
    events: tuple[str, ...]
    subject: str = ""
    cart: str = ""


class Misplaced(Value, frozen=True, kw_only=True):
    """What stands at `site` and belongs to `owner`; leads are person ids, the lead before deputies.

    `own_seen` is how many things of its own the site has read: 0 says that the whole load may be another's.
    `near` is why the two sites are easily taken for one another, None where they are not.
    """

    site: str
    owner: str
    strays: tuple[Stray, ...]
    own_seen: int
    leads_here: tuple[str, ...]
    leads_there: tuple[str, ...]
    near: str | None = None

    @property
    def carts(self) -> tuple[str, ...]:
        """The carts that the strays belong to, each once."""
        return tuple(dict.fromkeys(stray.cart for stray in self.strays if stray.cart))

    def words(self, names: Mapping[str, str]) -> Message:
        """What is told: the things, both sites; a whole load where nothing of its own was read."""
        things = ", ".join(f"{stray.what} {stray.value}" for stray in self.strays)
        load = self.own_seen == 0 and len(self.strays) > 1
        template = (
            N_("{things}: these belong to {owner}; nothing of {site} was read here: is it the wrong cart?")
            if load
            else N_("{things}: seen at {site}, expected at {owner}.")
        )
        return message(
            template, things=things, site=_named(self.site, names), owner=_named(self.owner, names)
        )


def _named(site: str, names: Mapping[str, str]) -> str:
    return f"{site} {names[site]}" if names.get(site) else site


def misplaced(
    election: Election,
    days: Iterable[SiteDay],
    lists: Iterable[ExpectedList],
    held: Mapping[str, Held],
) -> tuple[Misplaced, ...]:
    """What stands at a wrong site on one day: `lists` are those in force then, `held` where carts are.

    A value that two lists expect is of both sites and never a stray.
    """
    owners = _owners(lists)
    carts = {tidy(device.serial): device.cart for device in election.devices if device.cart}
    found: dict[tuple[str, str], dict[tuple[str, str], list[Observation]]] = defaultdict(
        lambda: defaultdict(list)
    )
    own: dict[str, set[str]] = defaultdict(set)
    for day in days:
        for seen in day.seen():
            if not seen.stands or not seen.value or seen.what not in (What.SERIAL, What.SEAL):
                continue
            mine = owners.get((seen.what, tidy(seen.value)), frozenset())
            if day.site in mine:
                own[day.site].add(tidy(seen.value))
            elif len(mine) == 1:
                found[day.site, next(iter(mine))][seen.what.value, seen.value].append(seen)
    strays: dict[tuple[str, str], list[Stray]] = defaultdict(list)
    for pair, things in found.items():
        strays[pair] += [
            Stray(
                what=what,
                value=value,
                subject=entries[0].subject,
                events=tuple(o.event for o in entries),
                cart=carts.get(tidy(value), ""),
            )
            for (what, value), entries in sorted(things.items())
        ]
    for pair, stray in _carts(election, held):
        strays[pair].append(stray)
    return tuple(
        _one(election, pair, tuple(some), len(own[pair[0]])) for pair, some in sorted(strays.items())
    )


def _owners(lists: Iterable[ExpectedList]) -> dict[tuple[What, str], frozenset[str]]:
    """The sites whose lists expect a value, by what it is."""
    sites: dict[tuple[What, str], set[str]] = defaultdict(set)
    for one in lists:
        for item in one.items:
            what = What.SEAL if item.what == "seal" else What.SERIAL
            if item.what in ("serial", "seal", "memory device") and any(map(str.isdigit, item.value)):
                sites[what, tidy(item.value)].add(one.site)
    return {key: frozenset(found) for key, found in sites.items()}


def _carts(election: Election, held: Mapping[str, Held]) -> Iterable[tuple[tuple[str, str], Stray]]:
    """Carts that a site took in and the book has for another one."""
    for cart in election.carts:
        owner, mine = short_site(cart.site), held.get(f"{CART}{cart.id}")
        if not owner or mine is None or mine.open_leg is not None:
            continue
        for leg in mine.at:
            here = short_site(leg.to_place) if leg.to_place.startswith("site/") else ""
            if here and here != owner:
                events = (leg.event,)
                yield (here, owner), Stray(what="cart", value=cart.id, events=events, cart=cart.id)


def _one(election: Election, pair: tuple[str, str], strays: tuple[Stray, ...], own_seen: int) -> Misplaced:
    site, owner = pair
    near = {short_site(one.site): one.why for one in near_to(election, _site_id(election, site))}
    return Misplaced(
        site=site,
        owner=owner,
        strays=strays,
        own_seen=own_seen,
        leads_here=leads_of(election, site),
        leads_there=leads_of(election, owner),
        near=near.get(owner),
    )


def _site_id(election: Election, site: str) -> str:
    return next((one.id for one in election.sites if short_site(one.id) == site), site)
