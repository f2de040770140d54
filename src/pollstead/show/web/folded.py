"""Long lists on pages: of many things of one sort the first few stand open, the others are folded. Pure.

Nothing is left out: what is folded is on the page, for the browser's search and for print.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final, Generic, TypeVar

from pollstead.election.values import Value

AT_MOST_OPEN: Final = 5
"""So many of one sort stand open; of more, the first three do."""
FIRST_OPEN: Final = 3

R = TypeVar("R")


class Alike(Value, Generic[R], frozen=True, kw_only=True):
    """Rows of one sort: those that stand open and those that are folded."""

    shown: tuple[R, ...]
    more: tuple[R, ...]


def alike(rows: Iterable[R], sort_of: Callable[[R], str]) -> tuple[Alike[R], ...]:
    """The rows by sort, in the order in which each sort comes first; within a sort as given."""
    sorts: dict[str, list[R]] = {}
    for row in rows:
        sorts.setdefault(sort_of(row), []).append(row)
    found = []
    for group in sorts.values():
        shown = len(group) if len(group) <= AT_MOST_OPEN else FIRST_OPEN
        found.append(Alike(shown=tuple(group[:shown]), more=tuple(group[shown:])))
    return tuple(found)
