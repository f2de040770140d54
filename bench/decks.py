"""Test decks of Larkmoor's 61 ballot styles: how large, and which mistakes of a device would show.

Beside ours stand three decks that people make by hand: one vote for each position (ballot 1 marks the first
position of every contest, ballot 2 the second …); the same with one overvoted and one blank ballot; and a
deck with different totals made contest by contest, so that no ballot serves two contests. The mistakes are
every single one that `plan.decks.mistakes` knows, on the report of one style; two styles read as one
another's are tried on the report of each style and on one report over both. Under our own list of mistakes;
not how often devices have them.

    ./run exec pollstead bench decks
"""

from __future__ import annotations

import json
import sys
import time
from collections import Counter
from collections.abc import Callable
from itertools import combinations
from pathlib import Path

from bench.measured import machine_and_moment

from pollstead.intake.folder import read_folder
from pollstead.plan.decks.blind_spots import Known, judge
from pollstead.plan.decks.faces import faces_of
from pollstead.plan.decks.mistakes import contest_mistakes, mistakes_on, read_as
from pollstead.plan.decks.predetermined import added, predetermined
from pollstead.plan.decks.synthesis import run
from pollstead.plan.decks.totals import fewest, need_of
from pollstead.plan.terms.decks import BallotFace, BallotPurpose, DeckBallot, Mark, Results

ROOT = Path(__file__).resolve().parents[1]
SEED = 20281107
Ballots = tuple[DeckBallot, ...]


def one_vote_per_position(face: BallotFace) -> Ballots:
    """Ballot n marks the nth position of every contest that has one."""
    most = max(contest.positions for contest in face.contests)
    return tuple(
        DeckBallot(
            number=n,
            purpose=BallotPurpose.VOTES,
            marks=tuple(Mark(contest=c.id, position=n) for c in face.contests if n <= c.positions),
        )
        for n in range(1, most + 1)
    )


def with_over_and_blank(face: BallotFace) -> Ballots:
    """The same, with a ballot overvoted from the top in each contest and one that is blank."""
    ballots = one_vote_per_position(face)
    over = tuple(
        Mark(contest=c.id, position=n)
        for c in face.contests
        if c.positions > c.vote_for
        for n in range(1, c.vote_for + 2)
    )
    size = len(ballots)
    return (
        *ballots,
        DeckBallot(number=size + 1, purpose=BallotPurpose.OVERVOTED, marks=over),
        DeckBallot(number=size + 2, purpose=BallotPurpose.BLANK),
    )


def contest_by_contest(face: BallotFace) -> int:
    """Ballots of a deck with different totals in which each ballot serves one contest; one blank for all."""
    return 1 + sum(fewest(need).ballots + int(need.can_overvote) for need in map(need_of, face.contests))


def shown(results: Results) -> dict[str, int]:
    """A report by cell, lines of nothing left out: a style without a contest shows none of it."""
    return {total.cell.id: total.count for total in results.totals if total.count}


def styles_swapped(faces: tuple[BallotFace, ...], decks: dict[str, Ballots]) -> dict[str, int]:
    """Pairs of styles read as one another's: how many show by style, and on one report over both."""
    right = {face.key: predetermined(face, decks[face.key]) for face in faces}
    found: Counter[str] = Counter()
    for one, other in combinations(faces, 2):
        found["pairs"] += 1
        if one.contests == other.contests:
            found["pairs with the same ballot, which no totals can tell apart"] += 1
            continue
        first, second = read_as(one, other, decks[one.key]), read_as(other, one, decks[other.key])
        by_style = shown(first) != shown(right[one.key]) or shown(second) != shown(right[other.key])
        together = shown(added((first, second))) != shown(added((right[one.key], right[other.key])))
        found["shown by style"] += by_style
        found["shown on one report over both"] += together
    return dict(found)


def single_mistakes(
    faces: tuple[BallotFace, ...], decks: dict[str, Ballots], *, votes_only: bool
) -> dict[str, object]:
    """Share of the single mistakes of each kind that would show, by kind and in all.

    `votes_only`: on a report that prints votes and no overvotes or undervotes.
    """
    tried: Counter[str] = Counter()
    unseen: Counter[str] = Counter()
    known: Known = {}
    for face in faces:
        for contest in face.contests:
            part = BallotFace(key=face.key, style=face.style, contests=(contest,))
            tried.update(one.mistake.kind.value for one in mistakes_on(part, ()))
        tried.update(one.mistake.kind.value for one in contest_mistakes(face, ()))
        unseen.update(
            one.kind.value for one in judge(face, decks[face.key], votes_only=votes_only, known=known).unseen
        )
    whole = sum(tried.values())
    return {
        "tried": whole,
        "shown": round(1 - sum(unseen.values()) / whole, 4),
        "shown by kind": {kind: round(1 - unseen[kind] / count, 4) for kind, count in sorted(tried.items())},
        "tried by kind": dict(sorted(tried.items())),
    }


def main() -> int:
    """Measure, print and keep the figures."""
    here = machine_and_moment()
    election = read_folder(ROOT / "larkmoor").election
    if election is None:
        raise ValueError("larkmoor cannot be read")
    faces = faces_of(election)
    began = time.process_time()
    made = run(faces, seed=SEED)
    took_ms = (time.process_time() - began) * 1000
    ours = {deck.face: deck.ballots for deck in made.value}
    kinds: tuple[tuple[str, Callable[[BallotFace], Ballots]], ...] = (
        ("ours", lambda face: ours[face.key]),
        ("one vote per position", one_vote_per_position),
        ("one vote per position, one overvoted, one blank", with_over_and_blank),
    )
    rows = {}
    for name, deck_of in kinds:
        decks = {face.key: deck_of(face) for face in faces}
        sizes = [len(ballots) for ballots in decks.values()]
        rows[name] = {
            "ballots in all": sum(sizes),
            "ballots of a deck": {"least": min(sizes), "most": max(sizes)},
            "single mistakes": single_mistakes(faces, decks, votes_only=False),
            "single mistakes, on a report of votes alone": single_mistakes(faces, decks, votes_only=True),
            "styles swapped": styles_swapped(faces, decks),
        }
    result = {
        "what": "test decks of Larkmoor's ballot styles, under our own list of mistakes",
        **here,
        "styles": len(faces),
        "contests on a style": {
            "least": min(len(f.contests) for f in faces),
            "most": max(len(f.contests) for f in faces),
        },
        "CPU ms to make all decks": round(took_ms),
        "fewest ballots of any decks with the six points, in all": sum(deck.bound for deck in made.value),
        "ballots with different totals made contest by contest, in all": sum(
            contest_by_contest(face) for face in faces
        ),
        "decks": rows,
    }
    text = json.dumps(result, indent=2)
    (ROOT / "bench" / "results" / "decks.json").write_text(text + "\n", encoding="utf-8")
    print(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
