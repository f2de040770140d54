"""From foreign tables and a confirmed mapping to a county: sites, precincts, past ballots, fleet."""

from __future__ import annotations

import datetime as dt

import msgspec
from rapidfuzz import process

from pollstead.election.county import (
    Assumption,
    Election,
    FleetTotal,
    Hours,
    Site,
)
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.builder import Builder, Facts, LeftOut
from pollstead.intake.look_alikes import alike_places
from pollstead.intake.mapping import DEVICES, PAST, PLACES, PRECINCTS, TOTALS, Proposal
from pollstead.intake.open_items import tuesday_after_first_monday
from pollstead.intake.order import in_order


class Start(Value, frozen=True, kw_only=True):
    """The county made from the tables, what was left out, and places that may be one building."""

    election: Election
    left_out: tuple[LeftOut, ...]
    alike: tuple[tuple[str, str], ...]
    told: tuple[Message, ...]


def last_general_election(before: dt.date) -> dt.date:
    """The last general election of an even year before `before` (2 U.S.C. 7: a Tuesday in November)."""
    year = before.year
    while year % 2 or tuesday_after_first_monday(year) >= before:
        year -= 1
    return tuesday_after_first_monday(year)


def build(
    proposals: tuple[Proposal, ...],
    facts: Facts,
    station_types: tuple[StationType, ...],
    site_kinds: tuple[SiteKind, ...],
    device_words: dict[str, tuple[str, ...]],
) -> Start:
    """The county of these tables. Raises ValueError naming a place given as the same that is not there."""
    builder = Builder(facts, device_words)
    order = (PRECINCTS, PLACES, PAST, DEVICES, TOTALS)
    # Places with their own ids first, so that tables which only name a place join them.
    with_ids = sorted(proposals, key=lambda p: (p.theirs("site") is None, order.index(p.purpose)))
    for purposes in ((PRECINCTS, PLACES), (PAST, DEVICES, TOTALS)):
        for proposal in with_ids:
            if proposal.purpose in purposes:
                builder.take(proposal)
    told = [*_merge(builder, facts.same), *_counted_once(builder)]
    places = tuple(builder.places.values())
    alike = tuple(
        (places[i].id, places[j].id) for i, j in alike_places([(p.name, p.address) for p in places])
    )
    kind = site_kinds[0].id if len(site_kinds) == 1 else None
    hours: tuple[Hours, ...] = ()
    if facts.opens_min is not None and facts.closes_min is not None:
        hours = (Hours(date=facts.election_day, opens_min=facts.opens_min, closes_min=facts.closes_min),)
    sites = tuple(
        Site(
            id=p.id,
            name=p.name,
            address=p.address,
            area=p.area,
            kind=kind,
            hours=hours,
            registered=p.registered,
        )
        for p in places
    )
    assumptions: tuple[Assumption, ...] = ()
    if builder.history and facts.past_election_assumed:
        assumptions = (
            Assumption(
                subject="history",
                field="date",
                value=facts.past_election.isoformat(),
                why=message(N_("The table of past ballots does not say which election they are from")),
                list_wanted="history.csv",
            ),
        )
    election = Election(
        county=facts.county,
        name=facts.name,
        election_day=facts.election_day,
        zone_name=facts.zone,
        station_types=station_types,
        site_kinds=site_kinds,
        sites=sites,
        precincts=tuple(builder.precincts.values()),
        history=tuple(builder.history.values()),
        devices=tuple(builder.devices.values()),
        fleet_totals=tuple(
            FleetTotal(kind=kind, count=count, source=builder.sources[kind])
            for kind, count in builder.totals.items()
        ),
        assumptions=assumptions,
    )
    return Start(election=in_order(election), left_out=tuple(builder.left_out), alike=alike, told=tuple(told))


def _counted_once(builder: Builder) -> list[Message]:
    """Drop the past ballots of a site whose precincts have them too: each ballot counts once."""
    with_precincts = {builder.precincts[unit].site for unit in builder.history if unit in builder.precincts}
    doubled = sorted(with_precincts & builder.history.keys())
    for site in doubled:
        del builder.history[site]
    if not doubled:
        return []
    text = N_("Past ballots of {count} sites are left out: their precincts' ballots are in another table")
    return [message(text, count=len(doubled))]


def _merge(builder: Builder, same: tuple[tuple[str, str], ...]) -> list[Message]:
    """Make pairs that a person called the same building one site, the first of the pair."""
    told = []
    for first, second in same:
        kept, gone = _place(builder, first), _place(builder, second)
        if kept == gone:
            continue
        more, place = builder.places.pop(gone), builder.places[kept]
        if place.registered is not None and more.registered is not None:
            together = place.registered + more.registered
            builder.places[kept] = msgspec.structs.replace(place, registered=together)
        for precinct in tuple(builder.precincts.values()):
            if precinct.site == gone:
                builder.precincts[precinct.id] = msgspec.structs.replace(precinct, site=kept)
        builder.join_past(kept, gone)
        told.append(message(N_("{second} is now part of {first}"), first=kept, second=gone))
    return told


def _place(builder: Builder, named: str) -> str:
    """The site that a person named by its id or its whole name."""
    if named in builder.places:
        return named
    found = [place.id for place in builder.places.values() if place.name.casefold() == named.casefold()]
    if len(found) == 1:
        return found[0]
    names = {place.id: place.name for place in builder.places.values()}
    near = process.extract(named, names, limit=1)
    likely = f"; nearest is {near[0][2]} ({near[0][0]})" if near else ""
    raise ValueError(f"{len(found)} places are called {named!r}; give the id{likely}")
