"""Contradictions of the ballots: contests, choices and ballots that do not fit together.

A fault in a contest keeps out every ballot that holds it: a deck for a ballot that is half known would
look right and test the wrong thing. The same contract as `contradictions`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator

from pollstead.election.ballots import BallotContest, Choice, Contest
from pollstead.election.notice import Place
from pollstead.election.words import N_, Message, message
from pollstead.intake.clashes import grouped, row_list
from pollstead.intake.notices import contradicts
from pollstead.intake.records import nearest
from pollstead.intake.taken import Clash, Drop, Taken

_REMEDY = N_("Correct the row; until then the ballots that hold this contest have no deck.")


class _Ballots:
    """The three tables of a county, looked up once."""

    def __init__(self, taken: Taken) -> None:
        self.contests = taken.of(Contest)
        self.choices = taken.of(Choice)
        self.rows = taken.of(BallotContest)
        self.known = tuple(dict.fromkeys(contest.id for _, contest in self.contests))
        self.choices_of: dict[str, int] = defaultdict(int)
        for _, choice in self.choices:
            self.choices_of[choice.contest] += 1

    def without_contest(self, contest: str) -> tuple[Drop, ...]:
        """All rows of a contest and of every ballot that holds it."""
        ballots = {(row.style, row.precinct) for _, row in self.rows if row.contest == contest}
        return (
            *(Drop(table="contests", row=n) for n, one in self.contests if one.id == contest),
            *(Drop(table="choices", row=n) for n, one in self.choices if one.contest == contest),
            *(Drop(table="ballot_contests", row=n) for n, r in self.rows if (r.style, r.precinct) in ballots),
        )

    def without_ballot(self, style: str, precinct: str) -> tuple[Drop, ...]:
        """All rows of one ballot."""
        here = (style, precinct)
        return tuple(
            Drop(table="ballot_contests", row=n) for n, row in self.rows if (row.style, row.precinct) == here
        )


def _clash(
    rule: str, subject: str, place: Place, text: Message, found: object, wanted: str, drops: tuple[Drop, ...]
) -> Clash:
    return Clash(
        notice=contradicts(rule, subject, place, text, found=found, wanted=wanted, remedy=message(_REMEDY)),
        drops=drops,
    )


def contests_twice(taken: Taken) -> Iterator[Clash]:
    """A contest, a choice or a contest of a ballot in two rows."""
    ballots = _Ballots(taken)
    for group in grouped(ballots.contests, lambda c: c.id):
        number, contest = group[1]
        yield _clash(
            "contest-twice",
            f"contest/{contest.id}",
            Place(file="contests.csv", row=number, column="id"),
            message(N_("Contest {contest} stands in rows {rows}"), contest=contest.id, rows=row_list(group)),
            contest.id,
            "each contest once",
            ballots.without_contest(contest.id),
        )
    for file, column, key in (
        ("choices.csv", "id", lambda c: (c.contest, c.id)),
        ("choices.csv", "order", lambda c: (c.contest, str(c.order))),
    ):
        for pair in grouped(ballots.choices, key):
            number, choice = pair[1]
            yield _clash(
                f"choice-{column}-twice",
                f"contest/{choice.contest}/{'/'.join(key(choice)[1:])}",
                Place(file=file, row=number, column=column),
                message(
                    N_("Two choices of contest {contest} have the same {column}, in rows {rows}"),
                    contest=choice.contest,
                    column=column,
                    rows=row_list(pair),
                ),
                "/".join(key(choice)[1:]),
                "each choice its own",
                ballots.without_contest(choice.contest),
            )
    for column, of in (("contest", lambda r: r.contest), ("order", lambda r: str(r.order))):
        for rows in grouped(ballots.rows, lambda r, of=of: (r.style, r.precinct, of(r))):  # type: ignore[misc]
            number, row = rows[1]
            yield _clash(
                f"ballot-{column}-twice",
                f"style/{row.style}/{row.precinct or 'all'}/{of(row)}",
                Place(file="ballot_contests.csv", row=number, column=column),
                message(
                    N_("Ballot style {style} has the {column} {value} in rows {rows}"),
                    style=row.style,
                    column=column,
                    value=of(row),
                    rows=row_list(rows),
                ),
                of(row),
                "each once on a ballot",
                ballots.without_ballot(row.style, row.precinct),
            )


def contests_that_nobody_described(taken: Taken) -> Iterator[Clash]:
    """A choice or ballot of a contest that contests.csv does not list."""
    ballots = _Ballots(taken)
    if "contests.csv" in taken.unread:
        return
    for number, choice in ballots.choices:
        if choice.contest not in ballots.known:
            yield _clash(
                "choice-of-unknown-contest",
                f"contest/{choice.contest}/{choice.id}",
                Place(file="choices.csv", row=number, column="contest"),
                message(N_("Choice {choice} is of a contest that is not in contests.csv"), choice=choice.id),
                choice.contest,
                nearest(choice.contest, ballots.known),
                ballots.without_contest(choice.contest),
            )
    for number, row in ballots.rows:
        if row.contest not in ballots.known:
            yield _clash(
                "ballot-of-unknown-contest",
                f"style/{row.style}/{row.contest}",
                Place(file="ballot_contests.csv", row=number, column="contest"),
                message(
                    N_("Ballot style {style} has a contest that contests.csv does not list"), style=row.style
                ),
                row.contest,
                nearest(row.contest, ballots.known),
                ballots.without_ballot(row.style, row.precinct),
            )


def contests_without_positions(taken: Taken) -> Iterator[Clash]:
    """A contest with nothing to mark, and a rotation as long as the list of choices."""
    ballots = _Ballots(taken)
    lines = {contest.id: contest.write_in_lines for _, contest in ballots.contests}
    if "choices.csv" in taken.unread:
        return
    for number, contest in ballots.contests:
        if not ballots.choices_of[contest.id] and not contest.write_in_lines:
            yield _clash(
                "contest-without-choices",
                f"contest/{contest.id}",
                Place(file="contests.csv", row=number, column="id"),
                message(N_("Contest {contest} has no choice and no write-in line"), contest=contest.id),
                0,
                "one or more",
                ballots.without_contest(contest.id),
            )
    for number, row in ballots.rows:
        choices = ballots.choices_of[row.contest]
        if row.contest in lines and row.rotation and row.rotation >= choices:
            yield _clash(
                "rotation-too-long",
                f"style/{row.style}/{row.contest}",
                Place(file="ballot_contests.csv", row=number, column="rotation"),
                message(
                    N_("Contest {contest} has {count} choices, so its list cannot be rotated by {rotation}"),
                    contest=row.contest,
                    count=choices,
                    rotation=row.rotation,
                ),
                row.rotation,
                f"0 to {max(0, choices - 1)}",
                ballots.without_ballot(row.style, row.precinct),
            )


CHECKS: tuple[Callable[[Taken], Iterator[Clash]], ...] = (
    contests_twice,
    contests_that_nobody_described,
    contests_without_positions,
)
