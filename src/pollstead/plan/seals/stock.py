"""How many seals the county's ranges hold; a number that two ranges share counts once."""

from __future__ import annotations

from pollstead.election.county import SealRange
from pollstead.election.seal_stock import split_number


def seals_in_stock(ranges: tuple[SealRange, ...]) -> dict[str, int]:
    """Seals of each kind in the ranges, from and to inclusive; uniqueness is by series.

    A range whose ends do not belong together counts as nothing: reading the table has said so already.
    """
    spans: dict[tuple[str, str, str, str], list[tuple[int, int]]] = {}
    stock: dict[str, int] = {}
    for block in ranges:
        stock.setdefault(block.seal_kind, 0)
        try:
            before, first, after = split_number(block.first)
            other_before, last, other_after = split_number(block.last)
        except ValueError:
            continue
        if (before, after) == (other_before, other_after) and first <= last:
            spans.setdefault((block.seal_kind, block.series, before, after), []).append((first, last))
    for (kind, *_), pairs in spans.items():
        end = -1
        for first, last in sorted(pairs):
            stock[kind] += max(0, last - max(first, end + 1) + 1)
            end = max(end, last)
    return stock
