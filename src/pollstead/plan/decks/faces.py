"""The ballots of a county as faces: one for each style, and one more for each precinct with its own."""

from __future__ import annotations

from collections import defaultdict

from pollstead.election.ballots import BallotContest, Choice, Contest
from pollstead.election.county import Election
from pollstead.plan.terms.decks import BallotFace, FaceContest


def faces_of(election: Election) -> tuple[BallotFace, ...]:
    """Every face of a county's ballots whose contests are all described, by its key."""
    return faces_of_rows(election.contests, election.choices, election.ballot_contests)


def faces_of_rows(
    contest_rows: tuple[Contest, ...], choice_rows: tuple[Choice, ...], ballot_rows: tuple[BallotContest, ...]
) -> tuple[BallotFace, ...]:
    """As `faces_of`, from the rows of the three tables; the intake told about what is not described."""
    contests = {contest.id: contest for contest in contest_rows}
    choices: dict[str, list[Choice]] = defaultdict(list)
    for choice in sorted(choice_rows, key=lambda c: (c.contest, c.order)):
        choices[choice.contest].append(choice)
    rows: dict[tuple[str, str], list[BallotContest]] = defaultdict(list)
    for row in sorted(ballot_rows, key=lambda r: (r.style, r.precinct, r.order)):
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
