"""Timings between the look and the taking: counts in memory, never a row, never on the disk.

A look is named by a random word of the address, because it stands under no digest: files are added to it
and answers given.
"""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from typing import TYPE_CHECKING, Final

from pollstead.election.timings import TimingsRead
from pollstead.election.values import Value
from pollstead.work.timings import Looked, Said, look

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.work.timings_names import PlaceNames

MOST_HELD: Final = 4
MOST_FILES: Final = 12


class Held(Value, frozen=True):
    """The files of one look, already reduced, and what was said of their names and faults."""

    reads: tuple[TimingsRead, ...]
    said: Said


class HeldTimings:
    """The last few looks by their names; the oldest gives way, and all are gone when the app ends."""

    def __init__(self) -> None:
        self._held: OrderedDict[str, Held] = OrderedDict()
        self._lock = threading.Lock()

    def keep(self, held: Held, name: str = "") -> str:
        """Hold a look, anew or in the place of `name`; gives its name."""
        name = name or secrets.token_urlsafe(9)
        with self._lock:
            self._held[name] = held
            self._held.move_to_end(name)
            while len(self._held) > MOST_HELD:
                self._held.popitem(last=False)
        return name

    def get(self, name: str) -> Held | None:
        """The look of this name, or None where it is not held any more."""
        with self._lock:
            return self._held.get(name)

    def drop(self, name: str) -> None:
        """Hold a look no longer."""
        with self._lock:
            self._held.pop(name, None)


def looked_at(election: Election, names: PlaceNames, held: Held) -> Looked:
    """What the files of a look say of the county as it is now."""
    return look(election, names, held.reads, held.said)
