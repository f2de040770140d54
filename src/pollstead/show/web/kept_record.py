"""The record of a store kept folded in memory: what came since is added, not everything read again."""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Iterator
from typing import Final, NamedTuple

from pollstead.record.growing import GrowingFold
from pollstead.record.kinds.offices import SideRedacted
from pollstead.store.opening import Store

MANY_EVENTS: Final = 1_000


class KeptRecord(NamedTuple):
    """A folded record, how many events are in it and how many private parts there were."""

    folding: GrowingFold
    events: int
    sides: int


def grown(store: Store, kept: KeptRecord | None) -> KeptRecord:
    """The record as the store has it now, from what was kept where that can grow.

    Events arrive with their private parts. Parts that were redacted, or that came for events which were
    here before, change what was folded already: then everything is folded anew.
    """
    if kept is not None:
        new = [stored.signed for stored in store.events.since(kept.events)]
        digests = {signed.event.private for signed in new if signed.event.private}
        fields = store.sides.fields_of(digests)
        sides = store.sides.count()
        redacted = any(signed.event.kind == SideRedacted.kind for signed in new)
        if new and not redacted and sides <= kept.sides + len(digests):
            kept.folding.add(new, fields)
            return KeptRecord(kept.folding, kept.events + len(new), sides)
    with _many_made():
        events = store.events.all()
        record = KeptRecord(GrowingFold(events, store.sides.fields()), len(events), store.sides.count())
    if record.events >= MANY_EVENTS:
        # What is kept until the app ends is not looked through again at each collection.
        gc.freeze()
    return record


@contextlib.contextmanager
def _many_made() -> Iterator[None]:
    """Make many objects that all stay, without looking for garbage among them meanwhile."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
