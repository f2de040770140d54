"""Put the votes of one contest on ballots: so many for each position, so many marks on each ballot.

A position takes the ballots that still lack most marks. That never fails where the numbers can be met at all
(D. Gale, A theorem on flows in networks, and H. J. Ryser, Combinatorial properties of matrices of zeros and
ones, both 1957; cited from memory).
"""

from __future__ import annotations

from pollstead.plan.decks.totals import Need


def loads_of(need: Need, rows: tuple[int, ...], ballots: int) -> tuple[int, ...]:
    """Marks on each ballot, most first: one full, one marked but not full where the contest allows it.

    `rows` are votes by position, not rotated: choices, then write-in lines.
    """
    total = sum(rows)
    if need.vote_for == 1:
        return (1,) * total
    if need.positions < need.vote_for:
        return tuple(sum(row > ballot for row in rows) for ballot in range(max(rows)))
    rest, others = total - need.full, ballots - 1
    low, more = divmod(rest, others)
    return tuple(n for n in (need.full, *(low + 1,) * more, *(low,) * (others - more)) if n)


def pack(rows: tuple[int, ...], loads: tuple[int, ...]) -> tuple[tuple[int, ...], ...] | None:
    """The positions (from 0) marked on each ballot; None where the numbers cannot be met."""
    left = list(loads)
    marked: list[list[int]] = [[] for _ in loads]
    for position in sorted(range(len(rows)), key=lambda p: (-rows[p], p)):
        lacking = sorted((b for b in range(len(left)) if left[b]), key=lambda b: (-left[b], b))
        if len(lacking) < rows[position]:
            return None
        for ballot in lacking[: rows[position]]:
            left[ballot] -= 1
            marked[ballot].append(position)
    return None if any(left) else tuple(tuple(sorted(one)) for one in marked)
