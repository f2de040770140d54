"""How a row of a tab is named: by its id, or by as many of its first cells as tell it apart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pollstead.intake.fact_difference import whole
from pollstead.intake.tabs import Tab


def place_of_row(index: Mapping[str, list[int]], name: str) -> list[int]:
    """The places of the rows that `name` names; of rows that are alike, ``name #2`` is the second."""
    found = index.get(name, [])
    if found:
        return found
    bare, hash_sign, number = name.rstrip("#").rpartition(" #")
    alike = index.get(bare, []) if hash_sign and number.isdecimal() else []
    return alike[int(number) - 1 : int(number)] if alike else []


def row_index(tab: Tab, rows: tuple[tuple[str, ...], ...]) -> dict[str, list[int]]:
    """The places of rows by every name that a row may go by.

    A name may be that of one row by many cells and of several by few: it is the one by most cells.
    """
    widest: dict[str, int] = {}
    index: dict[str, list[int]] = {}
    for number, row in enumerate(rows):
        own: dict[str, int] = {}
        for width, name in _named(tab, row):
            own[name] = max(width, own.get(name, 0))
        for name, width in own.items():
            if width > widest.get(name, 0):
                widest[name], index[name] = width, [number]
            elif width == widest[name]:
                index[name].append(number)
    return index


def has_id(tab: Tab) -> bool:
    return any(cell.name == "id" for cell in tab.cells)


def name_of(tab: Tab, row: tuple[str, ...]) -> str:
    return names_of(tab, row)[0]


def names_of(tab: Tab, row: tuple[str, ...]) -> tuple[str, ...]:
    """Every name of a row, that by most of its cells first."""
    return tuple(dict.fromkeys(name for _, name in _named(tab, row)))


def _named(tab: Tab, row: tuple[str, ...]) -> Iterator[tuple[int, str]]:
    """By how many cells a row is named, and how: by its id alone where it has one, else by more and more."""
    headings = [cell.name for cell in tab.cells]
    if "id" in headings:
        width = headings.index("id") + 1
        yield width, whole(row[:width])
        return
    for width in range(len(row), (2 if tab.parent else 1) - 1, -1):
        yield width, whole(row[:width])
