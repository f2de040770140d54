"""One slip between the number that stands there and the number that was written, at the county's costs.

Numerals have no zeros in front, before and after the slip. The costs are those of the diagnosis of a single
number (`reading_errors`); a slip that would need two of its steps is none.
"""

from __future__ import annotations

from collections.abc import Iterator

from pollstead.election.fault_odds import FaultKind
from pollstead.reconcile.diagnosis.costs import Prices

DIGITS = "0123456789"
Slip = tuple[FaultKind, int]
"""What happened and its cost in millinats."""


def slip_of(meant: int, written: int, prices: Prices) -> Slip | None:
    """The slip by which `meant` was written as `written`; None where one slip does not do it."""
    a, b = str(meant), str(written)
    if meant < 0 or written < 0 or a == b:
        return None
    if len(a) == len(b):
        return _same_length(a, b, prices)
    if len(b) == len(a) - 1:
        dropped = any(a[:i] + a[i + 1 :] == b for i in range(len(a)))
        return (FaultKind.DIGIT_DROPPED, prices.dropped) if dropped else None
    if len(b) == len(a) + 1:
        places = [i for i in range(len(b)) if b[:i] + b[i + 1 :] == a]
        if not places:
            return None
        doubled = any(i and b[i - 1] == b[i] for i in places)
        return (FaultKind.DIGIT_ADDED, min(prices.doubled, prices.inserted) if doubled else prices.inserted)
    return None


def _same_length(a: str, b: str, prices: Prices) -> Slip | None:
    apart = [i for i in range(len(a)) if a[i] != b[i]]
    if len(apart) == 1:
        return (FaultKind.DIGIT_MISREAD, prices.substitution(a[apart[0]], b[apart[0]]))
    if len(apart) != 2 or apart[1] != apart[0] + 1:
        return None
    i, j = apart
    if a[i] == b[j] and a[j] == b[i]:
        return (FaultKind.DIGITS_SWAPPED, prices.transposition)
    if a[i] == a[j] and b[i] == b[j]:
        return (FaultKind.PAIR_MISREAD, prices.twin)
    return None


def meant_by(written: int) -> frozenset[int]:
    """Every number that one slip turns into `written`; some 100 for a number of four digits, none below 0."""
    if written < 0:
        return frozenset()
    b = str(written)
    return frozenset(int(a) for a in _before(b) if a != b and (a[0] != "0" or a == "0"))


def _before(b: str) -> Iterator[str]:
    for i, digit in enumerate(b):
        for other in DIGITS:
            if other != digit:
                yield b[:i] + other + b[i + 1 :]
        if i + 1 < len(b):
            if digit != b[i + 1]:
                yield b[:i] + b[i + 1] + digit + b[i + 2 :]
            else:
                yield from (b[:i] + other * 2 + b[i + 2 :] for other in DIGITS)
        if len(b) > 1:
            yield b[:i] + b[i + 1 :]
    for i in range(len(b) + 1):
        yield from (b[:i] + other + b[i:] for other in DIGITS)
