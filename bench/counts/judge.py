"""What an explanation has to say to be right, and how each night is judged.

An explainer is any function from a night to `Told`; the judge knows nothing of how it came to its answer.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import NamedTuple

from bench.counts.labels import KINDS_OF
from bench.counts.night import Fault, Generator, Seeded


class ToldFault(NamedTuple):
    """One fault of an explanation: its kind and the numbers that it says ought to be written."""

    kind: str
    correction: frozenset[tuple[str, int]]


class ToldGroup(NamedTuple):
    """Explanations that are told as one, each of one or two faults, and the share of all of them."""

    explanations: tuple[tuple[ToldFault, ...], ...]
    share: float


class Told(NamedTuple):
    """The answer about one night: groups in order, and whether a difference was told at all."""

    groups: tuple[ToldGroup, ...]
    differs: bool


Explainer = Callable[[Seeded], Told]


class Verdict(NamedTuple):
    """One night judged.

    `rank` is the place of the first group that holds what was seeded, 0 for none; `first_right` whether
    already the first explanation of all does; `named` how many different corrections the first group holds;
    `shares` each group's share and whether it is right. `bound` is the best chance of a single answer by
    the generator's own odds, `bound_named` that of as many answers as the first group names.
    """

    site: str
    labels: tuple[str, ...]
    differs: bool
    told: bool
    offered: bool
    rank: int
    first_right: bool
    named: int
    shares: tuple[tuple[float, bool], ...]
    bound: float
    bound_named: float
    milliseconds: float


def says(told: ToldFault, seeded: Fault) -> bool:
    """Whether a told fault is the seeded one: the same numbers, or the same act at the same device."""
    if told.correction == seeded.correction:
        return True
    return told.kind in KINDS_OF.get(seeded.label, ()) and (
        not (devices := _devices(told.correction)) or devices == _devices(seeded.correction)
    )


def says_all(explanation: Sequence[ToldFault], seeded: Sequence[Fault]) -> bool:
    """Whether an explanation of one or two faults is what was seeded, in either order."""
    if len(explanation) != len(seeded):
        return False
    forth = all(says(one, other) for one, other in zip(explanation, seeded, strict=True))
    back = all(says(one, other) for one, other in zip(explanation, reversed(seeded), strict=True))
    return forth or back


def best_chance(night: Seeded, generator: Generator, named: int) -> tuple[float, float]:
    """The best chance of one answer, and of `named` answers, by the generator's exact odds; singles only."""
    by_correction: dict[frozenset[tuple[str, int]], float] = {}
    for fault, odds in generator.explanations(night):
        by_correction[fault.correction] = by_correction.get(fault.correction, 0.0) + odds
    if night.faults[0].correction not in by_correction:
        raise ValueError(f"{generator.name}: {night.faults[0]} is not among its own explanations")
    likeliest = sorted(by_correction.values(), reverse=True)
    whole = sum(likeliest)
    return likeliest[0] / whole, sum(likeliest[: max(named, 1)]) / whole


def judge(night: Seeded, generator: Generator, explainer: Explainer) -> Verdict:
    """Ask the explainer about one night and compare its answer with what was seeded."""
    # Time of the processor, so that other work on the machine does not count.
    begun = time.process_time()
    told = explainer(night)
    took = (time.process_time() - begun) * 1_000
    right = tuple(any(says_all(one, night.faults) for one in group.explanations) for group in told.groups)
    first = told.groups[0].explanations if told.groups else ()
    named = len({frozenset(part.correction for part in one) for one in first})
    bound, bound_named = 0.0, 0.0
    if len(night.faults) == 1 and night.differs:
        bound, bound_named = best_chance(night, generator, named)
    return Verdict(
        site=night.day.site,
        labels=tuple(fault.label for fault in night.faults),
        differs=night.differs,
        told=told.differs,
        offered=bool(told.groups),
        rank=right.index(True) + 1 if night.faults and any(right) else 0,
        first_right=bool(first) and bool(night.faults) and says_all(first[0], night.faults),
        named=named,
        shares=tuple((group.share, hit) for group, hit in zip(told.groups, right, strict=True)),
        bound=bound,
        bound_named=bound_named,
        milliseconds=took,
    )


def _devices(correction: frozenset[tuple[str, int]]) -> frozenset[str]:
    return frozenset(device for key, _ in correction if (device := key.partition("@")[2]))
