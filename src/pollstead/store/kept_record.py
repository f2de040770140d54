"""The record of a store kept in memory: what was read and folded once is not read and folded again.

Events only ever come to the end, and each place holds a hash over all before it: where the last place that
was read still holds the same one, all before it stands as it was read. Another process may write at any
time; what it wrote is read at the next look, and a store that was put back or made anew is read from the
start. All stores that this process opens on one database share what was read.
"""

from __future__ import annotations

import bisect
import contextlib
import gc
import threading
import weakref
from collections.abc import Iterable, Iterator, Mapping
from operator import attrgetter
from types import MappingProxyType
from typing import Final

from pollstead.election.values import Value
from pollstead.record.event import Signed
from pollstead.record.facts import Fold
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.growing import GrowingFold
from pollstead.record.tree import FIRST_ARRIVAL

NO_FIELDS: Final[Mapping[str, FrozenObject]] = MappingProxyType({})
MANY_EVENTS: Final = 1_000
FEW_NEW: Final = 200
"""More new events than these are folded together with all others: each one alone is put into the order."""


class Stored(Value, frozen=True):
    """An event with its place in this store, from 1."""

    seq: int
    signed: Signed


class KeptRecord:
    """What was read of one store. Its methods are called with `lock` held; what they give is frozen."""

    def __init__(self) -> None:
        self.lock = threading.RLock()
        self.stored: list[Stored] = []
        self.arrival = FIRST_ARRIVAL
        self.fields: Mapping[str, FrozenObject] = NO_FIELDS
        self.sides_counted = (0, 0)
        self._folds: dict[bool, _KeptFold] = {}

    @property
    def last(self) -> int:
        """The last place that was read, 0 for none."""
        return self.stored[-1].seq if self.stored else 0

    def take(self, stored: Iterable[Stored], arrival: str) -> None:
        """Keep events that came after the last place; `arrival` is what the new last place holds."""
        self.stored.extend(stored)
        self.arrival = arrival

    def take_sides(self, fields: dict[str, FrozenObject], counted: tuple[int, int]) -> None:
        """Keep the private parts that are there; `counted` is how many there ever were, and were redacted."""
        self.fields, self.sides_counted = MappingProxyType(fields), counted

    def since(self, seq: int) -> tuple[Stored, ...]:
        """The events after place `seq`."""
        return tuple(self.stored[bisect.bisect_right(self.stored, seq, key=attrgetter("seq")) :])

    def forget(self) -> None:
        """Let go of everything: the store no longer begins with these events."""
        self.stored, self.arrival = [], FIRST_ARRIVAL
        self.fields, self.sides_counted = NO_FIELDS, (0, 0)
        self._folds.clear()

    def fold(self, sides: Mapping[str, FrozenObject] | None) -> Fold:
        """The events that were read folded into facts, with the private parts in `sides` where given."""
        private = sides is not None
        shown = NO_FIELDS if sides is None else sides
        kept = self._folds.get(private)
        if kept is None or not kept.grow(self.stored, shown):
            with many_made():
                kept = self._folds[private] = _KeptFold(self.stored, shown)
            if len(self.stored) >= MANY_EVENTS:
                # What is kept until the program ends is not looked through again at each collection.
                gc.freeze()
        return kept.folding.fold


class _KeptFold:
    """A fold of the first `count` events, and which private parts were there."""

    def __init__(self, stored: list[Stored], sides: Mapping[str, FrozenObject]) -> None:
        self.folding = GrowingFold((one.signed for one in stored), sides)
        self._count = len(stored)
        self._sides = sides

    def grow(self, stored: list[Stored], sides: Mapping[str, FrozenObject]) -> bool:
        """Take in what came since; False where only a whole fold can tell.

        Events arrive with their private parts. Parts that were redacted, or that came for events which were
        here before, change what was folded already.
        """
        if sides is self._sides and len(stored) == self._count:
            return True
        new = [one.signed for one in stored[self._count :]]
        came = sides.keys() - self._sides.keys()
        own = {signed.event.private for signed in new}
        if len(new) > FEW_NEW or not came <= own or not self._sides.keys() <= sides.keys():
            return False
        self.folding.add(new, {digest: sides[digest] for digest in came})
        self._count += len(new)
        self._sides = sides
        return True


_shared: weakref.WeakValueDictionary[str, KeptRecord] = weakref.WeakValueDictionary()
_sharing = threading.Lock()


def shared_record(database: str) -> KeptRecord:
    """What this process keeps of the record in `database`, for as long as a store on it is open."""
    with _sharing:
        found = _shared.get(database)
        if found is None:
            found = _shared[database] = KeptRecord()
        return found


@contextlib.contextmanager
def many_made() -> Iterator[None]:
    """Make many objects that all stay, without looking for garbage among them meanwhile."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
