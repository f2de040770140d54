"""The rows of a site as whole numbers, with what was not read eliminated, and what they leave.

A number without a reading is unknown: rows that share it are combined so that it falls out, and a row that
has it alone says nothing. Two people's different readings of one number are two columns and one more row.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from pollstead.reconcile.counts.equations import Equation
from pollstead.reconcile.explain.terms import RowDifference, SiteNight
from pollstead.reconcile.observed import STYLE_MARK

Vector = tuple[tuple[int, int], ...]
"""What a thing does to the rows: pairs (row, amount), amounts other than 0, rows ascending."""

GONE = "ballot gone from the count"
ISSUED_ALONE = "ballot more than was issued"
STOCK_ALONE = "blank ballot gone"
VIRTUAL: Mapping[str, tuple[tuple[str, str, int], ...]] = {
    GONE: (("I1", "ballots_unused", -1), ("I3", "ballots_issued", 1)),
    ISSUED_ALONE: (("I3", "ballots_issued", -1),),
    STOCK_ALONE: (("I1", "ballots_unused", -1),),
}
"""Places that no line of the sheet has: in an equation, as the term named there, with that sign."""


class System(NamedTuple):
    """Columns of every reading (and of the virtual places), the residual of every row, the raw differences.

    `values` holds each reading by its column: the key, or ``key#2`` for a second value of the same key;
    `second` the columns of such further values by key.
    """

    columns: Mapping[str, Vector]
    values: Mapping[str, int]
    residual: Vector
    differences: tuple[RowDifference, ...]
    n_rows: int
    second: Mapping[str, tuple[str, ...]]


def is_virtual(column: str) -> bool:
    """Whether a column is a place that no line has."""
    return column.partition(STYLE_MARK)[0] in VIRTUAL


def column_key(column: str) -> str:
    """The key of a column: ``ballots_unused#2`` is a reading of ``ballots_unused``."""
    return column.partition("#")[0]


def system_of(night: SiteNight) -> System:
    """The rows of a night on what was read; the order of readings is no matter."""
    equations = (*night.balance.equations, *night.more)
    values = _values(night)
    styles = tuple(style for style, _ in night.balance.styles.sheets)
    rows = [dict(_row(equation, styles)) for equation in equations]
    differences = tuple(
        RowDifference(equation=e.id, subject=e.subject, difference=found)
        for e, row in zip(equations, rows, strict=True)
        if (found := _sum(row, values)) is not None and found
    )
    rows += [
        {column_key(column): 1, column: -1}
        for column in sorted(values)
        if "#" in column and column_key(column) in values
    ]
    kept = _without_unknown(rows, set(values))
    columns: dict[str, list[tuple[int, int]]] = {}
    for place, row in enumerate(kept):
        for column, amount in row.items():
            columns.setdefault(column, []).append((place, amount))
    residual = tuple((i, found) for i, row in enumerate(kept) if (found := _sum(row, values) or 0))
    return System(
        columns={column: tuple(entries) for column, entries in columns.items()},
        values=values,
        residual=residual,
        differences=differences,
        n_rows=len(kept),
        second=_second(values),
    )


def _second(values: Mapping[str, int]) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for column in values:
        if "#" in column:
            key = column_key(column)
            found[key] = (*found.get(key, ()), column)
    return found


def _values(night: SiteNight) -> dict[str, int]:
    by_key: dict[str, set[int]] = {}
    read = [(one.key, one.value) for one in night.readings]
    read += [(one.key, one.value) for one in night.known]
    for key, value in read:
        by_key.setdefault(key, set()).add(value)
    return {
        key if place == 0 else f"{key}#{place + 1}": value
        for key, found in sorted(by_key.items())
        for place, value in enumerate(sorted(found))
    }


def virtual(place: str, style: str) -> str:
    """A place that no line has, of one ballot style where the site counts by style."""
    return f"{place}{STYLE_MARK}{style}" if style else place


def _row(equation: Equation, styles: tuple[str, ...]) -> Iterable[tuple[str, int]]:
    amounts = {key: coefficient for coefficient, key in equation.terms}
    yield from amounts.items()
    for name, places in VIRTUAL.items():
        for wanted, term, sign in places:
            if equation.id != wanted:
                continue
            for style in styles or ("",):
                # A ballot of a style is in the row of its style and in that of all styles.
                held = amounts.get(term, amounts.get(virtual(term, style), 0))
                if held:
                    yield virtual(name, style), sign * held


def _sum(row: Mapping[str, int], values: Mapping[str, int]) -> int | None:
    """What a row leaves; None where a number of it was not read. Virtual places hold nothing."""
    total = 0
    for column, amount in row.items():
        if is_virtual(column):
            continue
        if column not in values:
            return None
        total += amount * values[column]
    return total


def _without_unknown(rows: list[dict[str, int]], known: set[str]) -> list[dict[str, int]]:
    """Rows over known columns alone that say all that the given rows say about them."""
    left = [dict(row) for row in rows]
    while unknown := sorted({column for row in left for column in row if not is_virtual(column)} - known):
        column = unknown[0]
        having = [row for row in left if column in row]
        left = [row for row in left if column not in row]
        # The shortest row takes the unknown number out of the others, so that they stay short.
        pivot = min(having, key=len)
        for row in having:
            if row is not pivot:
                combined = _combine(row, pivot, column)
                if combined:
                    left.append(combined)
    return left


def _combine(row: dict[str, int], pivot: dict[str, int], column: str) -> dict[str, int]:
    up, down = pivot[column], row[column]
    mixed = {
        one: amount
        for one in dict.fromkeys((*row, *pivot))
        if (amount := up * row.get(one, 0) - down * pivot.get(one, 0))
    }
    shared = math.gcd(*mixed.values()) if mixed else 1
    return {one: amount // shared for one, amount in mixed.items()}


def stands_alone(values: Mapping[str, int], moves: Iterable[tuple[str, int]]) -> bool:
    """Whether spoiled ballots and reissues differ once `moves` are taken back; False where one lacks.

    Nearly every spoiled ballot is followed by another one for the same voter, so that the two numbers are
    readings of one another; a voter who leaves instead makes them differ, and no row forbids that.
    """
    spoiled, again = values.get("ballots_spoiled"), values.get("ballots_reissued")
    if spoiled is None or again is None:
        return False
    for column, amount in moves:
        spoiled -= amount if column == "ballots_spoiled" else 0
        again -= amount if column == "ballots_reissued" else 0
    return spoiled != again


def plus(one: Vector, other: Vector, times: int = 1) -> Vector:
    """``one + times * other``."""
    amounts = dict(one)
    for row, amount in other:
        amounts[row] = amounts.get(row, 0) + times * amount
    return tuple(sorted((row, amount) for row, amount in amounts.items() if amount))


def scaled(vector: Vector, times: int) -> Vector:
    """``times * vector``."""
    return tuple((row, amount * times) for row, amount in vector) if times else ()


def primitive(vector: Vector) -> tuple[Vector, int]:
    """The shortest whole-number vector along `vector`, its first amount above 0, and how often it goes in."""
    shared = math.gcd(*(amount for _, amount in vector))
    times = shared if vector[0][1] > 0 else -shared
    return tuple((row, amount // times) for row, amount in vector), times
