"""What a numbered line of a blank sheet asks for: of which thing, by the names that RECONCILE gives it.

The words on paper may change with language and station type; subject and item are those of the event that
the answer becomes.
"""

from __future__ import annotations

import enum

from pollstead.election.identity import make_id, split_id
from pollstead.election.station_type import StationType
from pollstead.election.values import Value
from pollstead.plan.seals.policy import closure_id, owners_of
from pollstead.plan.terms.version import PartOfStation, Station


class AskedLine(Value, frozen=True, kw_only=True):
    """One numbered line of a sheet: ``L12``, of which station, and what its answer is called in the record.

    `subject` is the subject of the event; `item` the term of a count (``public_counter_close``), else the
    word of the expected item (``serial``, ``seal``, ``clock``, ``report``, ``memory device``) or one of
    ``memory device packed``, ``closure``, ``total``, ``difference``, ``memory devices``, ``carried over``; ""
    for an act that is only ticked. `detail` is the step of a seal, the report's word, the equation's id.
    `values` names what is written, by the fields of the event's body where it has them. `station` is "" for
    the whole site.
    """

    line: str
    station: str
    subject: str
    item: str
    words: str
    values: tuple[str, ...] = ()
    detail: str = ""


class Of(enum.Enum):
    """Whose number a line asks for."""

    STATION = "station"
    MACHINE = "machine"
    PART = "part"
    CLOSURE = "closure"


class Ask(Value, frozen=True, kw_only=True):
    """What a line of a station type asks for, before it is known at which station.

    `ref` is the part's or closure's id, `tail` stands behind the machine's id; `index` counts like parts,
    seals and memory devices from 1.
    """

    item: str = ""
    detail: str = ""
    values: tuple[str, ...] = ("done",)
    of: Of = Of.STATION
    ref: str = ""
    tail: str = ""
    index: int = 1


ACT = Ask()


class NumberedLines:
    """Gives the lines of one sheet their numbers, L1, L2 …, in the order in which they stand on it."""

    def __init__(self) -> None:
        self._lines: list[AskedLine] = []

    @property
    def lines(self) -> tuple[AskedLine, ...]:
        """All lines so far."""
        return tuple(self._lines)

    def add(
        self,
        *,
        words: str,
        subject: str,
        item: str,
        station: str = "",
        values: tuple[str, ...] = ("value",),
        detail: str = "",
    ) -> str:
        """Number one more line; gives its number."""
        line = f"L{len(self._lines) + 1}"
        self._lines.append(
            AskedLine(
                line=line,
                station=station,
                subject=subject,
                item=item,
                words=words,
                values=values,
                detail=detail,
            )
        )
        return line

    def ask(self, ask: Ask, words: str, kind: StationType | None, station: Station | None, site: str) -> str:
        """Number a line of a station type at one station, or of the whole site; gives its number."""
        subject = f"site/{site}" if kind is None or station is None else subject_of(ask, kind, station)
        return self.add(
            words=words,
            subject=subject,
            item=ask.item,
            station="" if station is None else station.id,
            values=ask.values,
            detail=ask.detail,
        )


def subject_of(ask: Ask, kind: StationType, station: Station) -> str:
    """The subject of the event that an answer becomes at one station."""
    if ask.of is Of.PART:
        return "/".join((station.id, ask.ref, *([str(ask.index)] if ask.index > 1 else [])))
    if ask.of is Of.CLOSURE:
        return _closure(ask, kind, station)
    if ask.of is Of.MACHINE:
        owner = machine_id(station)
        return f"{owner}/{ask.tail}" if ask.tail else owner
    return station.id


def machine(station: Station) -> PartOfStation | None:
    """The station's first machine: the one that has the counters, the clock and the memory devices."""
    return next((part for part in station.parts if part.by_serial), None)


def machine_id(station: Station) -> str:
    """The device's id, else that of the station's part, or of the station where no part has a serial."""
    held = machine(station)
    if held is None:
        return station.id
    return held.device or make_id(*split_id(station.id), held.part)


def _closure(ask: Ask, kind: StationType, station: Station) -> str:
    """The closure's id at a position; positions count through the like parts of a station."""
    closure = next(c for c in kind.closures if c.id == ask.ref)
    left = ask.index
    for owner, times in owners_of(closure, kind, station):
        seals = closure.seals * times
        if left <= seals:
            subject = closure_id(owner, closure)
            return subject if left == 1 else f"{subject}/{left}"
        left -= seals
    # A part that the plan has not assigned is the station's own.
    return f"{closure_id(station.id, closure)}/{ask.index}"
