"""Compare a device's report over test decks with what the decks must give, total by total.

Nothing is rounded and nothing is close enough. Where totals differ, each single mistake that would give
exactly this report is named as a possible explanation; people who know the device decide what it was.
"""

from __future__ import annotations

from collections.abc import Iterable

from pollstead.election.values import Value
from pollstead.plan.terms.decks import Cell, Line, Misread, Mistake, Results, Total

ALWAYS = (Line.CHOICE, Line.WRITE_INS, Line.BALLOTS)
"""Lines that every comparison needs; the others are compared where the report prints them."""


class DeckDifference(Value, frozen=True, kw_only=True):
    """One total that differs."""

    cell: Cell
    expected: int
    observed: int


class Comparison(Value, frozen=True, kw_only=True):
    """A comparison: how many totals were typed, those that differ, those still to be typed, explanations."""

    compared: int
    differences: tuple[DeckDifference, ...]
    missing: tuple[Cell, ...]
    explanations: tuple[Mistake, ...] = ()

    @property
    def matched(self) -> bool:
        """Whether every total is there and none differs."""
        return not self.differences and not self.missing


def compare(
    expected: Results,
    observed: tuple[Total, ...],
    mistakes: Iterable[Misread] = (),
    *,
    counter: tuple[int, int] | None = None,
) -> Comparison:
    """Compare what was typed with what must be there.

    `mistakes` are tried only where a total differs: give a generator. `counter` says by how much the lifetime
    counter must have moved and by how much it did; no mistake of a definition explains that.

    Raises ValueError where a cell is typed twice or stands on no report over these decks.
    """
    typed: dict[Cell, int] = {}
    wanted = {total.cell: total.count for total in expected.totals}
    for total in observed:
        if total.cell in typed:
            raise ValueError(f"{total.cell.id} is typed twice")
        if total.cell not in wanted:
            raise ValueError(f"{total.cell.id} is on no report over these decks")
        typed[total.cell] = total.count
    differences = tuple(
        DeckDifference(cell=cell, expected=count, observed=typed[cell])
        for cell, count in wanted.items()
        if cell in typed and typed[cell] != count
    )
    missing = tuple(cell for cell in wanted if cell not in typed and cell.line in ALWAYS)
    explained: tuple[Mistake, ...] = ()
    if differences:
        off = {one.cell: one.observed - one.expected for one in differences}
        explained = tuple(one.mistake for one in mistakes if _gives(one.changes, typed, off))
    if counter is not None and counter[0] != counter[1]:
        moved = DeckDifference(cell=Cell(line=Line.LIFETIME), expected=counter[0], observed=counter[1])
        differences = (*differences, moved)
    return Comparison(
        compared=len(typed) + int(counter is not None),
        differences=differences,
        missing=missing,
        explanations=explained,
    )


def _gives(changes: tuple[Total, ...], typed: dict[Cell, int], off: dict[Cell, int]) -> bool:
    """Whether a report with a mistake would show exactly what was typed: just these numbers, off by this."""
    return {change.cell: change.count for change in changes if change.cell in typed} == off
