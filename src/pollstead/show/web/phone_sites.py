"""Which site a caller means: by id, number, name or a part of it; sites that sound alike are told. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from rapidfuzz import fuzz, utils

from pollstead.election.county import Election, Site
from pollstead.election.values import Value
from pollstead.reconcile.custody.near_sites import near_to

ALIKE = 75
"""How alike (0 to 100, rapidfuzz's weighted ratio) a typed name and a site's must be. Our own setting."""
MOST = 6
SAME_BEGINNING = 2
"""Names that begin with as many equal words are easily heard for one another: Mill Road Hall and School."""


class Meant(Value, frozen=True, kw_only=True):
    """The site that was meant (None while it is not clear) and the sites to choose from, or to warn of."""

    site: Site | None
    others: tuple[Site, ...] = ()


def site_meant(election: Election, open_sites: Iterable[str], typed: str) -> Meant:
    """What was typed, against the sites that are open; a name that fits several is never taken for one."""
    wanted = set(open_sites)
    sites = tuple(site for site in election.sites if site.id in wanted)
    text = typed.strip().casefold().removeprefix("site/")
    by_id = [site for site in sites if site.id.casefold() == text]
    if by_id:
        return Meant(site=by_id[0], others=alike(election, by_id[0], sites))
    if text.isdigit():
        numbered = [site for site in sites if _number(site.id) == int(text)]
        if len(numbered) == 1:
            return Meant(site=numbered[0], others=alike(election, numbered[0], sites))
        return Meant(site=None, others=tuple(numbered[:MOST]))
    named = [site for site in sites if site.name.casefold() == text]
    found = named or _like(sites, text)
    if len(found) == 1:
        near = alike(election, found[0], sites)
        # A whole name is what the caller said; a part of one may be a part of another.
        if named or not near:
            return Meant(site=found[0], others=near)
        found = [found[0], *near]
    return Meant(site=None, others=tuple(found[:MOST]))


def alike(election: Election, site: Site, sites: Iterable[Site]) -> tuple[Site, ...]:
    """The open sites that are easily taken for this one, by id."""
    near = {one.site for one in near_to(election, site.id)}
    start = _beginning(site.name)
    return tuple(
        one
        for one in sites
        if one.id != site.id and (one.id in near or (start and _beginning(one.name) == start))
    )


def _like(sites: tuple[Site, ...], text: str) -> list[Site]:
    if not text:
        return []
    inside = [site for site in sites if text in site.name.casefold()]
    if inside:
        return inside
    plain = utils.default_process(text)
    scored = [(fuzz.WRatio(plain, utils.default_process(site.name)), site) for site in sites]
    near = [(score, site) for score, site in scored if score >= ALIKE]
    return [site for _, site in sorted(near, key=lambda one: (-one[0], one[1].id))]


def _number(site_id: str) -> int | None:
    digits = "".join(c for c in site_id if c.isdigit())
    return int(digits) if digits else None


def _beginning(name: str) -> tuple[str, ...]:
    words = tuple(name.casefold().split())
    return words[:SAME_BEGINNING] if len(words) > SAME_BEGINNING else ()
