"""What people keyed from lines of signed sheets, and which of it counts.

A line counts once two different people keyed the same from it, each in an event of their own, and nothing
that stands says otherwise. What is keyed again counts once. The order of events changes nothing.
"""

from __future__ import annotations

import enum
from collections import defaultdict
from collections.abc import Iterable

from pollstead.election.values import Value
from pollstead.reconcile.observed import Observation
from pollstead.reconcile.opening.view import in_order

Place = tuple[str, str]
"""A sheet's serial and a line of it."""


class Keyed(enum.StrEnum):
    """How far a line of a sheet is."""

    NOT_YET = "not keyed yet"
    ONCE = "keyed by one person"
    DIFFERS = "two keyings differ"
    AGREED = "keyed the same by two people"


class KeyedLine(Value, frozen=True, kw_only=True):
    """One line of one sheet as keyed.

    `keyings` are the standing ones, one for each person and value, the first one first; `again` are
    standing ones that say what the same person, or two others, have said already; `former` are those that
    were corrected or taken back.
    """

    sheet: str
    line: str
    state: Keyed
    keyings: tuple[Observation, ...]
    again: tuple[Observation, ...] = ()
    former: tuple[Observation, ...] = ()

    @property
    def people(self) -> tuple[str, ...]:
        """Who keyed it, each once, in the order of the keyings that stand."""
        return tuple(dict.fromkeys(author_of(seen) for seen in (*self.keyings, *self.again)))

    @property
    def counting(self) -> tuple[Observation, ...]:
        """The two keyings that count; none before two people agree."""
        return self.keyings[:2] if self.state is Keyed.AGREED else ()


def author_of(seen: Observation) -> str:
    """Who keyed it; a second person named in the same event has keyed nothing."""
    return seen.people[0].person if seen.people else ""


def from_paper(seen: Observation) -> bool:
    """Whether somebody keyed it from paper in hand; a line read out by telephone came another way."""
    return bool(seen.line) and not seen.by_phone


def line_number(line: str) -> int:
    """The number of a line: 12 for ``L12``."""
    return int(line[1:]) if line[1:].isdigit() else 0


def keyed_lines(observations: Iterable[Observation]) -> tuple[KeyedLine, ...]:
    """Every line of paper among the observations, by sheet and line."""
    given = tuple(observations)
    by_event = {seen.event: seen for seen in given}
    groups: dict[Place, dict[str, Observation]] = defaultdict(dict)
    for seen in given:
        place = place_of(seen, by_event)
        if place is not None:
            groups[place][seen.event] = seen
    ordered = sorted(groups, key=lambda place: (place[0], line_number(place[1])))
    return tuple(_line(place, groups[place].values()) for place in ordered)


def place_of(seen: Observation, by_event: dict[str, Observation]) -> Place | None:
    """The line that an observation was keyed from; a correction is of the line of what it corrects."""
    one: Observation | None = seen
    while one is not None:
        if from_paper(one):
            return one.sheet.removeprefix("sheet/"), one.line
        one = by_event.get(one.corrects) if one.corrects else None
    return None


def counting(observations: tuple[Observation, ...]) -> tuple[Observation, ...]:
    """The observations that count: all that came another way, and from paper what two people keyed alike."""
    if not any(map(from_paper, observations)):
        return observations
    lines = keyed_lines(observations)
    keyed = {seen.event for line in lines for seen in (*line.keyings, *line.again, *line.former)}
    good = {seen.event for line in lines for seen in line.counting}
    return tuple(seen for seen in observations if seen.event in good or seen.event not in keyed)


def said(seen: Observation) -> tuple[object, ...]:
    """What an observation says of what; equal for two keyings that agree."""
    return (seen.what, seen.subject, seen.source, *seen.says())


def _line(place: Place, observations: Iterable[Observation]) -> KeyedLine:
    keyings: list[Observation] = []
    again: list[Observation] = []
    former: list[Observation] = []
    known: set[tuple[object, ...]] = set()
    for seen in sorted(observations, key=in_order):
        if not seen.stands:
            former.append(seen)
        elif (author_of(seen), said(seen)) in known:
            again.append(seen)
        else:
            known.add((author_of(seen), said(seen)))
            keyings.append(seen)
    state = _state(keyings)
    if state is Keyed.AGREED:
        # A third person who says the same changes nothing.
        keyings, again = keyings[:2], sorted((*again, *keyings[2:]), key=in_order)
    return KeyedLine(
        sheet=place[0],
        line=place[1],
        state=state,
        keyings=tuple(keyings),
        again=tuple(again),
        former=tuple(former),
    )


def _state(keyings: list[Observation]) -> Keyed:
    if not keyings:
        return Keyed.NOT_YET
    if len({said(seen) for seen in keyings}) > 1:
        return Keyed.DIFFERS
    # A number that is not at hand here cannot be said to agree with another one.
    known = all(seen.value_known for seen in keyings)
    return Keyed.AGREED if known and len({author_of(seen) for seen in keyings}) > 1 else Keyed.ONCE
