"""What a closure's policy asks for: its positions, and how many seals at which moment."""

from __future__ import annotations

import enum
from collections import Counter
from collections.abc import Iterator

from pollstead.election.identity import make_id
from pollstead.election.station_type import Closure, IdentifiedBy, Moment, NumberPolicy, StationType
from pollstead.election.values import Value
from pollstead.plan.terms.version import Station


def needs_of(closure: Closure, days: int) -> Counter[Moment]:
    """Seals that one closure takes at each moment, from its first seal to its last re-sealing.

    A closure is sealed at its moment when nothing is on it, and again at each moment of re-sealing.
    """
    needs: Counter[Moment] = Counter()
    for step in _walk(closure, days):
        if step.sealed:
            needs[step.when] += closure.seals
    return needs


def needs_by_day(closure: Closure, days: int) -> Counter[tuple[Moment, int | None]]:
    """The same by moment and number of the operating day (from 0), None where it belongs to no day."""
    needs: Counter[tuple[Moment, int | None]] = Counter()
    for step in _walk(closure, days):
        if step.sealed:
            needs[step.when, step.day] += closure.seals
    return needs


def owners_of(closure: Closure, station_type: StationType, station: Station) -> Iterator[tuple[str, int]]:
    """Who carries this closure at a station (a device id, else the station id), and how many times.

    A closure on a part told apart by serial belongs to that device, one on a counted part or on the whole
    station to the station.
    """
    part = next((p for p in station_type.parts if p.id == closure.part), None)
    if part is None:
        yield station.id, 1
    elif part.identified_by is IdentifiedBy.COUNT:
        yield station.id, part.per_station
    else:
        empty = 0
        for held in station.parts:
            if held.part == part.id and held.device:
                yield held.device, 1
            elif held.part == part.id:
                empty += 1
        if empty:
            yield station.id, empty


def closure_id(owner: str, closure: Closure) -> str:
    """``closure/scanner/0012/lid`` for a device's closure, ``closure/S01/booths/1/lid`` for a station's."""
    parts = owner.split("/")
    if parts[0] in ("device", "station"):
        del parts[0]
    return make_id("closure", *parts, closure.id)


class Found(enum.Enum):
    """What stands on a closure just before it is looked at."""

    NOTHING = "nothing"
    FROM_TEST = "the seal put on after test"
    FROM_SITE = "a seal put on at the site"


def found_before(closure: Closure, moment: Moment, day: int, days: int) -> Found:
    """What is found on a closure at `moment` of operating day number `day` (from 0) of `days`.

    At each moment a closure is looked at, then cut, then sealed again. Only a seal put on after test has a
    number that the plan can know; what was put on at the site is known to the record alone.
    """
    for step in _walk(closure, days):
        if step.when is moment and step.day in (None, day):
            return step.found
    return Found.NOTHING


class _Step(Value, frozen=True, kw_only=True):
    """One moment in the life of a closure: what is found on it, and whether a seal is put on."""

    when: Moment
    day: int | None
    found: Found
    sealed: bool


def _walk(closure: Closure, days: int) -> Iterator[_Step]:
    """The life of a closure from test to receiving: looked at, then cut, then sealed."""
    state = Found.NOTHING
    has_seal = closure.number is not NumberPolicy.NO_SEAL
    for when, day in _moments(days):
        found = state
        if closure.cut is when:
            state = Found.NOTHING
        sealed = has_seal and (
            when in closure.resealed or (closure.applied is when and state is Found.NOTHING)
        )
        if sealed:
            first = closure.applied is when is Moment.AFTER_TEST and when not in closure.resealed
            state = Found.FROM_TEST if first else Found.FROM_SITE
        yield _Step(when=when, day=day, found=found, sealed=sealed)


def moments_of_day(day: int, days: int) -> tuple[Moment, ...]:
    """The moments of one operating day: the first has an evening before it, the last a receiving."""
    return tuple(
        when
        for when, number in _moments(days)
        if number == day
        or (when is Moment.EVENING_BEFORE and day == 0)
        or (when is Moment.RECEIVING and day == days - 1)
    )


def _moments(days: int) -> Iterator[tuple[Moment, int | None]]:
    """Every moment from test to receiving, with the number of its operating day where it has one."""
    yield Moment.AFTER_TEST, None
    yield Moment.EVENING_BEFORE, None
    for day in range(days):
        yield Moment.OPENING, day
        yield Moment.DURING, day
        yield Moment.CLOSING, day
        if day < days - 1:
            yield Moment.OVERNIGHT, day
    yield Moment.RECEIVING, None
