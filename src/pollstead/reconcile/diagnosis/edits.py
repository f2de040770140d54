"""The steps from an expected number to what was read, and the cheapest way to go.

Optimal string alignment with costs: no character is changed twice. Besides the usual steps a character may
be read twice, a pair of equal characters as another pair, and the zeros in front of a number left out.
"""

from __future__ import annotations

import enum

from pollstead.election.reading_errors import ErrorKind
from pollstead.election.values import Value
from pollstead.reconcile.diagnosis.costs import Costs


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


def steps_at(
    wanted: str, found: str, i: int, j: int, costs: Costs
) -> tuple[tuple[int, int, Edit | None], ...]:
    """The steps that may be taken with `i` characters of `wanted` and `j` of `found` behind.

    Each is the new `i`, the new `j` and the edit, None where a character is read as it stands.
    """
    steps: list[tuple[int, int, Edit | None]] = []
    a, b = wanted[i : i + 1], found[j : j + 1]
    a2, b2 = wanted[i : i + 2], found[j : j + 2]

    def edit(kind: EditKind, position: int, was: str, read: str, cost: int) -> Edit:
        return Edit(kind=kind, position=position, was=was, found=read, cost=cost)

    if a and b:
        if a == b:
            steps.append((i + 1, j + 1, None))
        else:
            cost = costs.substitution(a, b)
            steps.append((i + 1, j + 1, edit(EditKind.SUBSTITUTED, i + 1, a, b, cost)))
    if len(a2) == len(b2) == 2 and a2[0] != a2[1] and a2 == b2[::-1]:
        cost = costs.of(ErrorKind.TRANSPOSITION)
        steps.append((i + 2, j + 2, edit(EditKind.TRANSPOSED, i + 1, a2, b2, cost)))
    if a:
        steps.append((i + 1, j, edit(EditKind.DROPPED, i + 1, a, "", costs.of(ErrorKind.DROPPED))))
    if b:
        if i and wanted[i - 1] == b:
            steps.append((i, j + 1, edit(EditKind.DOUBLED, i, b, b + b, costs.of(ErrorKind.DOUBLED))))
        steps.append((i, j + 1, edit(EditKind.INSERTED, i, "", b, costs.of(ErrorKind.INSERTED))))
    if len(a2) == len(b2) == 2 and a2[0] == a2[1] != b2[0] == b2[1]:
        steps.append((i + 2, j + 2, edit(EditKind.TWIN, i + 1, a2, b2, costs.of(ErrorKind.TWIN))))
    zeros = zeros_from(wanted, i)
    if zeros:
        cost = costs.of(ErrorKind.LEADING_ZEROS)
        steps.append((i + zeros, j, edit(EditKind.ZEROS, i + 1, "0" * zeros, "", cost)))
    return tuple(steps)


def align(wanted: str, found: str, costs: Costs) -> Alignment:
    """The cheapest way from `wanted` to `found`; of equally cheap ones always the same.

    Time and space grow with the product of both lengths.
    """
    if wanted == found:
        return Alignment(cost=0, edits=())
    rows, columns = len(wanted), len(found)
    best: dict[tuple[int, int], tuple[int, tuple[int, int], Edit | None]] = {(0, 0): (0, (0, 0), None)}
    for i in range(rows + 1):
        for j in range(columns + 1):
            here = best[i, j][0]
            for new_i, new_j, edit in steps_at(wanted, found, i, j, costs):
                cost = here + (0 if edit is None else edit.cost)
                known = best.get((new_i, new_j))
                if known is None or cost < known[0]:
                    best[new_i, new_j] = (cost, (i, j), edit)
    edits: list[Edit] = []
    at = (rows, columns)
    while at != (0, 0):
        _, before, edit = best[at]
        if edit is not None:
            edits.append(edit)
        at = before
    return Alignment(cost=best[rows, columns][0], edits=tuple(reversed(edits)))


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
