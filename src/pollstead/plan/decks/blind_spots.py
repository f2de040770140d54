"""Which mistakes of a device a deck would not show. Judges any deck; knows nothing of how it was made."""

from __future__ import annotations

import msgspec

from pollstead.election.values import Value
from pollstead.plan.decks.mistakes import mistakes_within, parts_of
from pollstead.plan.terms.decks import (
    BallotFace,
    DeckBallot,
    FaceContest,
    Line,
    Mistake,
    Results,
    Total,
)

Known = dict[
    tuple[tuple[FaceContest, ...], tuple[tuple[tuple[int, ...], ...], ...], bool], tuple[int, list[Mistake]]
]


class Judged(Value, frozen=True, kw_only=True):
    """How many single mistakes were tried on a deck, and those that leave every total as it should be."""

    face: str
    tried: int
    unseen: tuple[Mistake, ...]


def judge(
    face: BallotFace, ballots: tuple[DeckBallot, ...], *, votes_only: bool = False, known: Known | None = None
) -> Judged:
    """Try every single mistake on one face.

    `votes_only` leaves overvotes and undervotes out: some reports do not print them. Ballot counts are left
    out always: what shows in them alone is not counted as shown. `known` keeps what was tried already on the
    same contest with the same marks; give the same one for all faces of a county.
    """
    known = {} if known is None else known
    tried, unseen = 0, []
    marks = {c.id: tuple(ballot.positions(c.id) for ballot in ballots) for c in face.contests}
    # A mistake within one contest shows in that one.
    for contests in parts_of(face):
        key = (contests, tuple(marks[contest.id] for contest in contests), votes_only)
        if key not in known:
            known[key] = _try(face, contests, ballots, votes_only)
        count, found = known[key]
        tried += count
        unseen += [msgspec.structs.replace(one, faces=(face.key,)) for one in found]
    return Judged(face=face.key, tried=tried, unseen=tuple(unseen))


def _try(
    face: BallotFace, contests: tuple[FaceContest, ...], ballots: tuple[DeckBallot, ...], votes_only: bool
) -> tuple[int, list[Mistake]]:
    """The mistakes of one contest, or of two that may be swapped: how many, and those that do not show."""
    counted, found = mistakes_within(face, contests, ballots)
    right = _shown(counted, votes_only=votes_only)
    tried, unseen = 0, []
    for one in found:
        tried += 1
        if _shown(one.results, votes_only=votes_only) == right:
            unseen.append(one.mistake)
    return tried, unseen


def _shown(results: Results, *, votes_only: bool) -> list[Total]:
    hidden = {Line.BALLOTS, Line.BLANK}
    if votes_only:
        hidden |= {Line.OVERVOTED, Line.UNDERVOTES}
    return sorted(
        (total for total in results.totals if total.cell.line not in hidden),
        key=lambda t: (t.cell.contest, t.cell.line, t.cell.choice),
    )
