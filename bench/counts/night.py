"""What a generator hands over: a night's numbers as read, the numbers as they were, and what was seeded."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple, Protocol

from bench.counts.site_days import SiteDay


class Fault(NamedTuple):
    """One seeded fault: the generator's own word for it and each number that it makes differ.

    `changes` are triples (key, the number without the fault, the number as read), in order of keys.
    `meant` says what ought to be written, where that is not what stood there without the fault.
    """

    label: str
    changes: tuple[tuple[str, int, int], ...]
    meant: tuple[tuple[str, int], ...] = ()

    @property
    def correction(self) -> frozenset[tuple[str, int]]:
        """The numbers that ought to be written, with their keys: what an explanation has to name."""
        return frozenset(self.meant or ((key, was) for key, was, _ in self.changes))


class JamNote(NamedTuple):
    """How many jams of a device were written down; nobody noted whether the counter moved."""

    device: str
    times: int


class Seeded(NamedTuple):
    """One night: numbers as they were, as read, the faults between them (none if clean), jam notes.

    `elsewhere` are the numbers that other sites read that night, by site and key.
    """

    day: SiteDay
    truth: Mapping[str, int]
    read: Mapping[str, int]
    faults: tuple[Fault, ...]
    jams: tuple[JamNote, ...] = ()
    elsewhere: Mapping[str, Mapping[str, int]] = MappingProxyType({})

    @property
    def differs(self) -> bool:
        """Whether any row of the balance is not zero."""
        return any(residuals(self.day, self.read))


class Generator(Protocol):
    """Draws nights from a seed and knows its own odds."""

    name: str

    def draw(self, seed: int, index: int, faults: int) -> Seeded:
        """Night `index` of a seed with so many faults (0, 1 or 2)."""

    def explanations(self, night: Seeded) -> tuple[tuple[Fault, float], ...]:
        """Every single fault that could have made this night, each with its odds (not normalized)."""


def residuals(day: SiteDay, numbers: Mapping[str, int]) -> tuple[int, ...]:
    """The difference of each row on these numbers."""
    return tuple(sum(coefficient * numbers[key] for coefficient, key in row) for row in day.rows)


def change_of(numbers: Mapping[str, int], read: Mapping[str, int]) -> tuple[tuple[str, int, int], ...]:
    """The changes between two sets of numbers over the same keys."""
    return tuple((key, was, read[key]) for key, was in sorted(numbers.items()) if read[key] != was)
