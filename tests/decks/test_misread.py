"""Mistakes over several decks by what they change: the same as the whole report counted for each of them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.decks.conftest import contest_of, face_with

from pollstead.plan.decks.misread import run_mistakes, with_changes
from pollstead.plan.decks.mistakes import mistakes_on, read_as
from pollstead.plan.decks.predetermined import added, predetermined
from pollstead.plan.decks.synthesis import run
from pollstead.plan.terms.decks import BallotFace, Deck, Mistake, MistakeKind, Results


def counted_whole(
    faces: tuple[BallotFace, ...], decks: tuple[Deck, ...]
) -> Iterator[tuple[Mistake, Results]]:
    """Every mistake with the report over all decks counted anew, face by face."""
    right = [predetermined(face, deck.ballots) for face, deck in zip(faces, decks, strict=True)]
    alone = []
    kinds = {}
    for face, deck in zip(faces, decks, strict=True):
        mine = {}
        for one in mistakes_on(face, deck.ballots):
            key = (one.mistake.kind.value, one.mistake.contest, one.mistake.first, one.mistake.second)
            mine[key] = one.results
            kinds.setdefault(key, one.mistake)
        alone.append(mine)
    for key, mistake in kinds.items():
        where = tuple(i for i, mine in enumerate(alone) if key in mine)
        for chosen in dict.fromkeys((where, *((i,) for i in where))):
            told = msgspec.structs.replace(mistake, faces=tuple(faces[i].key for i in chosen))
            yield told, added(alone[i][key] if i in chosen else right[i] for i in range(len(faces)))
    for a, b in combinations(range(len(faces)), 2):
        swapped = {
            a: read_as(faces[a], faces[b], decks[a].ballots),
            b: read_as(faces[b], faces[a], decks[b].ballots),
        }
        told = Mistake(kind=MistakeKind.STYLES, faces=(faces[a].key, faces[b].key))
        yield told, added(swapped.get(i, right[i]) for i in range(len(faces)))


@settings(max_examples=12, deadline=None)
@given(
    sizes=st.lists(
        st.tuples(st.integers(1, 4), st.integers(0, 1), st.integers(0, 3)), min_size=2, max_size=5
    ),
    seed=st.integers(0, 99),
)
def test_what_a_mistake_changes_is_the_whole_report_counted_anew(
    sizes: list[tuple[int, int, int]], seed: int
) -> None:
    """Two or three faces that share contests: same mistakes, and the same numbers for each."""
    contests = [
        contest_of(f"c{at}", choices, write_ins=lines, rotation=rotation % choices)
        for at, (choices, lines, rotation) in enumerate(sizes)
    ]
    faces = (
        face_with(*contests, key="01"),
        face_with(*contests[:-1], key="02"),
        face_with(*contests[1:], key="03"),
    )
    decks = run(faces, seed=seed).value
    right = added(predetermined(face, deck.ballots) for face, deck in zip(faces, decks, strict=True))
    quick = {one.mistake: with_changes(right, one.changes) for one in run_mistakes(faces, decks)}
    # A style that is read as another may lack a contest: its lines are then not there instead of 0.
    plain = {
        mistake: Results(
            totals=tuple(
                msgspec.structs.replace(total, count=results.of(total.cell) or 0) for total in right.totals
            )
        )
        for mistake, results in counted_whole(faces, decks)
    }
    assert quick == plain
    assert any(one.kind is MistakeKind.DEAD for one in quick)
