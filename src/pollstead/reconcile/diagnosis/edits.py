"""The steps from an expected number to what was read, and the cheapest way to go.

Optimal string alignment with costs: no character is changed twice. Besides the usual steps a character may
be read twice, a pair of equal characters as another pair, and the zeros in front of a number left out.
"""

from __future__ import annotations

import enum

from pollstead.election.values import Value
from pollstead.reconcile.diagnosis.costs import Costs, Prices, prices_of


class EditKind(enum.StrEnum):
    """What happened to some characters, in the order in which equal costs are told."""

    SUBSTITUTED = "substituted"
    TRANSPOSED = "transposed"
    DROPPED = "dropped"
    DOUBLED = "doubled"
    INSERTED = "inserted"
    TWIN = "twin"
    ZEROS = "leading zeros left out"


class Edit(Value, frozen=True, kw_only=True):
    """One step: `was` stands in the expected number from `position` (1 is the first), `found` was read.

    What was doubled or inserted stands after `position`; `was` is empty where something was inserted.
    """

    kind: EditKind
    position: int
    was: str
    found: str
    cost: int


class Alignment(Value, frozen=True, kw_only=True):
    """The cheapest way from one text to another: total in millinats, and the steps from left to right."""

    cost: int
    edits: tuple[Edit, ...]


def zeros_from(text: str, start: int) -> int:
    """How many zeros stand in front of the number that begins at `start`; 0 where none begins there."""
    if start and text[start - 1].isdigit():
        return 0
    end = start
    while end < len(text) and text[end] == "0":
        end += 1
    more = end < len(text) and text[end].isdigit()
    return end - start if more else max(0, end - start - 1)


Step = tuple[int, int, int, EditKind | None]
"""Characters of both numbers behind the step, its cost, what it is (None: read as it stands)."""


def _steps(wanted: str, found: str, i: int, j: int, price: Prices) -> list[Step]:
    """The steps that may be taken with `i` characters of `wanted` and `j` of `found` behind."""
    steps: list[Step] = []
    more, rest = len(wanted) - i, len(found) - j
    if more and rest:
        a, b = wanted[i], found[j]
        if a == b:
            steps.append((i + 1, j + 1, 0, None))
        else:
            steps.append((i + 1, j + 1, price.substitution(a, b), EditKind.SUBSTITUTED))
            if more > 1 and rest > 1:
                if a == found[j + 1] and b == wanted[i + 1]:
                    steps.append((i + 2, j + 2, price.transposition, EditKind.TRANSPOSED))
                elif a == wanted[i + 1] and b == found[j + 1]:
                    steps.append((i + 2, j + 2, price.twin, EditKind.TWIN))
    if more:
        steps.append((i + 1, j, price.dropped, EditKind.DROPPED))
        zeros = zeros_from(wanted, i) if wanted[i] == "0" else 0
        if zeros:
            steps.append((i + zeros, j, price.zeros, EditKind.ZEROS))
    if rest:
        if i and wanted[i - 1] == found[j]:
            steps.append((i, j + 1, price.doubled, EditKind.DOUBLED))
        steps.append((i, j + 1, price.inserted, EditKind.INSERTED))
    return steps


def align(wanted: str, found: str, costs: Costs) -> Alignment:
    """The cheapest way from `wanted` to `found`; of equally cheap ones always the same.

    Time and space grow with the product of both lengths.
    """
    if wanted == found:
        return Alignment(cost=0, edits=())
    price = prices_of(costs)
    rows, columns = len(wanted), len(found)
    best: dict[tuple[int, int], tuple[int, int, int, EditKind | None]] = {(0, 0): (0, 0, 0, None)}
    for i in range(rows + 1):
        for j in range(columns + 1):
            here = best[i, j][0]
            for new_i, new_j, cost, kind in _steps(wanted, found, i, j, price):
                known = best.get((new_i, new_j))
                if known is None or here + cost < known[0]:
                    best[new_i, new_j] = (here + cost, i, j, kind)
    edits: list[Edit] = []
    at = (rows, columns)
    while at != (0, 0):
        total, i, j, kind = best[at]
        if kind is not None:
            cost = total - best[i, j][0]
            edits.append(_edit(kind, wanted[i : at[0]], found[j : at[1]], i, cost))
        at = (i, j)
    return Alignment(cost=best[rows, columns][0], edits=tuple(reversed(edits)))


def _edit(kind: EditKind, was: str, found: str, behind: int, cost: int) -> Edit:
    """The step with `behind` characters of the expected number before it."""
    if kind is EditKind.INSERTED:
        return Edit(kind=kind, position=behind, was="", found=found, cost=cost)
    if kind is EditKind.DOUBLED:
        return Edit(kind=kind, position=behind, was=found, found=found * 2, cost=cost)
    return Edit(kind=kind, position=behind + 1, was=was, found=found, cost=cost)


def replay(wanted: str, edits: tuple[Edit, ...]) -> str:
    """What is read when these steps happen to `wanted`; raises ValueError where a step does not fit."""
    read, at = [], 0
    for edit in edits:
        after = edit.kind in (EditKind.DOUBLED, EditKind.INSERTED)
        start = edit.position if after else edit.position - 1
        if start < at:
            raise ValueError(f"the step at {edit.position} comes after one at {at}")
        read.append(wanted[at:start])
        if edit.kind is EditKind.DOUBLED:
            read.append(edit.was)
            at = start
        elif edit.kind is EditKind.INSERTED:
            read.append(edit.found)
            at = start
        else:
            if wanted[start : start + len(edit.was)] != edit.was:
                raise ValueError(f"expected {edit.was!r} at position {edit.position} of {wanted!r}")
            read.append(edit.found)
            at = start + len(edit.was)
    read.append(wanted[at:])
    return "".join(read)
