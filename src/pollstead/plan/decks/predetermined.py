"""What a deck must give, counted ballot by ballot from its marks under the rules of the contest.

This is the second way to the same numbers: it reads marks and the ballot as printed, and knows nothing of
how a deck is made. The rules: a contest with more marks than it allows is overvoted and gives no votes; one
with fewer has that many undervotes; a ballot without any mark is blank (VVSG 2.0, glossary: overvote,
undervote; from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from pollstead.plan.terms.decks import (
    BallotFace,
    Cell,
    DeckBallot,
    FaceContest,
    Line,
    Results,
    Total,
)

NOTHING_DEAD: frozenset[tuple[str, int]] = frozenset()


def predetermined(
    face: BallotFace,
    ballots: Iterable[DeckBallot],
    *,
    dead: frozenset[tuple[str, int]] = NOTHING_DEAD,
    elsewhere: Sequence[bool] = (),
) -> Results:
    """Count the ballots as the face says; `dead` positions (contest, position) are never seen.

    A mark at a position that the face does not have is not seen either. `elsewhere`: which ballots have a
    mark in a contest that is left out of the face, so that they are not blank; none where it is not given.
    """
    seen: list[dict[str, set[int]]] = []
    for ballot in ballots:
        here: dict[str, set[int]] = {}
        for mark in ballot.marks:
            if (mark.contest, mark.position) not in dead:
                here.setdefault(mark.contest, set()).add(mark.position)
        seen.append(here)
    marked = list(elsewhere) or [False] * len(seen)
    totals: list[Total] = []
    for contest in face.contests:
        totals += _count(contest, [here.get(contest.id, set()) for here in seen], marked)
    first = (
        Total(cell=Cell(line=Line.BALLOTS), count=len(seen)),
        Total(cell=Cell(line=Line.BLANK), count=marked.count(False)),
    )
    return Results(totals=(*first, *totals))


def _count(contest: FaceContest, ballots: list[set[int]], marked: list[bool]) -> list[Total]:
    """The numbers of one contest; `marked` learns which ballots have a mark in it."""
    as_printed = contest.choices[contest.rotation :] + contest.choices[: contest.rotation]
    votes = dict.fromkeys(contest.choices, 0)
    write_ins = overvoted = undervotes = 0
    for number, positions in enumerate(ballots):
        on_paper = [p for p in positions if 1 <= p <= contest.positions]
        marked[number] |= bool(on_paper)
        if len(on_paper) > contest.vote_for:
            overvoted += 1
            continue
        undervotes += contest.vote_for - len(on_paper)
        for position in on_paper:
            if position <= len(as_printed):
                votes[as_printed[position - 1]] += 1
            else:
                write_ins += 1
    counts = (*votes.values(), *((write_ins,) if contest.write_in_lines else ()), overvoted, undervotes)
    return [Total(cell=cell, count=count) for cell, count in zip(contest_cells(contest), counts, strict=True)]


def cells_of(face: BallotFace) -> tuple[Cell, ...]:
    """Every number of a report on this face, in the order of the ballot."""
    return (
        Cell(line=Line.BALLOTS),
        Cell(line=Line.BLANK),
        *(cell for contest in face.contests for cell in contest_cells(contest)),
    )


def contest_cells(contest: FaceContest) -> tuple[Cell, ...]:
    """Every number of a report on one contest."""
    write_ins = (Cell(line=Line.WRITE_INS, contest=contest.id),) if contest.write_in_lines else ()
    return (
        *(Cell(line=Line.CHOICE, contest=contest.id, choice=choice) for choice in contest.choices),
        *write_ins,
        Cell(line=Line.OVERVOTED, contest=contest.id),
        Cell(line=Line.UNDERVOTES, contest=contest.id),
    )


def added(reports: Iterable[Results]) -> Results:
    """The report over several decks: numbers of the same line are added up."""
    counted: Counter[Cell] = Counter()
    for report in reports:
        for total in report.totals:
            counted[total.cell] += total.count
    # A Counter keeps the order in which its keys came.
    return Results(totals=tuple(Total(cell=cell, count=count) for cell, count in counted.items()))
