"""How many votes each position of a contest gets in a deck, and the fewest ballots that can carry them.

What a deck must have in each contest, so that a wrong definition shows in the totals:

1. every choice, and the write-in lines together, a total of its own, at least 1: two that are swapped show;
2. each write-in line marked at least once in a vote that counts, as often as no choice is: a choice that is
   taken for a write-in line shows;
3. a ballot marked as often as the contest allows: a device that allows fewer shows;
4. where the contest allows two or more, a ballot marked less often, but marked: an undervote;
5. a ballot marked once too often, where there are positions enough: a device that allows more shows;
6. a ballot on which nothing is marked.

A contest that allows one vote needs as many ballots as its totals sum to. One that allows n needs that sum
over n, rounded up so that a ballot with fewer marks is left over, and at least as many ballots as its largest
row, since a ballot marks a position once. Overvoted and blank ballots carry no vote of the contest, so they
come on top. The fewest over all totals with the six points is a lower bound for any deck; `packing` meets it.

That all write-in lines have as many votes as one another costs nothing: put the least of them for all, and
neither the sum nor the largest row grows. A contest of write-in lines alone may need one vote more.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count, islice, permutations

from pollstead.election.values import Value
from pollstead.plan.terms.decks import FaceContest

MOST_ORDERS = 200
"""How many orders of one set of totals are tried before larger totals are."""
MOST_EXTRA = 60


class Need(Value, frozen=True, kw_only=True):
    """What a contest needs of a deck, as far as ballots go: choices, write-in lines, most marks."""

    choices: int
    write_ins: int
    vote_for: int

    @property
    def positions(self) -> int:
        """Places to mark."""
        return self.choices + self.write_ins

    @property
    def full(self) -> int:
        """Marks on a ballot that is marked as often as it can be."""
        return min(self.vote_for, self.positions)

    @property
    def can_overvote(self) -> bool:
        """Whether there are positions enough for one mark too many."""
        return self.positions > self.vote_for


class TotalSet(Value, frozen=True, kw_only=True):
    """Votes of the choices, lowest first, those of each write-in line, and the fewest ballots for them."""

    choices: tuple[int, ...]
    lines: tuple[int, ...] = ()
    ballots: int = 0

    @property
    def total(self) -> int:
        """All votes."""
        return sum(self.choices) + sum(self.lines)


def need_of(contest: FaceContest) -> Need:
    """What a contest needs."""
    return Need(choices=len(contest.choices), write_ins=contest.write_in_lines, vote_for=contest.vote_for)


def ballots_for(need: Need, rows: tuple[int, ...]) -> int | None:
    """The fewest ballots that carry these votes by position with points 3 and 4; None where none can."""
    total, largest = sum(rows), max(rows)
    if need.vote_for == 1:
        return total
    if need.positions < need.vote_for:
        # Even all positions together are an undervote; one ballot marks them all.
        return largest
    if total < need.full + 1:
        return None
    # One ballot is full and one is marked but not full, so not all of them can be full.
    return max(largest, -(-(total + 1) // need.full))


def fewest(need: Need) -> TotalSet:
    """Totals that need the fewest ballots, and of those the fewest votes."""
    found = []
    for lines in _lines(need):
        avoid = {*lines, sum(lines)}
        choices = tuple(islice((n for n in count(1) if n not in avoid), need.choices))
        ballots = ballots_for(need, (*choices, *lines))
        if ballots is not None:
            found.append(TotalSet(choices=choices, lines=lines, ballots=ballots))
    return min(found, key=lambda one: (one.ballots, one.total, one.lines))


def _lines(need: Need) -> Iterator[tuple[int, ...]]:
    """Votes of the write-in lines that are worth a try: alike, or where they stand alone one vote more."""
    if not need.write_ins:
        yield ()
    elif not need.choices:
        yield (1,) * need.write_ins
        yield (*(1,) * (need.write_ins - 1), 2)
    else:
        for votes in range(1, need.choices + 2):
            yield (votes,) * need.write_ins


def orders(need: Need, most_ballots: int) -> Iterator[TotalSet]:
    """Totals in all orders of the choices, for at most so many ballots: the fewest ballots first.

    Where the orders of one set of totals are used up, the largest total grows.
    """
    base = fewest(need)
    avoid = {*base.lines, sum(base.lines)}
    for extra in range(MOST_EXTRA + 1):
        values = base.choices
        if extra:
            if not values or values[-1] + extra in avoid:
                continue
            values = (*values[:-1], values[-1] + extra)
        ballots = ballots_for(need, (*values, *base.lines))
        if ballots is None or ballots > most_ballots:
            return
        for order in islice(permutations(values), MOST_ORDERS):
            yield TotalSet(choices=order, lines=base.lines, ballots=ballots)
