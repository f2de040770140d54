"""Which numbers of a closing sheet are easily taken for one another: rows, columns, counters, devices."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise

from pollstead.election.fault_odds import FaultKind
from pollstead.reconcile.counts.equations import TermLine
from pollstead.reconcile.explain.terms import SiteNight

Pair = tuple[FaultKind, FaultKind, str, str]
"""Two numbers: what it is when one is copied, what when both are exchanged, the two keys."""


def pairs_of(night: SiteNight) -> Iterator[Pair]:
    """Pairs of numbers that are easily taken for one another, each once, in the order of the sheet."""
    site: list[TermLine] = []
    by_device: dict[str, list[TermLine]] = {}
    by_number: dict[tuple[str, str], list[TermLine]] = {}
    for line in night.balance.lines:
        if line.device:
            by_device.setdefault(line.device, []).append(line)
            by_number.setdefault((line.term.id, line.style), []).append(line)
        else:
            site.append(line)
    for one, other in pairwise(site):
        yield FaultKind.NEIGHBOR_ROW, FaultKind.ROWS_EXCHANGED, one.key, other.key
    for lines in by_device.values():
        yield from _on_one_device(lines)
    for lines in by_number.values():
        for one, other in combinations(lines, 2):
            yield FaultKind.OTHER_DEVICE, FaultKind.DEVICES_EXCHANGED, one.key, other.key


def _on_one_device(lines: list[TermLine]) -> Iterator[Pair]:
    """Opening and closing of one counter, both counters at one moment, lines beside one another."""
    by_number = {(line.term.id, line.style): line for line in lines}
    near: set[tuple[str, str]] = set()
    for line in lines:
        if line.term.id.endswith("_open"):
            closing = by_number.get((line.term.id.removesuffix("_open") + "_close", line.style))
            if closing is not None:
                near.add((line.key, closing.key))
                yield FaultKind.NEIGHBOR_COLUMN, FaultKind.COLUMNS_EXCHANGED, line.key, closing.key
        if line.term.id.startswith("public_counter_"):
            lifetime = by_number.get((line.term.id.replace("public", "lifetime", 1), line.style))
            if lifetime is not None:
                near.add((line.key, lifetime.key))
                yield FaultKind.OTHER_COUNTER, FaultKind.ROWS_EXCHANGED, line.key, lifetime.key
    for one, other in pairwise(lines):
        if (one.key, other.key) not in near:
            yield FaultKind.NEIGHBOR_ROW, FaultKind.ROWS_EXCHANGED, one.key, other.key
