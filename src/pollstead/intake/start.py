"""From foreign tables and a confirmed mapping to a county: sites, precincts, past ballots, fleet."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter

import msgspec
from rapidfuzz import process

from pollstead.election.county import (
    Assumption,
    Device,
    Election,
    FleetTotal,
    Hours,
    PastCount,
    Precinct,
    Site,
)
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.csv_text import Row
from pollstead.intake.foreign import ForeignTable, read_number
from pollstead.intake.look_alikes import alike_places
from pollstead.intake.mapping import DEVICES, FLEET, PAST, PLACES, PRECINCTS, TOTALS, Proposal
from pollstead.intake.open_items import tuesday_after_first_monday
from pollstead.intake.order import in_order
from pollstead.intake.synonyms import device_likeness

IN_PERSON = "election day"
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")


class Facts(Value, frozen=True, kw_only=True):
    """What a person says beside the tables."""

    county: str
    name: str
    election_day: dt.date
    zone: str
    past_election: dt.date
    past_election_assumed: bool
    opens_min: int | None = None
    closes_min: int | None = None
    same: tuple[tuple[str, str], ...] = ()


class LeftOut(Value, frozen=True, kw_only=True):
    """A row or cell of a foreign table that was not taken, or taken with a note, and why."""

    file: str
    row: int
    text: str
    why: str


class Start(Value, frozen=True, kw_only=True):
    """The county made from the tables, what was left out, and places that may be one building."""

    election: Election
    left_out: tuple[LeftOut, ...]
    alike: tuple[tuple[str, str], ...]
    told: tuple[Message, ...]


class Place(Value, frozen=True, kw_only=True):
    """A place of the tables while sites are put together."""

    id: str
    name: str
    address: str
    area: str
    registered: int | None


def last_general_election(before: dt.date) -> dt.date:
    """The last general election of an even year before `before` (2 U.S.C. 7: a Tuesday in November)."""
    year = before.year
    while year % 2 or tuesday_after_first_monday(year) >= before:
        year -= 1
    return tuesday_after_first_monday(year)


class _Builder:
    """Takes the tables one by one; keeps what was left out."""

    def __init__(self, facts: Facts, device_words: dict[str, tuple[str, ...]]) -> None:
        self.facts = facts
        self.device_words = device_words
        self.places: dict[str, Place] = {}
        self.by_text: dict[tuple[str, str], str] = {}
        self.precincts: dict[str, Precinct] = {}
        self.history: dict[str, PastCount] = {}
        self.devices: dict[str, Device] = {}
        self.totals: Counter[str] = Counter()
        self.sources: dict[str, str] = {}
        self.listed: set[str] = set()
        self.left_out: list[LeftOut] = []

    def take(self, proposal: Proposal) -> None:
        """Take every row of a table."""
        for row in proposal.table.rows:
            if proposal.purpose in (PRECINCTS, PLACES):
                self._place_row(proposal, row)
            elif proposal.purpose == TOTALS:
                self._total_row(proposal, row)
            elif proposal.purpose == DEVICES:
                self._device_row(proposal, row)
            elif proposal.purpose == PAST:
                self._past_row(proposal, row)

    def _cell(self, proposal: Proposal, row: Row, ours: str) -> str:
        theirs = proposal.theirs(ours)
        return row.cells[proposal.table.column(theirs)].strip() if theirs else ""

    def _count(self, proposal: Proposal, row: Row, ours: str) -> int | None:
        text = self._cell(proposal, row, ours)
        try:
            number = read_number(text)
        except ValueError:
            self._leave(proposal.table, row, text, N_("a number cell that can be read in two ways"))
            return None
        if number.note:
            why = N_("a note beside a number; the number is taken")
            self._leave(proposal.table, row, text, why)
        return number.count

    def _leave(self, table: ForeignTable, row: Row, text: str, why: str) -> None:
        self.left_out.append(LeftOut(file=table.name, row=row.number, text=text[:200], why=why))

    def _place_row(self, proposal: Proposal, row: Row) -> None:
        one_precinct = proposal.purpose == PRECINCTS
        precinct = self._cell(proposal, row, "precinct") if one_precinct else ""
        site = self._site_of(proposal, row)
        if site is None:
            why = N_("no place beside the precinct") if one_precinct else N_("no name of a place")
            self._leave(proposal.table, row, " ".join(filter(None, row.cells)), why)
            return
        registered = self._count(proposal, row, "registered")
        ballots = self._count(proposal, row, "ballots")
        if one_precinct:
            if not _ID.fullmatch(precinct):
                self._leave(proposal.table, row, precinct, N_("a precinct that is no id"))
                return
            known = self.precincts.get(precinct)
            if known is not None and (known.site != site or precinct in self.listed):
                why = N_("a precinct that stood there before")
                if known.site != site:
                    why = N_("a precinct that stands at another place already")
                self._leave(proposal.table, row, precinct, why)
                return
            self.listed.add(precinct)
            self.precincts[precinct] = Precinct(id=precinct, site=site, registered=registered)
            self._past(precinct, ballots, registered)
            return
        place = self.places[site]
        self.places[site] = msgspec.structs.replace(
            place, registered=registered if registered is not None else place.registered
        )
        for precinct in self._cell(proposal, row, "precincts").replace(",", " ").replace(";", " ").split():
            if _ID.fullmatch(precinct):
                self.precincts.setdefault(precinct, Precinct(id=precinct, site=site))
        self._past(site, ballots, registered)

    def _site_of(self, proposal: Proposal, row: Row) -> str | None:
        name = self._cell(proposal, row, "name")
        own = self._cell(proposal, row, "site")
        address = self._address(proposal, row)
        if own and _ID.fullmatch(own):
            if own not in self.places:
                self._new_place(own, name or own, address, self._cell(proposal, row, "area"))
            return own
        if not name and not address:
            return None
        key = (" ".join((name or address).split()), " ".join(address.split()))
        if key not in self.by_text and not address:
            same_name = [site for (other, _), site in self.by_text.items() if other == key[0]]
            if len(same_name) == 1:
                return same_name[0]
        if key not in self.by_text:
            number = len(self.places) + 1
            while f"S{number:03d}" in self.places:
                number += 1
            self._new_place(f"S{number:03d}", *key, self._cell(proposal, row, "area"))
        return self.by_text[key]

    def _new_place(self, site: str, name: str, address: str, area: str) -> None:
        place = Place(id=site, name=name, address=address, area=area, registered=None)
        self.places[site] = place
        self.by_text.setdefault((" ".join(name.split()), " ".join(address.split())), site)

    def _address(self, proposal: Proposal, row: Row) -> str:
        address = self._cell(proposal, row, "address")
        city = self._cell(proposal, row, "city")
        return (
            f"{address}, {city}"
            if address and city and city.casefold() not in address.casefold()
            else address
        )

    def _past(self, unit: str, ballots: int | None, registered: int | None) -> None:
        if ballots is None:
            return
        day = self.facts.past_election
        self.history[unit] = PastCount(
            election=day.isoformat(),
            date=day,
            unit=unit,
            mode=IN_PERSON,
            ballots=ballots,
            registered=registered,
        )

    def join_past(self, kept: str, gone: str) -> None:
        """Add the past ballots of one site to those of another that is the same building."""
        moved = self.history.pop(gone, None)
        if moved is None:
            return
        there = self.history.get(kept)
        registered = moved.registered
        if there is not None:
            known = there.registered is not None and registered is not None
            registered = (there.registered or 0) + (registered or 0) if known else None
        ballots = moved.ballots + (there.ballots if there else 0)
        self.history[kept] = msgspec.structs.replace(moved, unit=kept, ballots=ballots, registered=registered)

    def _past_row(self, proposal: Proposal, row: Row) -> None:
        unit = self._cell(proposal, row, "precinct") or self._cell(proposal, row, "site")
        if not _ID.fullmatch(unit):
            self._leave(
                proposal.table, row, " ".join(filter(None, row.cells)), N_("a precinct that is no id")
            )
            return
        registered = self._count(proposal, row, "registered")
        self._past(unit, self._count(proposal, row, "ballots"), registered)
        if registered is not None and unit in self.precincts:
            known = self.precincts[unit]
            if known.registered is None:
                self.precincts[unit] = msgspec.structs.replace(known, registered=registered)

    def _total_row(self, proposal: Proposal, row: Row) -> None:
        source = f"{proposal.table.name}, row {row.number}"
        for match in proposal.matches:
            if match.ours.startswith(FLEET):
                kind = match.ours.removeprefix(FLEET)
                count = self._count(proposal, row, match.ours)
                if count is not None:
                    self.totals[kind] += count
                    self.sources.setdefault(kind, f"{source}, {match.theirs}")
        kind = self._cell(proposal, row, "device_kind")
        if kind and proposal.theirs("count"):
            count = self._count(proposal, row, "count")
            if count is not None:
                known = self._device_kind(kind)
                self.totals[known] += count
                self.sources.setdefault(known, source)

    def _device_kind(self, text: str) -> str:
        """The kind of device as the station types name it, else as the table has it."""
        scores = {kind: device_likeness(text, words) for kind, words in self.device_words.items()}
        best = max(scores, key=lambda kind: scores[kind], default="")
        return best if best and scores[best] >= 85 else text

    def _device_row(self, proposal: Proposal, row: Row) -> None:
        serial = self._cell(proposal, row, "serial")
        kind = self._device_kind(self._cell(proposal, row, "device_kind") or "device")
        slug = re.sub(r"[^A-Za-z0-9]+", "-", kind).strip("-").lower()
        if not _ID.fullmatch(serial):
            self._leave(proposal.table, row, serial, N_("no serial"))
            return
        device = f"device/{slug}/{serial}"
        if device in self.devices:
            self._leave(proposal.table, row, serial, N_("a serial that stood there before"))
            return
        self.devices[device] = Device(
            id=device,
            serial=serial,
            kind=kind,
            tag=self._cell(proposal, row, "tag"),
            home=self._cell(proposal, row, "site"),
        )


def build(
    proposals: tuple[Proposal, ...],
    facts: Facts,
    station_types: tuple[StationType, ...],
    site_kinds: tuple[SiteKind, ...],
    device_words: dict[str, tuple[str, ...]],
) -> Start:
    """The county of these tables. Raises ValueError naming a place given as the same that is not there."""
    builder = _Builder(facts, device_words)
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


def _counted_once(builder: _Builder) -> list[Message]:
    """Drop the past ballots of a site whose precincts have them too: each ballot counts once."""
    with_precincts = {builder.precincts[unit].site for unit in builder.history if unit in builder.precincts}
    doubled = sorted(with_precincts & builder.history.keys())
    for site in doubled:
        del builder.history[site]
    if not doubled:
        return []
    text = N_("Past ballots of {count} sites are left out: their precincts' ballots are in another table")
    return [message(text, count=len(doubled))]


def _merge(builder: _Builder, same: tuple[tuple[str, str], ...]) -> list[Message]:
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


def _place(builder: _Builder, named: str) -> str:
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
