"""Take the rows of confirmed foreign tables one by one into places, precincts, past counts and devices."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter

import msgspec

from pollstead.election.county import (
    Device,
    PastCount,
    Precinct,
)
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.intake.csv_text import Row
from pollstead.intake.foreign import ForeignTable, read_number
from pollstead.intake.mapping import DEVICES, FLEET, PAST, PLACES, PRECINCTS, TOTALS, Proposal
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


class Place(Value, frozen=True, kw_only=True):
    """A place of the tables while sites are put together."""

    id: str
    name: str
    address: str
    area: str
    registered: int | None


class Builder:
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
