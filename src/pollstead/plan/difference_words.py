"""The difference of two plan versions in a few sentences, and change by change at which site it is."""

from __future__ import annotations

from collections.abc import Iterable

from pollstead.election.instants import MS_PER_MINUTE
from pollstead.election.words import N_, Message, message
from pollstead.plan.difference import NOTHING, Change
from pollstead.plan.terms.version import PlanVersion

COUNTY = ""
"""Where changes stand that belong to no one site."""

_BY_ROW = frozenset(("sites", "stations", "voters", "waits", "seal needs", "packing", "run sheet"))


def by_site(
    before: PlanVersion, after: PlanVersion, changes: Iterable[Change]
) -> dict[str, tuple[Change, ...]]:
    """The changes by site, sites in order, what belongs to no site last; a moved machine stands at both."""
    closures = {**_closures(before), **_closures(after)}
    sites = sorted({plan.site for version in (before, after) for plan in version.sites})
    found: dict[str, list[Change]] = {}
    for change in changes:
        for site in _sites_of(change, set(sites), closures) or (COUNTY,):
            found.setdefault(site, []).append(change)
    return {site: tuple(found[site]) for site in (*sites, COUNTY) if site in found}


def _closures(version: PlanVersion) -> dict[str, str]:
    return {
        f"{seal.closure}/{seal.position}": plan.site
        for plan in version.sites
        for station in plan.stations
        for seal in station.seals
    }


def _sites_of(change: Change, sites: set[str], closures: dict[str, str]) -> tuple[str, ...]:
    if change.table == "devices":
        places = (text.split("/")[1] for text in (change.before, change.after) if text.startswith("station/"))
        return tuple(dict.fromkeys(place for place in places if place in sites))
    if change.table == "seals":
        return (closures[change.row],) if change.row in closures else ()
    row = change.row
    if change.table == "fixed":
        row = row.partition(" ")[2]
    elif change.table == "notices":
        row = change.row.split("|")[1]
    elif change.table not in _BY_ROW and change.table != "assumptions":
        return ()
    row = row.removeprefix("site/")
    named = row if row in sites else min(row.split("/")[0], row.split(" ")[0], key=len)
    return (named,) if named in sites else ()


def summary(before: PlanVersion, after: PlanVersion, changes: tuple[Change, ...]) -> tuple[Message, ...]:
    """What changed in a few sentences, in the order in which a coordinator asks."""
    if not changes:
        return (message(N_("Nothing differs.")),)
    at = [site for site in by_site(before, after, changes) if site != COUNTY]
    told = [message(N_("Cells that differ: {count}; sites: {sites}."), count=len(changes), sites=len(at))]
    told += _sites(changes)
    told += _stations(before, after)
    moved = {c.row for c in changes if c.table == "devices"}
    if moved:
        told.append(message(N_("Machines that stand elsewhere: {count}."), count=len(moved)))
    told += _waits(before, after)
    told += _seals(before, after)
    told += _come_and_go(changes, "fixed", N_("Values that people fixed: {new} new, {gone} gone."))
    told += _come_and_go(changes, "notices", N_("Notices: {new} new, {gone} gone."))
    return tuple(told)


def _sites(changes: tuple[Change, ...]) -> list[Message]:
    rows = [c for c in changes if c.table == "sites"]
    new = [c.row.removeprefix("site/") for c in rows if c.before == NOTHING]
    gone = [c.row.removeprefix("site/") for c in rows if c.after == NOTHING]
    told = []
    if new:
        told.append(message(N_("Sites that are new in the plan: {sites}."), sites=", ".join(new)))
    if gone:
        told.append(message(N_("Sites that are not in the plan any more: {sites}."), sites=", ".join(gone)))
    return told


def _stations(before: PlanVersion, after: PlanVersion) -> list[Message]:
    olds, news = ({p.site: sum(c.count for c in p.counts) for p in v.sites} for v in (before, after))
    differences = {site: news[site] - olds[site] for site in news if site in olds}
    more = [d for d in differences.values() if d > 0]
    fewer = [-d for d in differences.values() if d < 0]
    told = []
    if more:
        words = N_("Stations: {count} more (sites: {sites}).")
        told.append(message(words, count=sum(more), sites=len(more)))
    if fewer:
        words = N_("Stations: {count} fewer (sites: {sites}).")
        told.append(message(words, count=sum(fewer), sites=len(fewer)))
    return told


def _waits(before: PlanVersion, after: PlanVersion) -> list[Message]:
    olds, news = (
        {p.site: p.waits.p95_longest_wait_ms // MS_PER_MINUTE for p in v.sites if p.waits is not None}
        for v in (before, after)
    )
    changed = {site: (olds[site], news[site]) for site in news if site in olds and olds[site] != news[site]}
    if not changed:
        return []
    site = max(changed, key=lambda s: (abs(changed[s][1] - changed[s][0]), s))
    words = N_(
        "Sites where the longest wait changes: {count}; most at {site}: {before} min before, {after} min now."
    )
    return [message(words, count=len(changed), site=site, before=changed[site][0], after=changed[site][1])]


def _seals(before: PlanVersion, after: PlanVersion) -> list[Message]:
    old, new = (sum(need.quantity for p in v.sites for need in p.seal_needs) for v in (before, after))
    if old == new:
        return []
    return [message(N_("Seals needed at sites: {before} before, {after} now."), before=old, after=new)]


def _come_and_go(changes: tuple[Change, ...], table: str, words: str) -> list[Message]:
    rows = [c for c in changes if c.table == table]
    new, gone = sum(c.before == NOTHING for c in rows), sum(c.after == NOTHING for c in rows)
    return [message(words, new=new, gone=gone)] if new or gone else []
