"""How votes, overvotes and undervotes of a test ballot are counted, by the glossary of VVSG 2.0 (EAC, 2021).

Read in the public Markdown copy of the living glossary, HiltonRoscoe/GlossaryMD, vvsg_living_glossary.md, at
commit 04054e3dee2298d86d36d267c39f3db99aab6299: *overvote*, *N-of-M*, *logic and accuracy testing*.
"""

from __future__ import annotations

from tests.decks.conftest import contest_of, face_with

from pollstead.plan.decks.blind_spots import judge
from pollstead.plan.decks.predetermined import predetermined
from pollstead.plan.decks.synthesis import run
from pollstead.plan.terms.decks import BallotPurpose, Cell, DeckBallot, Line, Mark, Results


def counted(vote_for: int, *positions: int) -> Results:
    """One ballot with these marks in a contest of five."""
    face = face_with(contest_of("c", 5, vote_for))
    marks = tuple(Mark(contest="c", position=p) for p in positions)
    return predetermined(face, (DeckBallot(number=1, purpose=BallotPurpose.VOTES, marks=marks),))


def test_three_selections_in_a_vote_for_two_contest_lose_two_votes() -> None:
    """*overvote*: the number of votes lost is that of the selections allowed; the example is three of two."""
    report = counted(2, 1, 2, 3)
    votes = sum(total.count for total in report.totals if total.cell.line is Line.CHOICE)
    assert report.of(Cell(line=Line.OVERVOTED, contest="c")) == 1
    assert 2 * 1 - votes - (report.of(Cell(line=Line.UNDERVOTES, contest="c")) or 0) == 2


def test_n_of_m_gives_each_option_one_vote_at_most_and_asks_nobody_for_all_n() -> None:
    """*N-of-M*: at most 1 vote to a given option; the voter is not obliged to allocate all N votes."""
    report = counted(3, 4, 4, 5)
    assert [report.of(Cell(line=Line.CHOICE, contest="c", choice=f"{n}")) for n in range(1, 6)] == [
        0,
        0,
        0,
        1,
        1,
    ]
    assert report.of(Cell(line=Line.UNDERVOTES, contest="c")) == 1
    assert report.of(Cell(line=Line.OVERVOTED, contest="c")) == 0


def test_a_deck_shows_improper_setup_and_a_malfunction() -> None:
    """*logic and accuracy testing*: to detect malfunctioning devices and improper election-specific setup."""
    face = face_with(contest_of("c", 5, 2), contest_of("d", 3))
    deck = run((face,), seed=1).value[0]
    assert judge(face, deck.ballots).tried > 20 and judge(face, deck.ballots).unseen == ()
    one_each = tuple(
        DeckBallot(number=n, purpose=BallotPurpose.VOTES, marks=(Mark(contest="c", position=n),))
        for n in range(1, 6)
    )
    assert judge(face_with(contest_of("c", 5, 2)), one_each).unseen
