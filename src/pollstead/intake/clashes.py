"""What every check for contradictions shares: grouping rows, naming rows, leaving rows out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable
from typing import TypeVar

from pollstead.intake.taken import Drop

V = TypeVar("V")
Numbered = list[tuple[int, V]]


def grouped(rows: Iterable[tuple[int, V]], key: Callable[[V], Hashable]) -> list[Numbered[V]]:
    """Rows that share a key, in groups of two or more."""
    groups: dict[Hashable, Numbered[V]] = defaultdict(list)
    for number, value in rows:
        groups[key(value)].append((number, value))
    return [group for group in groups.values() if len(group) > 1]


def row_list(group: Iterable[tuple[int, object]]) -> str:
    """Row numbers for reading: ``3 and 7`` or ``3, 7 and 9``."""
    numbers = [str(number) for number, _ in group]
    return " and ".join(filter(None, (", ".join(numbers[:-1]), numbers[-1])))


def drops(table: str, group: Iterable[tuple[int, object]]) -> tuple[Drop, ...]:
    """The rows of `group` as rows that are not taken in."""
    return tuple(Drop(table=table, row=number) for number, _ in group)
