"""Which numbers of a closing sheet are easily taken for one another: rows, columns, counters, devices."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise

from pollstead.election.fault_odds import FaultKind
from pollstead.reconcile.counts.terms import split_key
from pollstead.reconcile.explain.terms import SiteNight


def pairs_of(night: SiteNight) -> Iterator[tuple[FaultKind, FaultKind, str, str]]:
    """Pairs of keys that are easily taken for one another: as copied, as exchanged, the two keys."""
    site = [line.key for line in night.balance.lines if not line.device]
    by_device: dict[str, list[str]] = {}
    by_term: dict[str, list[str]] = {}
    for line in night.balance.lines:
        if line.device:
            by_device.setdefault(line.device, []).append(line.key)
            by_term.setdefault(line.term.id, []).append(line.key)
    for one, other in pairwise(site):
        yield FaultKind.NEIGHBOR_ROW, FaultKind.ROWS_EXCHANGED, one, other
    for keys in by_device.values():
        for one, other in combinations(keys, 2):
            a, b = split_key(one)[0], split_key(other)[0]
            if a.endswith("_open") and b == a.removesuffix("_open") + "_close":
                yield FaultKind.NEIGHBOR_COLUMN, FaultKind.COLUMNS_EXCHANGED, one, other
            elif _is_pair_of_counters(a, b):
                yield FaultKind.OTHER_COUNTER, FaultKind.ROWS_EXCHANGED, one, other
            elif keys.index(other) - keys.index(one) == 1:
                yield FaultKind.NEIGHBOR_ROW, FaultKind.ROWS_EXCHANGED, one, other
    for keys in by_term.values():
        for one, other in combinations(keys, 2):
            yield FaultKind.OTHER_DEVICE, FaultKind.DEVICES_EXCHANGED, one, other


def _is_pair_of_counters(a: str, b: str) -> bool:
    return any({a, b} == {f"public_counter_{m}", f"lifetime_counter_{m}"} for m in ("open", "close"))
