"""Tests and seals by a pair, and the life of seals, from the record alone."""

from __future__ import annotations

import pytest

from pollstead.reconcile.custody.pairs import PairState, SealedPosition, Word
from pollstead.reconcile.custody.seal_lives import kind_of

LID = "closure/scanner/0001/lid"


def word(person: str, number: str) -> Word:
    """One person's word."""
    return Word(event=f"{person}{number}", person=person, number=number, utc_ms=1)


@pytest.mark.parametrize(
    ("words", "state", "number"),
    [
        ([], PairState.NOBODY, ""),
        ([("a", "1")], PairState.ONE, ""),
        ([("a", "1"), ("a", "2")], PairState.ONE, ""),
        ([("a", "1"), ("b", "1")], PairState.MATCHED, "1"),
        ([("a", "1"), ("b", "2")], PairState.DIFFERS, ""),
        ([("a", "1"), ("b", "1"), ("c", "2")], PairState.DIFFERS, ""),
    ],
)
def test_matched_is_two_people_and_one_number(
    words: list[tuple[str, str]], state: PairState, number: str
) -> None:
    """One person twice is one person; a third number against two others is a difference."""
    found = SealedPosition(closure=LID, position=1, words=tuple(word(*one) for one in words))
    assert (found.state, found.number) == (state, number)


def test_nobody_sees_another_word_before_both_are_in() -> None:
    """Until two people have read, each sees only what they typed themselves."""
    alone = SealedPosition(closure=LID, position=1, words=(word("a", "1"),))
    assert [w.number for w in alone.seen_by("a")] == ["1"] and alone.seen_by("b") == ()
    both = SealedPosition(closure=LID, position=1, words=(word("a", "1"), word("b", "2")))
    assert len(both.seen_by("a")) == len(both.seen_by("b")) == 2


def test_the_kind_of_a_second_position_is_that_of_its_closure() -> None:
    """``…/lid/2`` is the second seal of the lid; an unknown closure has no kind."""
    kinds = {LID: "tag"}
    assert (kind_of(LID, kinds), kind_of(f"{LID}/2", kinds), kind_of("closure/x/y", kinds)) == (
        "tag",
        "tag",
        "",
    )
