"""Decks that are made: different totals, every position, few ballots; the same seed gives the same deck."""

from __future__ import annotations

import itertools
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.decks.conftest import contest_of, face_with

from pollstead.plan.decks.blind_spots import Known, judge
from pollstead.plan.decks.predetermined import predetermined
from pollstead.plan.decks.synthesis import least_ballots, run, totals_of
from pollstead.plan.terms.decks import (
    BallotFace,
    BallotPurpose,
    Cell,
    Deck,
    FaceContest,
    Line,
    Mark,
    MistakeKind,
)


@st.composite
def faces(draw: st.DrawFn) -> BallotFace:
    """A face with one to four contests of any shape."""
    made = []
    for number in range(draw(st.integers(1, 4))):
        choices = draw(st.integers(0, 6))
        write_ins = draw(st.integers(0 if choices else 1, 3))
        rotation = draw(st.integers(0, max(0, choices - 1)))
        made.append(contest_of(f"c{number}", choices, draw(st.integers(1, 5)), write_ins, rotation))
    return face_with(*made)


def votes_by_position(face: BallotFace, deck: Deck) -> dict[tuple[str, int], int]:
    """Votes that count by position, straight from the marks: an overvoted contest gives none."""
    counted: Counter[tuple[str, int]] = Counter()
    for ballot in deck.ballots:
        for contest in face.contests:
            marked = ballot.positions(contest.id)
            if len(marked) <= contest.vote_for:
                counted.update((contest.id, position) for position in marked)
    return counted


@settings(max_examples=30, deadline=None)
@given(faces(), st.integers(0, 2**31))
def test_a_deck_has_different_totals_and_marks_each_position_in_a_vote(face: BallotFace, seed: int) -> None:
    """The six points that `totals` names hold in every contest, and the deck is as small as its bound."""
    deck = run((face,), seed=seed).value[0]
    assert len(deck.ballots) == deck.bound == least_ballots(face)[0]
    votes = votes_by_position(face, deck)
    report = predetermined(face, deck.ballots)
    for contest in face.contests:
        assert all(votes[contest.id, p] >= 1 for p in range(1, contest.positions + 1))
        totals = [t.count for t in report.totals if t.cell.contest == contest.id and t.cell.line in VOTES]
        assert len(set(totals)) == len(totals)
        marks = {len(ballot.positions(contest.id)) for ballot in deck.ballots}
        assert {0, min(contest.vote_for, contest.positions)} <= marks
        assert contest.positions <= contest.vote_for or contest.vote_for + 1 in marks
        if 2 <= contest.vote_for <= contest.positions:
            assert any(0 < n < contest.vote_for for n in marks)
        assert max(marks) <= contest.vote_for + 1
    assert deck.ballots[-1].purpose is BallotPurpose.BLANK and not deck.ballots[-1].marks


VOTES = (Line.CHOICE, Line.WRITE_INS)


@settings(max_examples=20, deadline=None)
@given(faces(), st.integers(0, 2**31))
def test_totals_that_were_meant_are_those_counted_from_the_marks(face: BallotFace, seed: int) -> None:
    """The count from marks knows nothing of how the deck was made, and gives what was meant."""
    deck = run((face,), seed=seed).value[0]
    report = predetermined(face, deck.ballots)
    for name, totals in totals_of((face,), seed):
        contest = face.contest(name)
        assert contest is not None
        for choice, votes in zip(contest.choices, totals.choices, strict=True):
            assert report.of(Cell(line=Line.CHOICE, contest=name, choice=choice)) == votes
        if contest.write_in_lines:
            assert report.of(Cell(line=Line.WRITE_INS, contest=name)) == sum(totals.lines)
        over = report.of(Cell(line=Line.OVERVOTED, contest=name))
        under = report.of(Cell(line=Line.UNDERVOTES, contest=name))
        assert over is not None and under is not None
        # Votes, undervotes and overvoted ballots account for every vote that the ballots allow.
        assert totals.total + under + over * contest.vote_for == len(deck.ballots) * contest.vote_for


@settings(max_examples=10, deadline=None)
@given(faces(), st.integers(0, 2**31))
def test_no_single_mistake_within_a_contest_is_left_unseen(face: BallotFace, seed: int) -> None:
    """Whatever the contests, a swap, a dead position, a wrong vote-for or rotation shows, in votes alone too.

    Where a contest has write-in lines alone, a dead one may need the number of overvoted ballots to show.
    """
    deck = run((face,), seed=seed).value[0]
    for votes_only in (False, True):
        judged = judge(face, deck.ballots, votes_only=votes_only)
        named = {c.id for c in face.contests if c.choices or not votes_only}
        assert [m for m in judged.unseen if m.kind is not MistakeKind.CONTESTS and m.contest in named] == []


def test_larkmoors_decks_leave_no_mistake_unseen_and_are_as_small_as_they_can_be(
    larkmoor_decks: tuple[tuple[BallotFace, Deck], ...],
) -> None:
    """61 styles, each deck at its lower bound, two contests that are swapped among what shows."""
    assert len(larkmoor_decks) == 61
    known: Known = {}
    for face, deck in larkmoor_decks[::6]:
        assert judge(face, deck.ballots, known=known).unseen == ()
    assert all(len(deck.ballots) == deck.bound for _, deck in larkmoor_decks)


