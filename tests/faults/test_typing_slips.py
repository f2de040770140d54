"""A slip of the pen at a seal: told as near, read again by both, and the first word is never lost."""

from __future__ import annotations

from typing import Any

from pollstead.reconcile.actions import Act
from pollstead.reconcile.opening.states import ItemState
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds import days

LID, OTHER = "closure/scanner/S01-1/lid", "closure/scanner/S01-2/lid"


def slip(number: str) -> str:
    """The number with one wrong digit, the last but one."""
    return f"{number[:-2]}{(int(number[-2]) + 1) % 10}{number[-1]}"


def likeliest(item: Any) -> list[str]:
    """The likeliest explanations in English, one text each."""
    return [" ".join(w.english() for w in one.words) for told in item.diagnoses for one in told.likeliest]


def test_one_person_alone_is_asked_to_read_again_before_anything_is_done(case: Any) -> None:
    """One wrong digit by one person: both read again from the seal, and no device is stopped by it."""
    case.record.seal(LID, slip(case.expected(LID)), "P001")
    item = case.item(LID)
    assert item.state is ItemState.VALUE_DIFFERS
    assert item.action is not None and item.action.act is Act.READ_AGAIN
    case.record.seal(LID, slip(case.expected(LID)), "P002")
    assert case.item(LID).action.act is not Act.READ_AGAIN, "two who read the same have looked"


def test_a_slip_is_told_with_its_place_as_a_possible_explanation(case: Any) -> None:
    """The digit that differs is named, counted from the left, as what it may be; nobody is accused."""
    wanted = case.expected(LID)
    for person in ("P001", "P002"):
        case.record.seal(LID, slip(wanted), person)
    said = likeliest(case.item(LID))
    assert len(said) == 1 and f"position {len(wanted) - 1}" in said[0], said


def test_a_slip_that_meets_another_seal_names_that_one_first(case: Any) -> None:
    """The number is one that was truly issued, for another closure: told, since a list of all would match."""
    for person in ("P001", "P002"):
        case.record.seal(LID, case.expected(OTHER), person)
    item = case.item(LID)
    assert item.state is ItemState.VALUE_DIFFERS
    said = likeliest(item)
    assert len(said) == 1 and "Scanner 2" in said[0], said


def test_the_first_word_stays_beside_the_second_look(case: Any) -> None:
    """Read again and corrected: it matches, and the slip stands there with its author."""
    wanted = case.expected(LID)
    wrong = case.record.seal(LID, slip(wanted), "P001")
    case.record.seal(LID, wanted, "P002")
    right = days.SealSeen(step="opening", state="intact")
    case.record.correct(wrong, right, "P001", fields=FrozenObject({"number": wanted}))
    item = case.item(LID)
    assert item.state is ItemState.MATCH
    assert [(o.value, o.entered_by) for o in item.observations if not o.stands] == [
        (slip(wanted), ("person/P001",))
    ]
