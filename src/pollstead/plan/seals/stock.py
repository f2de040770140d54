"""How many seals the county's ranges hold; a number that two ranges share counts once."""

from __future__ import annotations

import msgspec

from pollstead.election.county import SealRange
from pollstead.plan.seals.spans import Shape, span_of


def seals_in_stock(ranges: tuple[SealRange, ...]) -> dict[str, int]:
    """Seals of each kind in the ranges, from and to inclusive; uniqueness is by series.

    A range whose ends do not belong together counts as nothing: reading the table has said so already.
    """
    spans: dict[tuple[Shape, str], list[tuple[int, int]]] = {}
    stock: dict[str, int] = {}
    for block in ranges:
        stock.setdefault(block.seal_kind, 0)
        span = span_of(block.seal_kind, block.series, block.first, block.last, "", block.scheme)
        if span is not None:
            # As many digits or not, a value is one seal.
            shape = msgspec.structs.replace(span.shape, digits=0)
            spans.setdefault((shape, block.series), []).append((span.low, span.high))
    for (shape, _), pairs in spans.items():
        end = -1
        for first, last in sorted(pairs):
            stock[shape.seal_kind] += max(0, last - max(first, end + 1) + 1)
            end = max(end, last)
    return stock
