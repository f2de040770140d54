"""What a device would report if its definition were wrong in one way, or one position were dead.

Each mistake is applied to the device's face alone; the ballots stay as they were marked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import msgspec

from pollstead.plan.decks.predetermined import predetermined
from pollstead.plan.terms.decks import (
    BallotFace,
    DeckBallot,
    FaceContest,
    Mark,
    Mistake,
    MistakeKind,
    Mistaken,
    Results,
)


def mistakes_on(
    face: BallotFace, ballots: tuple[DeckBallot, ...], *, elsewhere: Sequence[bool] = ()
) -> Iterator[Mistaken]:
    """Every single mistake on one face with what a report over these ballots would show.

    `elsewhere` as in `predetermined`.
    """
    for contest in face.contests:
        yield from _swapped(face, contest, ballots, elsewhere)
        yield from _dead(face, contest, ballots, elsewhere)
        yield from _vote_for(face, contest, ballots, elsewhere)
        yield from _rotation(face, contest, ballots, elsewhere)
    yield from contest_mistakes(face, ballots, elsewhere=elsewhere)


def parts_of(face: BallotFace) -> tuple[tuple[FaceContest, ...], ...]:
    """The contests that one mistake can touch: each alone, and each two that may be read as one another."""
    pairs = (two for two in combinations(face.contests, 2) if two[0].positions == two[1].positions)
    return (*((contest,) for contest in face.contests), *pairs)


def mistakes_within(
    face: BallotFace,
    contests: tuple[FaceContest, ...],
    ballots: tuple[DeckBallot, ...],
    *,
    elsewhere: Sequence[bool] = (),
) -> tuple[Results, Iterator[Mistaken]]:
    """What one of `parts_of` must give, counted by itself, and its mistakes."""
    names = {contest.id for contest in contests}
    part = msgspec.structs.replace(face, contests=contests)
    mine = tuple(
        msgspec.structs.replace(b, marks=tuple(m for m in b.marks if m.contest in names)) for b in ballots
    )
    found = mistakes_on if len(contests) == 1 else contest_mistakes
    return predetermined(part, mine, elsewhere=elsewhere), found(part, mine, elsewhere=elsewhere)


def read_as(face: BallotFace, other: BallotFace, ballots: tuple[DeckBallot, ...]) -> Results:
    """The report where ballots of `face` are read as ballots of `other`, contest by contest in order."""
    names = {mine.id: theirs.id for mine, theirs in zip(face.contests, other.contests, strict=False)}
    moved = tuple(
        msgspec.structs.replace(
            ballot,
            marks=tuple(
                Mark(contest=names[mark.contest], position=mark.position)
                for mark in ballot.marks
                if mark.contest in names
            ),
        )
        for ballot in ballots
    )
    return predetermined(other, moved)


def _with(face: BallotFace, contest: FaceContest) -> BallotFace:
    return msgspec.structs.replace(
        face, contests=tuple(contest if one.id == contest.id else one for one in face.contests)
    )


def _told(face: BallotFace, kind: MistakeKind, contest: str, first: str, second: str = "") -> Mistake:
    return Mistake(kind=kind, faces=(face.key,), contest=contest, first=first, second=second)


def _swapped(
    face: BallotFace, contest: FaceContest, ballots: tuple[DeckBallot, ...], elsewhere: Sequence[bool]
) -> Iterator[Mistaken]:
    """Two choices in one another's place; and a choice in the place of the first write-in line."""
    for a, b in combinations(range(len(contest.choices)), 2):
        order = list(contest.choices)
        order[a], order[b] = order[b], order[a]
        wrong = msgspec.structs.replace(contest, choices=tuple(order))
        yield Mistaken(
            mistake=_told(face, MistakeKind.SWAPPED, contest.id, contest.choices[a], contest.choices[b]),
            results=predetermined(_with(face, wrong), ballots, elsewhere=elsewhere),
        )
    if contest.write_in_lines:
        line = len(contest.choices) + 1
        for position in range(1, line):
            at = (position - 1 + contest.rotation) % len(contest.choices)
            yield Mistaken(
                mistake=_told(face, MistakeKind.SWAPPED, contest.id, contest.choices[at]),
                results=predetermined(
                    face,
                    tuple(_moved(b, contest.id, position, line) for b in ballots),
                    elsewhere=elsewhere,
                ),
            )


def _moved(ballot: DeckBallot, contest: str, one: int, other: int) -> DeckBallot:
    """The ballot as a device sees it that takes two positions of a contest for one another."""
    places = {one: other, other: one}
    return msgspec.structs.replace(
        ballot,
        marks=tuple(
            msgspec.structs.replace(mark, position=places.get(mark.position, mark.position))
            if mark.contest == contest
            else mark
            for mark in ballot.marks
        ),
    )


def _dead(
    face: BallotFace, contest: FaceContest, ballots: tuple[DeckBallot, ...], elsewhere: Sequence[bool]
) -> Iterator[Mistaken]:
    for position in range(1, contest.positions + 1):
        yield Mistaken(
            mistake=_told(face, MistakeKind.DEAD, contest.id, str(position)),
            results=predetermined(
                face, ballots, dead=frozenset({(contest.id, position)}), elsewhere=elsewhere
            ),
        )


def _vote_for(
    face: BallotFace, contest: FaceContest, ballots: tuple[DeckBallot, ...], elsewhere: Sequence[bool]
) -> Iterator[Mistaken]:
    """Every other number that could make a difference on a ballot with these positions."""
    most = contest.positions
    for number in range(1, most + 1):
        if min(number, most) != min(contest.vote_for, most):
            wrong = msgspec.structs.replace(contest, vote_for=number)
            yield Mistaken(
                mistake=_told(face, MistakeKind.VOTE_FOR, contest.id, str(number)),
                results=predetermined(_with(face, wrong), ballots, elsewhere=elsewhere),
            )


def _rotation(
    face: BallotFace, contest: FaceContest, ballots: tuple[DeckBallot, ...], elsewhere: Sequence[bool]
) -> Iterator[Mistaken]:
    for rotation in range(len(contest.choices)):
        if rotation != contest.rotation:
            wrong = msgspec.structs.replace(contest, rotation=rotation)
            yield Mistaken(
                mistake=_told(face, MistakeKind.ROTATION, contest.id, str(rotation)),
                results=predetermined(_with(face, wrong), ballots, elsewhere=elsewhere),
            )


def contest_mistakes(
    face: BallotFace, ballots: tuple[DeckBallot, ...], *, elsewhere: Sequence[bool] = ()
) -> Iterator[Mistaken]:
    """Two contests with as many positions as one another, each read as the other."""
    for one, other in combinations(face.contests, 2):
        if one.positions != other.positions:
            continue
        names = {one.id: other.id, other.id: one.id}
        seen = tuple(
            msgspec.structs.replace(
                ballot,
                marks=tuple(
                    msgspec.structs.replace(mark, contest=names.get(mark.contest, mark.contest))
                    for mark in ballot.marks
                ),
            )
            for ballot in ballots
        )
        yield Mistaken(
            mistake=_told(face, MistakeKind.CONTESTS, one.id, one.id, other.id),
            results=predetermined(face, seen, elsewhere=elsewhere),
        )
