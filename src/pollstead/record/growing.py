"""A fold that grows: events are added to it one by one, and it equals `fold` of all of them at any time.

Folding a whole record anew for each event costs seconds once there are some thousands. An event that no
earlier one names changes the order by one place and one fact alone; only that is done here. What is not
so simple (an event that others waited for, a notice in the middle of the order) folds everything anew.
"""

from __future__ import annotations

import bisect
from collections.abc import Iterable, Mapping

from pollstead.election.notice import Notice
from pollstead.record.check import chain_troubles
from pollstead.record.event import Signed
from pollstead.record.facts import Fact, Fold
from pollstead.record.fold import FactName, Placed, causal_order, causes_of
from pollstead.record.frozen_json import FrozenObject


class GrowingFold:
    """The facts of a set of events that grows.

    Not a value and not safe between threads: the caller holds a lock. Each `fold` it gives is frozen; facts
    in which nothing changed are the same objects in the next one, so that a caller can tell what changed.
    """

    def __init__(
        self, events: Iterable[Signed] = (), sides: Mapping[str, FrozenObject] | None = None
    ) -> None:
        self._made: Fold | None = None
        self._order: list[str] = []
        self._sides = dict(sides or {})
        self._signed: dict[str, Signed] = {signed.id: signed for signed in events}
        self._fold_all()

    @property
    def fold(self) -> Fold:
        """The facts as they are now."""
        if self._made is None:
            notices = (*self._chain_notices, *self._placed.notices)
            self._made = Fold(tuple(self._facts), tuple(self._order), notices)
        return self._made

    def add(self, events: Iterable[Signed], sides: Mapping[str, FrozenObject] | None = None) -> None:
        """Take in more events with their private parts; those already here are passed over."""
        self._sides.update(sides or {})
        new = {signed.id: signed for signed in events if signed.id not in self._signed}
        if not new:
            return
        self._made = None
        waited_for = not self._missing.isdisjoint(new)
        ordered = causal_order(new.values())
        for index, signed in enumerate(ordered):
            self._signed[signed.id] = signed
            if waited_for or not self._add_one(signed):
                self._signed.update((later.id, later) for later in ordered[index:])
                self._fold_all()
                return

    def _fold_all(self) -> None:
        """Everything anew, as `fold` does."""
        ordered = causal_order(self._signed.values())
        self._made = None
        self._placed = Placed(ordered, self._sides)
        self._order = [signed.id for signed in ordered]
        self._places: list[FactName] = sorted(self._placed.readings)
        self._facts: list[Fact] = [self._placed.fact(place) for place in self._places]
        self._missing = {c for signed in ordered for c in causes_of(signed.event) if c not in self._signed}
        self._tips: dict[str, Signed] = {}
        for signed in ordered:
            tip = self._tips.get(signed.event.device)
            if tip is None or signed.event.n > tip.event.n:
                self._tips[signed.event.device] = signed
        self._chain_notices: list[Notice] = self._chains()

    def _add_one(self, signed: Signed) -> bool:
        """Put one event that nobody here names in its place; False where only a whole fold can tell."""
        causes = causes_of(signed.event)
        self._missing.update(c for c in causes if c not in self._signed)
        place_in_order = self._place_in_order(signed, causes)
        at_end = place_in_order == len(self._order)
        notices, natures = len(self._placed.notices), len(self._placed.natures_changed)
        self._placed.file(signed)
        changed_otherwise = (
            len(self._placed.notices) != notices or len(self._placed.natures_changed) != natures
        )
        if changed_otherwise and not at_end:
            return False
        place = self._placed.place_of[signed.id]
        readings = self._placed.readings[place]
        self._order.insert(place_in_order, signed.id)
        if not at_end and len(readings) > 1:
            before = set(self._order[:place_in_order])
            last = readings.pop()
            readings.insert(sum(reading.event in before for reading in readings), last)
        self._refresh(place)
        self._follow_chain(signed)
        return True

    def _place_in_order(self, signed: Signed, causes: tuple[str, ...]) -> int:
        """Where `causal_order` would put it: after its causes, before the first with a later clock and id."""
        start = max((self._order.index(c) + 1 for c in causes if c in self._signed), default=0)
        key = (signed.event.utc_ms, signed.id)
        for index in range(start, len(self._order)):
            other = self._order[index]
            if (self._signed[other].event.utc_ms, other) > key:
                return index
        return len(self._order)

    def _refresh(self, place: FactName) -> None:
        fact = self._placed.fact(place)
        index = bisect.bisect_left(self._places, place)
        if index < len(self._places) and self._places[index] == place:
            self._facts[index] = fact
        else:
            self._places.insert(index, place)
            self._facts.insert(index, fact)

    def _follow_chain(self, signed: Signed) -> None:
        """Look for gaps and forks anew, unless the event is the next one of its device."""
        event = signed.event
        tip = self._tips.get(event.device)
        next_one = event.n == 1 if tip is None else (event.n, event.prev) == (tip.event.n + 1, tip.id)
        if tip is None or event.n > tip.event.n:
            self._tips[event.device] = signed
        if not next_one or self._chain_notices:
            self._chain_notices = self._chains()

    def _chains(self) -> list[Notice]:
        return [found.to_notice() for found in chain_troubles(self._signed[i] for i in self._order)]
