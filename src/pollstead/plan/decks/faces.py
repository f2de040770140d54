"""The ballots of a county as faces: one for each style, and one more for each precinct with its own."""

from __future__ import annotations

from collections import defaultdict

from pollstead.election.ballots import BallotContest, Choice
from pollstead.election.county import Election
from pollstead.plan.terms.decks import BallotFace, FaceContest


def faces_of(election: Election) -> tuple[BallotFace, ...]:
    """Every face whose contests are all described, by its key; the intake told about the others."""
    contests = {contest.id: contest for contest in election.contests}
    choices: dict[str, list[Choice]] = defaultdict(list)
    for choice in sorted(election.choices, key=lambda c: (c.contest, c.order)):
        choices[choice.contest].append(choice)
    rows: dict[tuple[str, str], list[BallotContest]] = defaultdict(list)
    for row in sorted(election.ballot_contests, key=lambda r: (r.style, r.precinct, r.order)):
        rows[row.style, row.precinct].append(row)
    made = []
    for (style, precinct), mine in sorted(rows.items()):
        if any(
            row.contest not in contests or not (choices[row.contest] or contests[row.contest].write_in_lines)
            for row in mine
        ):
            continue
        made.append(
            BallotFace(
                key=f"{style}/{precinct}" if precinct else style,
                style=style,
                precinct=precinct,
                contests=tuple(
                    FaceContest(
                        id=row.contest,
                        words=contests[row.contest].words,
                        vote_for=contests[row.contest].vote_for,
                        choices=tuple(c.id for c in choices[row.contest]),
                        names=tuple(c.words for c in choices[row.contest]),
                        write_in_lines=contests[row.contest].write_in_lines,
                        rotation=row.rotation,
                    )
                    for row in mine
                ),
            )
        )
    return tuple(made)


def face_keys(election: Election, styles: tuple[str, ...], precinct: str) -> tuple[str, ...]:
    """The keys of the faces that a precinct's ballots of `styles` show."""
    own = {(row.style, row.precinct) for row in election.ballot_contests}
    found = []
    for style in styles:
        if (style, precinct) in own:
            found.append(f"{style}/{precinct}")
        elif (style, "") in own:
            found.append(style)
    return tuple(found)
