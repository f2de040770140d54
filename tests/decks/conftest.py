"""Ballots for the tests of decks: Larkmoor's, and tiny ones made to order."""

from __future__ import annotations

from pathlib import Path

import pytest

from pollstead.intake.folder import read_folder
from pollstead.plan.decks.faces import faces_of
from pollstead.plan.decks.synthesis import run
from pollstead.plan.terms.decks import BallotFace, Deck, FaceContest

LARKMOOR = Path(__file__).resolve().parents[2] / "larkmoor"


def contest_of(
    name: str, choices: int, vote_for: int = 1, write_ins: int = 0, rotation: int = 0
) -> FaceContest:
    """A contest whose choices are called by their numbers."""
    ids = tuple(f"{n}" for n in range(1, choices + 1))
    return FaceContest(
        id=name,
        words=f"Contest {name}",
        vote_for=vote_for,
        choices=ids,
        names=tuple(f"Name {n}" for n in ids),
        write_in_lines=write_ins,
        rotation=rotation,
    )


def face_with(*contests: FaceContest, key: str = "01") -> BallotFace:
    """A face with these contests."""
    return BallotFace(key=key, style=key, contests=contests)


@pytest.fixture(scope="session")
def larkmoor_decks() -> tuple[tuple[BallotFace, Deck], ...]:
    """The faces of Larkmoor's 61 styles with their decks."""
    election = read_folder(LARKMOOR).election
    assert election is not None
    faces = faces_of(election)
    return tuple(zip(faces, run(faces, seed=1).value, strict=True))