def test_a_seed_gives_the_same_deck_and_a_new_style_changes_no_other(
    larkmoor_decks: tuple[tuple[BallotFace, Deck], ...],
) -> None:
    """Same faces and seed, same decks; another seed gives others."""
    all_faces = tuple(face for face, _ in larkmoor_decks)
    assert run(all_faces, seed=1).value == tuple(deck for _, deck in larkmoor_decks)
    assert run(all_faces, seed=2).value != tuple(deck for _, deck in larkmoor_decks)


def test_one_contest_has_one_meaning_on_all_ballots() -> None:
    """A contest with another vote-for on another style is refused by name."""
    one, other = face_with(contest_of("c", 3)), face_with(contest_of("c", 3, 2), key="02")
    with pytest.raises(ValueError, match="contest 'c' must be the same on each ballot"):
        run((one, other), seed=1)


def test_vote_for_2_of_5_is_as_the_guide_explains_it() -> None:
    """Totals 1 to 5 are 15 votes; 8 ballots carry them, one with a single mark; then 3 marks, then none.

    15 / 2 = 7.5, so 8 ballots carry 15 votes with one vote to spare: the undervote. 8 + 1 + 1 = 10.
    """
    face = face_with(contest_of("council", 5, 2))
    deck = run((face,), seed=3).value[0]
    marks = [len(ballot.positions("council")) for ballot in deck.ballots]
    assert sorted(marks) == [0, 1, 2, 2, 2, 2, 2, 2, 2, 3]
    report = predetermined(face, deck.ballots)
    votes = sorted(t.count for t in report.totals if t.cell.line is Line.CHOICE)
    assert votes == [1, 2, 3, 4, 5]
    assert report.of(Cell(line=Line.OVERVOTED, contest="council")) == 1
    assert report.of(Cell(line=Line.UNDERVOTES, contest="council")) == 1 + 2


def meets_the_points(contest: FaceContest, ballots: tuple[frozenset[int], ...]) -> bool:
    """The six points of one contest, written down anew from the guide."""
    n, choices, k = contest.vote_for, len(contest.choices), contest.positions
    counted = [b for b in ballots if len(b) <= n]
    votes = [sum(p in b for b in counted) for p in range(1, k + 1)]
    lines = votes[choices:]
    totals = votes[:choices] + ([sum(lines)] if lines else [])
    sizes = {len(b) for b in ballots}
    return (
        min(votes) >= 1
        and len(set(totals)) == len(totals)
        and not set(lines) & set(votes[:choices])
        and min(n, k) in sizes
        and (n < 2 or any(0 < s < n for s in sizes))
        and (k <= n or n + 1 in sizes)
        and 0 in sizes
    )


@pytest.mark.parametrize(
    ("choices", "vote_for", "write_ins"),
    [
        (1, 1, 0),
        (2, 1, 0),
        (3, 1, 0),
        (2, 1, 1),
        (2, 2, 0),
        (3, 2, 0),
        (0, 2, 2),
        (1, 1, 1),
        (1, 2, 2),
        (3, 3, 0),
    ],
)
def test_no_smaller_deck_has_the_points_by_trying_all(choices: int, vote_for: int, write_ins: int) -> None:
    """Brute force over all decks of a tiny contest: none with fewer ballots than the bound will do."""
    contest = contest_of("c", choices, vote_for, write_ins)
    bound, _ = least_ballots(face_with(contest))
    places = range(1, contest.positions + 1)
    kinds = [frozenset(s) for n in range(contest.positions + 1) for s in itertools.combinations(places, n)]
    smaller = itertools.combinations_with_replacement(kinds, bound - 1)
    assert not any(meets_the_points(contest, ballots) for ballots in smaller)
    deck = run((face_with(contest),), seed=1).value[0]
    assert meets_the_points(contest, tuple(frozenset(b.positions("c")) for b in deck.ballots))


def test_two_contests_share_ballots_as_well_as_any_deck_can() -> None:
    """Two questions: 3 ballots carry both, 1 is overvoted, 1 blank; no deck of 4 has the points."""
    face = face_with(contest_of("a", 2), contest_of("b", 2))
    assert least_ballots(face) == (5, ("a", "b"))
    sets = [frozenset(s) for n in range(3) for s in itertools.combinations((1, 2), n)]
    for ballots in itertools.combinations_with_replacement(list(itertools.product(sets, sets)), 4):
        a, b = tuple(one for one, _ in ballots), tuple(other for _, other in ballots)
        both = meets_the_points(face.contests[0], a) and meets_the_points(face.contests[1], b)
        assert not (both and (frozenset(), frozenset()) in ballots)


def test_the_count_knows_a_device_that_sees_less() -> None:
    """A dead position is never seen; a mark below the last position is on no ballot of the device."""
    face = face_with(contest_of("c", 2))
    deck = run((face,), seed=1).value[0]
    full = predetermined(face, deck.ballots)
    dead = predetermined(face, deck.ballots, dead=frozenset({("c", 1)}))
    assert dead != full
    extra = deck.ballots[-1].__class__(
        number=99, purpose=BallotPurpose.VOTES, marks=(Mark(contest="c", position=3),)
    )
    blank = predetermined(face, (extra,))
    assert blank.of(Cell(line=Line.BLANK)) == 1
