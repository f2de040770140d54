"""*Not back yet*: which thing, of which site, who had it last, where, since when, whom to call.

Memory devices first; then age times weight. The weights order a list for people and are our own setting:
common practice, no source; varies by county.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

from pollstead.election.county import Election
from pollstead.election.identity import is_id
from pollstead.election.instants import OperatingDay
from pollstead.election.values import Value
from pollstead.reconcile.counts.memory import MemoryState
from pollstead.reconcile.custody.places import MS_PER_MINUTE, Held
from pollstead.reconcile.custody.receiving import Sort, ThingLine, site_lines, tables_of
from pollstead.reconcile.day import SiteDay
from pollstead.reconcile.observed import Observation, What
from pollstead.reconcile.readiness.people_items import is_lead

WEIGHTS = {
    Sort.MEMORY_DEVICE: 100,
    Sort.CASE: 60,
    Sort.BALLOTS: 60,
    Sort.FORMS: 20,
    Sort.KEYS: 10,
    Sort.OTHER: 30,
}


class NotBack(Value, frozen=True, kw_only=True):
    """One thing that no table has.

    `last_people` had it last by `last_ms`, at `last_place` (ids); empty where the record does not say.
    `call` are person ids in the order to call. `overdue` says that its expected time is past. `holds` are the
    things known to be inside it. `on_its_way` where people sent it.
    """

    line: ThingLine
    site: str
    site_name: str
    last_people: tuple[str, ...]
    last_place: str
    last_ms: int | None
    age_min: int
    due_ms: int
    overdue: bool
    call: tuple[str, ...]
    holds: tuple[str, ...] = ()
    on_its_way: bool = False
    fetching: tuple[str, ...] = ()

    @property
    def weight(self) -> int:
        """Age times weight, for the order within one rank."""
        return max(1, self.age_min) * WEIGHTS[self.line.sort]


class Silent(Value, frozen=True, kw_only=True):
    """A site whose closing nobody has told by the time its things are due; `call` are person ids."""

    site: str
    name: str
    due_ms: int
    last_ms: int | None
    call: tuple[str, ...]


class NotBackList(Value, frozen=True, kw_only=True):
    """Everything not back on one operating day, and the sites that nobody has heard from."""

    date: dt.date
    now_ms: int
    things: tuple[NotBack, ...]
    silent: tuple[Silent, ...]
    sites_complete: int
    sites: int


def not_back(
    election: Election,
    days: Iterable[SiteDay],
    held: Mapping[str, Held],
    date: dt.date,
    now_ms: int,
) -> NotBackList:
    """The list of one operating day at one moment; a site is asked for once it closed or is due."""
    days = tuple(days)
    things: list[NotBack] = []
    silent: list[Silent] = []
    complete = 0
    seen: set[str] = set()
    for day in days:
        due = due_ms(election, day)
        lines = site_lines(day, held)
        seen.update(line.thing for line in lines)
        lacking = [line for line in lines if not line.here]
        complete += not lacking
        last = _last(day)
        if not day.closed.values and now_ms > due and len(lacking) == len(lines):
            silent.append(
                Silent(
                    site=day.site,
                    name=day.name,
                    due_ms=due,
                    last_ms=last.utc_ms if last else None,
                    call=leads_of(election, day.site),
                )
            )
        started = bool(day.closed.values) or len(lacking) < len(lines) or now_ms > due
        things += [_thing(election, day, line, held, due, now_ms) for line in lacking if started]
    things += _on_the_road(election, held, seen, date, now_ms)
    things.sort(key=lambda one: (one.line.sort is not Sort.MEMORY_DEVICE, -one.weight, one.line.thing))
    return NotBackList(
        date=date,
        now_ms=now_ms,
        things=tuple(things),
        silent=tuple(silent),
        sites_complete=complete,
        sites=len(days),
    )


def due_ms(election: Election, day: SiteDay) -> int:
    """When a site's things are due: its closing, as told or as set, and the minutes of the county's rule."""
    closes = max(day.closed.values) if day.closed.values else day.closed.set_min
    clock = OperatingDay(date=day.date, zone_name=election.zone_name)
    # Where no hours are told the day's own end is all that is known.
    at = clock.at_wall_clock(24 * 60 if closes is None else closes).utc_ms
    return at + election.rules.whole("receiving-due") * MS_PER_MINUTE


def leads_of(election: Election, site: str) -> tuple[str, ...]:
    """The lead, then the deputies of a site, as person ids."""
    mine = [p for p in election.people if p.site.removeprefix("site/") == site and is_lead(p)]
    mine.sort(key=lambda p: ("deputy" in p.role.casefold(), p.id))
    return tuple(p.id if p.id.startswith("person/") else f"person/{p.id}" for p in mine)


def _thing(
    election: Election, day: SiteDay, line: ThingLine, held: Mapping[str, Held], due: int, now_ms: int
) -> NotBack:
    mine = held.get(line.thing)
    place, people, since = _last_of(day, line, mine)
    grace = election.rules.whole("leg-grace")
    on_its_way = mine is not None and mine.open_leg is not None
    overdue = now_ms > due or (mine is not None and mine.overdue(now_ms, grace))
    return NotBack(
        line=line,
        site=day.site,
        site_name=day.name,
        last_people=people,
        last_place=place,
        last_ms=since,
        age_min=max(0, now_ms - (due if since is None else since)) // MS_PER_MINUTE,
        due_ms=due,
        overdue=overdue,
        call=tuple(dict.fromkeys((*people, *leads_of(election, day.site)))),
        holds=contents(line.thing, held),
        on_its_way=on_its_way,
        fetching=() if mine is None or mine.fetching is None else mine.fetching.receivers,
    )


def _last_of(day: SiteDay, line: ThingLine, held: Held | None) -> tuple[str, tuple[str, ...], int | None]:
    """Place, people and moment of the last word: of the thing, else of its machine, else of its site."""
    if held is not None and held.at:
        leg = held.at[-1]
        return leg.to_place, leg.holders, leg.utc_ms
    if held is not None and held.stated is not None:
        stated = held.stated
        return stated.inside or f"site/{day.site}", stated.holders, stated.utc_ms
    if line.device:
        about = [o for o in _observations(day) if o.stands and _of_device(o, line.device)]
        if about:
            last = max(about, key=lambda o: (o.utc_ms, o.event))
            return line.device, last.entered_by, last.utc_ms
        return line.device, (), None
    seen = _last(day, at_site=True)
    return f"site/{day.site}", (seen.entered_by if seen else ()), (seen.utc_ms if seen else None)


def _observations(day: SiteDay) -> Iterable[Observation]:
    yield from day.recorded
    for result in day.results:
        yield from result.observations


def _of_device(seen: Observation, device: str) -> bool:
    tail = device.removeprefix("device/")
    return seen.subject == device or seen.subject.startswith((f"{device}/", f"closure/{tail}/"))


def _last(day: SiteDay, *, at_site: bool = False) -> Observation | None:
    """The last word about a site; with `at_site` only what was seen there, nothing of a receiving table."""
    found = (
        o
        for o in _observations(day)
        if o.stands and not (at_site and (o.what is What.RECEIVED or o.source == "memory_device"))
    )
    return max(found, key=lambda o: (o.utc_ms, o.event), default=None)


def contents(thing: str, held: Mapping[str, Held]) -> tuple[str, ...]:
    """The things that people said travel inside this one, and that no table has."""
    return tuple(
        one.thing
        for one in held.values()
        if one.stated is not None and one.stated.inside == thing and not tables_of(one)
    )


def _on_the_road(
    election: Election, held: Mapping[str, Held], seen: set[str], date: dt.date, now_ms: int
) -> list[NotBack]:
    """Things on no site's list that were sent, are not received and are overdue: a cart, a box, a packet."""
    grace = election.rules.whole("leg-grace")
    names = {site.id.removeprefix("site/"): site.name for site in election.sites}
    found = []
    for one in held.values():
        leg = one.open_leg
        if leg is None or one.thing in seen or not one.overdue(now_ms, grace):
            continue
        if leg.day > date.isoformat():
            # A thing that left on an earlier day, operating day or not, is still on the road today.
            continue
        due = leg.expected_ms or leg.utc_ms
        packed = tuple(d.id for d in election.devices if d.cart and d.cart == one.thing.removeprefix("cart/"))
        found.append(
            NotBack(
                line=ThingLine(
                    thing=one.thing,
                    sort=Sort.MEMORY_DEVICE if one.thing.startswith("memory/") else Sort.OTHER,
                    site=leg.site,
                    code=one.thing.rpartition("/")[2] if is_id(one.thing) else one.thing,
                    state=MemoryState.NOT_SAID,
                    word=leg,
                ),
                site=leg.site,
                site_name=names.get(leg.site, ""),
                last_people=leg.holders,
                last_place=leg.from_place,
                last_ms=leg.utc_ms,
                age_min=max(0, now_ms - leg.utc_ms) // MS_PER_MINUTE,
                due_ms=due,
                overdue=True,
                call=tuple(dict.fromkeys((*leg.holders, *leads_of(election, leg.site)))),
                holds=tuple(dict.fromkeys((*contents(one.thing, held), *packed))),
                on_its_way=True,
                fetching=() if one.fetching is None else one.fetching.receivers,
            )
        )
    return found
