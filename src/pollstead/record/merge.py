"""Merge copies of a record: a set union, the same whatever the order and however often."""

from __future__ import annotations

from collections.abc import Iterable

from pollstead.record.event import Signed


def merge(*copies: Iterable[Signed]) -> tuple[Signed, ...]:
    """All events of all copies, each once, in the order of `by_device`.

    Idempotent, commutative and associative. Two signatures over the same bytes count as one event;
    the lesser in byte order is kept (Ed25519 is deterministic, so only a changed copy differs).
    """
    kept: dict[str, Signed] = {}
    for copy in copies:
        for signed in copy:
            other = kept.get(signed.id)
            if other is None or signed.signature < other.signature:
                kept[signed.id] = signed
    return by_device(kept.values())


def by_device(events: Iterable[Signed]) -> tuple[Signed, ...]:
    """The events by device, counter and id: each device's chain in its own order."""
    return tuple(sorted(events, key=lambda signed: (signed.event.device, signed.event.n, signed.id)))
