"""Every mistake on the report over several decks, told by the numbers that it changes.

A mistake within one contest leaves all other contests as they are, so only that contest is counted again;
a county of sixty ballots has some 17,000 mistakes, and its whole report would be counted for each.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import combinations

import msgspec

from pollstead.plan.decks.mistakes import mistakes_within, parts_of, read_as
from pollstead.plan.decks.predetermined import predetermined
from pollstead.plan.terms.decks import (
    BallotFace,
    Cell,
    Deck,
    DeckBallot,
    Misread,
    Mistake,
    MistakeKind,
    Results,
    Total,
)

Key = tuple[str, str, str, str]
Change = dict[Cell, int]


def run_mistakes(faces: tuple[BallotFace, ...], decks: tuple[Deck, ...]) -> Iterator[Misread]:
    """Every mistake on the report over several decks: on all faces that allow it, or on one alone.

    A mistake that changes no number is given too, with no changes.
    """
    alone: list[dict[Key, Change]] = []
    kinds: dict[Key, Mistake] = {}
    for face, deck in zip(faces, decks, strict=True):
        mine: dict[Key, Change] = {}
        for mistake, change in _on_face(face, deck.ballots):
            key = (mistake.kind.value, mistake.contest, mistake.first, mistake.second)
            mine[key] = change
            kinds.setdefault(key, mistake)
        alone.append(mine)
    for key, mistake in kinds.items():
        where = tuple(i for i, mine in enumerate(alone) if key in mine)
        for chosen in dict.fromkeys((where, *((i,) for i in where))):
            yield Misread(
                mistake=msgspec.structs.replace(mistake, faces=tuple(faces[i].key for i in chosen)),
                changes=_told(alone[i][key] for i in chosen),
            )
    right = [predetermined(face, deck.ballots) for face, deck in zip(faces, decks, strict=True)]
    for a, b in combinations(range(len(faces)), 2):
        yield Misread(
            mistake=Mistake(kind=MistakeKind.STYLES, faces=(faces[a].key, faces[b].key)),
            changes=_told(
                (
                    _change(right[a], read_as(faces[a], faces[b], decks[a].ballots)),
                    _change(right[b], read_as(faces[b], faces[a], decks[b].ballots)),
                )
            ),
        )


def with_changes(right: Results, changes: Iterable[Total]) -> Results:
    """The report that a mistake gives: each number of `right` with its change."""
    by_cell = {change.cell: change.count for change in changes}
    return Results(
        totals=tuple(
            Total(cell=total.cell, count=total.count + by_cell.get(total.cell, 0)) for total in right.totals
        )
    )


def _on_face(face: BallotFace, ballots: tuple[DeckBallot, ...]) -> Iterator[tuple[Mistake, Change]]:
    """The mistakes of `mistakes_on` with what each changes, its own contests alone counted again."""
    marked = [frozenset(_seen(face, ballot)) for ballot in ballots]
    for contests in parts_of(face):
        names = {contest.id for contest in contests}
        elsewhere = [bool(here - names) for here in marked]
        right, found = mistakes_within(face, contests, ballots, elsewhere=elsewhere)
        for one in found:
            yield one.mistake, _change(right, one.results)


def _seen(face: BallotFace, ballot: DeckBallot) -> Iterator[str]:
    """The contests in which a ballot has a mark at a position that the face has."""
    for mark in ballot.marks:
        contest = face.contest(mark.contest)
        if contest is not None and 1 <= mark.position <= contest.positions:
            yield contest.id


def _change(right: Results, wrong: Results) -> Change:
    change: Counter[Cell] = Counter({total.cell: total.count for total in wrong.totals})
    change.subtract({total.cell: total.count for total in right.totals})
    return {cell: count for cell, count in change.items() if count}


def _told(changes: Iterable[Change]) -> tuple[Total, ...]:
    together: Counter[Cell] = Counter()
    for change in changes:
        together.update(change)
    return tuple(Total(cell=cell, count=count) for cell, count in together.items() if count)
