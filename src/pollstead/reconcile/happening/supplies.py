"""Supplies of a day: what is left where, what runs out before voting ends, which packets are on their way."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

from pollstead.election.county import Election
from pollstead.election.instants import LAST_MINUTE, Instant, OperatingDay
from pollstead.election.styles_at import precincts_at
from pollstead.election.values import Value
from pollstead.reconcile.custody.legs import LegKind
from pollstead.reconcile.custody.places import Held
from pollstead.reconcile.happening.run_out import Level, RunOut, backwards, run_out
from pollstead.reconcile.observed import short_site
from pollstead.record.facts import Fold

BALLOTS = "ballots"
PAPER_STYLE = ""


class StubRange(Value, frozen=True, kw_only=True):
    """Unused numbered ballots as last told: site, style, first and last number, how many."""

    site: str
    style: str
    first: str
    last: str
    left: int
    at_min: int
    where: str = ""


class SupplyLine(Value, frozen=True, kw_only=True):
    """One item (and style) of one site: its tellings, its forecast, what does not fit.

    `before_end` says that it may run out before `until_min`, `soon` that it may within the county's time
    ahead or has run out, `not_here` that its style is none of the site's; then `from_min` and `to_min` are
    the minutes concerned, `to_min` None while some are left. `differing` are minutes for which two people
    told two numbers; of those the lower is reckoned with.
    """

    site: str
    item: str
    style: str
    levels: tuple[Level, ...]
    forecast: RunOut | None
    until_min: int
    soon: bool
    before_end: bool
    out_since_min: int | None
    not_here: bool
    from_min: int
    to_min: int | None
    differing: tuple[int, ...]
    backwards: tuple[int, ...]


class Packet(Value, frozen=True, kw_only=True):
    """One packet of supplies to a site: `state` is packed, on its way, overdue or received."""

    thing: str
    site: str
    item: str
    style: str
    amount: int
    stub_first: str
    stub_last: str
    state: str
    last_place: str
    last_people: tuple[str, ...]
    last_utc_ms: int | None
    expected_utc_ms: int | None
    received_min: int | None


def styles_of(election: Election, site: str) -> frozenset[str]:
    """The ballot styles of the precincts that may vote at a site; empty where no table names any."""
    return frozenset(style for p in precincts_at(election, site) for style in p.styles)


def packets_of(
    folded: Fold, held: dict[str, Held], election: Election, date: dt.date, now_ms: int
) -> tuple[Packet, ...]:
    """The packets of a day in the order of their ids, with where each is by its legs."""
    found = []
    grace = election.rules.whole("leg-grace")
    today = OperatingDay(date=date, zone_name=election.zone_name)
    for fact in folded.named("supply.packed"):
        if fact.day != date.isoformat():
            continue
        for reading in fact.current[:1]:
            value, at = reading.value, held.get(fact.subject)
            last = at.at[-1] if at is not None and at.at else None
            came = last is not None and last.kind is LegKind.RECEIVED
            state = "packed" if last is None else "received" if came else "on its way"
            if at is not None and at.overdue(now_ms, grace):
                state = "overdue"
            found.append(
                Packet(
                    thing=fact.subject,
                    site=short_site(str(value.get("to_site", ""))),
                    item=str(value.get("item", "")),
                    style=str(value.get("style", "")),
                    amount=int(str(value.get("amount", 0))),
                    stub_first=str(value.get("stub_first", "")),
                    stub_last=str(value.get("stub_last", "")),
                    state=state,
                    last_place="" if last is None else (last.to_place if came else last.from_place),
                    last_people=at.custodians if at is not None else (),
                    last_utc_ms=last.utc_ms if last is not None else None,
                    expected_utc_ms=at.open_leg.expected_ms if at is not None and at.open_leg else None,
                    received_min=today.wall_clock_of(Instant(utc_ms=last.utc_ms))
                    if last is not None and came
                    else None,
                )
            )
    return tuple(found)


def supply_lines(
    folded: Fold,
    election: Election,
    date: dt.date,
    packets: tuple[Packet, ...],
    *,
    until: dict[str, int],
    opened: dict[str, int],
    now_min: int,
) -> tuple[SupplyLine, ...]:
    """Each site's items; what may run out first comes first.

    `until` is when voting ends at each site, `opened` when its doors opened, minutes of the operating day.
    """
    told: dict[tuple[str, str, str], dict[int, set[int]]] = defaultdict(lambda: defaultdict(set))
    for fact in folded.named("supply.told"):
        if fact.day == date.isoformat():
            key = fact.key
            for reading in fact.current:
                place = (short_site(fact.subject), str(key.get("item", "")), str(key.get("style", "")))
                told[place][int(str(key["at_min"]))].add(int(str(reading.value["left"])))
    ahead = election.rules.whole("supplies-ahead")
    lines = [
        _line(place, minutes, election, packets, until, opened, now_min, ahead)
        for place, minutes in told.items()
    ]
    return tuple(sorted(lines, key=_urgency))


def _urgency(line: SupplyLine) -> tuple[int, int, str, str, str]:
    early = line.forecast.early_min if line.forecast and line.forecast.early_min is not None else 10_000
    first = 0 if line.out_since_min is not None or line.not_here else 1 if line.before_end else 2
    return (first, early, line.site, line.item, line.style)


def _line(
    place: tuple[str, str, str],
    minutes: dict[int, set[int]],
    election: Election,
    packets: tuple[Packet, ...],
    until: dict[str, int],
    opened: dict[str, int],
    now_min: int,
    ahead: int,
) -> SupplyLine:
    site, item, style = place
    levels, before = [], -1
    for at in sorted(minutes):
        came = sum(
            p.amount
            for p in packets
            if (p.site, p.item, p.style) == place
            and p.received_min is not None
            and before < p.received_min <= at
        )
        # What came before the first telling is in it already.
        levels.append(Level(at_min=at, left=min(minutes[at]), came=came if before >= 0 else 0))
        before = at
    forecast, last = run_out(tuple(levels)), levels[-1]
    ends = until.get(site, LAST_MINUTE)
    own = styles_of(election, site)
    not_here = item == BALLOTS and bool(style) and bool(own) and style not in own
    early = forecast.early_min if forecast is not None else None
    before_end = last.left == 0 or (early is not None and early < ends)
    soon = before_end and (early is None or early <= max(now_min, last.at_min) + ahead)
    gone = next((level.at_min for level in reversed(levels) if level.left), None)
    return SupplyLine(
        site=site,
        item=item,
        style=style,
        levels=tuple(levels),
        forecast=forecast,
        until_min=ends,
        soon=soon and not not_here,
        before_end=before_end and not not_here,
        out_since_min=_out_since(levels) if not not_here else None,
        not_here=not_here,
        from_min=max(opened.get(site, levels[0].at_min), 0) if not_here else levels[0].at_min,
        to_min=None if last.left else (levels[-1].at_min if gone is not None else levels[0].at_min),
        differing=tuple(at for at, values in sorted(minutes.items()) if len(values) > 1),
        backwards=tuple(level.at_min for level in backwards(tuple(levels))),
    )


def _out_since(levels: list[Level]) -> int | None:
    """The first telling of the last run of tellings with nothing left."""
    since = None
    for level in reversed(levels):
        if level.left:
            break
        since = level.at_min
    return since


def stub_ranges(folded: Fold, date: dt.date, packets: tuple[Packet, ...]) -> tuple[StubRange, ...]:
    """The unused numbered ballots as last told at each site, and those in packets that have not come."""
    newest: dict[tuple[str, str], StubRange] = {}
    for fact in folded.named("supply.told"):
        if fact.day != date.isoformat():
            continue
        for reading in fact.current:
            first, last = (str(reading.value.get(name, "")) for name in ("stub_first", "stub_last"))
            site, style = short_site(fact.subject), str(fact.key.get("style", ""))
            at = int(str(fact.key["at_min"]))
            if first and last and at >= (newest[(site, style)].at_min if (site, style) in newest else -1):
                newest[(site, style)] = StubRange(
                    site=site,
                    style=style,
                    first=first,
                    last=last,
                    left=int(str(reading.value["left"])),
                    at_min=at,
                )
    going = tuple(
        StubRange(
            site=p.site,
            style=p.style,
            first=p.stub_first,
            last=p.stub_last,
            left=p.amount,
            at_min=0,
            where=p.thing,
        )
        for p in packets
        if p.stub_first and p.state != "received"
    )
    return (*(newest[key] for key in sorted(newest)), *going)
