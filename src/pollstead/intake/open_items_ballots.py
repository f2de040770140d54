"""Open items of the ballots: styles without a ballot, ballots of styles that no precinct has."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from pollstead.election.ballots import BallotContest, Contest
from pollstead.election.county import Precinct
from pollstead.election.notice import Notice, Place
from pollstead.election.words import N_, message
from pollstead.intake.notices import due_before, open_item
from pollstead.intake.tables import OFFICIAL
from pollstead.intake.taken import Taken

DUE_DAYS = 45


def styles_and_ballots(taken: Taken) -> Iterator[Notice]:
    """Told only where the county has ballots in its tables at all."""
    rows = taken.of(BallotContest)
    precincts = taken.of(Precinct)
    if not rows or not precincts or {"precincts.csv", "ballot_contests.csv"} & set(taken.unread):
        return
    used = {style: number for number, p in reversed(precincts) for style in p.styles}
    known = {(style, p.id) for _, p in precincts for style in p.styles}
    has = {row.style for _, row in rows}
    lacking = sorted(set(used) - has)
    if lacking:
        yield _item(
            taken,
            "style-without-ballot",
            Place(file="precincts.csv", row=used[lacking[0]], column="styles"),
            N_("{count} ballot styles have no contests in ballot_contests.csv ({names})"),
            lacking,
        )
    lost = {row.style: number for number, row in reversed(rows) if row.style not in used}
    if lost:
        first = min(lost.values())
        yield _item(
            taken,
            "ballot-of-unknown-style",
            Place(file="ballot_contests.csv", row=first, column="style"),
            N_("{count} ballot styles of ballot_contests.csv are in no precinct ({names})"),
            sorted(lost),
        )
    elsewhere = {
        f"{row.style}/{row.precinct}": number
        for number, row in reversed(rows)
        if row.precinct and row.style in used and (row.style, row.precinct) not in known
    }
    if elsewhere:
        yield _item(
            taken,
            "ballot-of-unknown-precinct",
            Place(file="ballot_contests.csv", row=min(elsewhere.values()), column="precinct"),
            N_("{count} ballots are of precincts that do not have their style ({names})"),
            sorted(elsewhere),
        )


def contests_worth_a_look(taken: Taken) -> Iterator[Notice]:
    """Contests on no ballot."""
    rows = taken.of(BallotContest)
    on = {row.contest for _, row in rows}
    off = {contest.id: number for number, contest in taken.of(Contest) if contest.id not in on}
    if off and "ballot_contests.csv" not in taken.unread:
        yield _item(
            taken,
            "contest-on-no-ballot",
            Place(file="contests.csv", row=min(off.values()), column="id"),
            N_("{count} contests are on no ballot ({names})"),
            sorted(off),
        )


def _item(taken: Taken, rule: str, place: Place, words: str, names: list[str]) -> Notice:
    listed = ", ".join(names[:8]) + (" …" if len(names) > 8 else "")
    return open_item(
        rule,
        f"{place.file}/{place.column}",
        message(words, count=len(names), names=listed),
        place=place,
        found=listed,
        remedy=message(N_("Look for a typing error; a style without contests gets no test deck.")),
        owner=OFFICIAL,
        due=due_before(taken.election_day, DUE_DAYS),
        depends=tuple(names),
    )


CHECKS: tuple[Callable[[Taken], Iterator[Notice]], ...] = (styles_and_ballots, contests_worth_a_look)
