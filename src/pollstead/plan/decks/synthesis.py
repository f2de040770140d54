"""Make the test deck of each ballot face: few ballots, and totals that show a wrong definition.

A contest has the same totals on every face that holds it, so that a report over several styles still has
different totals for its choices. Contests with as many positions as one another get totals in another order,
or larger ones where a deck has ballots to spare, so that two contests that are swapped show too.
"""

from __future__ import annotations

from collections import defaultdict

import msgspec

from pollstead.election.words import N_, message
from pollstead.plan.decks.packing import loads_of, pack
from pollstead.plan.decks.totals import Need, TotalSet, fewest, need_of, orders
from pollstead.plan.terms.decks import BallotFace, BallotPurpose, Deck, DeckBallot, FaceContest, Mark
from pollstead.plan.terms.part import Figure, NoWatch, Outcome, Reason, Watch, derive_seed

PART = "decks"
_WATCH = NoWatch()


def run(faces: tuple[BallotFace, ...], *, seed: int, watch: Watch = _WATCH) -> Outcome[tuple[Deck, ...]]:
    """A deck for each face, in the order of `faces`; the same faces and seed give the same decks.

    `bound` of the outcome says how near the decks are to the fewest ballots; each deck has its own. Raises
    ValueError where one contest id stands for contests that differ in more than their rotation.
    """
    contests = _contests(faces)
    totals = dict(totals_of(faces, seed))
    decks, reasons = [], []
    for done, face in enumerate(faces):
        watch.step(PART, done, len(faces))
        deck = _deck(face, totals, seed)
        decks.append(deck)
        reasons.append(_reason(face, deck, contests))
    size = sum(len(deck.ballots) for deck in decks)
    bound = sum(deck.bound for deck in decks)
    return Outcome(
        tuple(decks),
        reasons=tuple(reasons),
        bound=f"{size} ballots in all, {bound} at least",
        work_units=sum(len(deck.ballots) for deck in decks),
    )


def least_ballots(face: BallotFace) -> tuple[int, tuple[str, ...]]:
    """The fewest ballots of any deck with the points of `totals`, and the contests that ask for so many."""
    asked = {contest.id: _asked(need_of(contest)) for contest in face.contests}
    most = max(asked.values(), default=0)
    return most + 1, tuple(name for name, ballots in asked.items() if ballots == most)


def totals_of(faces: tuple[BallotFace, ...], seed: int) -> tuple[tuple[str, TotalSet], ...]:
    """The totals of every contest by its id, its choices in unrotated order.

    Among contests with as many positions no two are alike, as far as ballots allow it.
    """
    spare: dict[str, int] = {}
    for face in faces:
        size, _ = least_ballots(face)
        for contest in face.contests:
            room = size - 1 - int(need_of(contest).can_overvote)
            spare[contest.id] = min(spare.get(contest.id, room), room)
    taken: dict[int, list[TotalSet]] = defaultdict(list)
    found = []
    # Contests with the least room choose first: the others can take larger totals.
    contests = sorted(_contests(faces).values(), key=lambda c: (spare[c.id], c.id))
    for contest in contests:
        need = need_of(contest)
        totals = _unlike(need, spare[contest.id], taken[need.positions], seed)
        taken[need.positions].append(totals)
        found.append((contest.id, totals))
    return tuple(sorted(found, key=lambda one: one[0]))


def _asked(need: Need) -> int:
    return fewest(need).ballots + int(need.can_overvote)


def _contests(faces: tuple[BallotFace, ...]) -> dict[str, FaceContest]:
    found: dict[str, FaceContest] = {}
    for face in faces:
        for contest in face.contests:
            known = found.setdefault(contest.id, contest)
            if (known.vote_for, known.choices, known.write_in_lines) != (
                contest.vote_for,
                contest.choices,
                contest.write_in_lines,
            ):
                raise ValueError(
                    f"contest {contest.id!r} must be the same on each ballot but for its rotation"
                )
    return found


def _unlike(need: Need, room: int, taken: list[TotalSet], seed: int) -> TotalSet:
    """Totals unlike those taken, also when the list is rotated; else unlike; else the first there are."""
    # One seeded order for all contests with as many choices: what differs stays different under it.
    places = _shuffled(need.choices, seed, str(need.choices), "order")
    rotated = frozenset[tuple[int, ...]]().union(*map(_turned, taken))
    known = {_rows(one) for one in taken}
    best: TotalSet | None = None
    for one in orders(need, room):
        here = msgspec.structs.replace(one, choices=tuple(one.choices[p] for p in places))
        if rotated.isdisjoint(_turned(here)):
            return here
        if best is None or (_rows(best) in known and _rows(here) not in known):
            best = here
    assert best is not None  # noqa: S101 - the fewest ballots always fit into the room
    return best


def _shuffled(count: int, seed: int, key: str, purpose: str) -> list[int]:
    """0 to `count` - 1 in an order that the seed decides."""
    return sorted(range(count), key=lambda n: derive_seed(seed, PART, f"{key}/{n}", purpose))


def _rows(totals: TotalSet) -> tuple[int, ...]:
    return (*totals.choices, *totals.lines)


def _turned(totals: TotalSet) -> frozenset[tuple[int, ...]]:
    """The votes by position under every rotation of the list of choices."""
    names = totals.choices
    return frozenset((*names[i:], *names[:i], *totals.lines) for i in range(max(1, len(names))))


def _deck(face: BallotFace, totals: dict[str, TotalSet], seed: int) -> Deck:
    size, by = least_ballots(face)
    marks: list[list[Mark]] = [[] for _ in range(size)]
    overvoted = False
    for contest in face.contests:
        need, mine = need_of(contest), totals[contest.id]
        rows = (*mine.choices, *mine.lines)
        packed = pack(rows, loads_of(need, rows, mine.ballots))
        if packed is None:
            raise ValueError(f"the votes of contest {contest.id!r} do not fit on {mine.ballots} ballots")
        for ballot, places in enumerate(packed):
            marks[ballot] += [Mark(contest=contest.id, position=_position(contest, p)) for p in places]
        if need.can_overvote:
            overvoted = True
            drawn = _shuffled(need.positions, seed, contest.id, "overvote")
            # Write-in lines alone could hide one that is dead: what it loses, the ballot gives back.
            first = next((place for place in drawn if place < need.choices), drawn[0])
            too_many = [first, *(place for place in drawn if place != first)][: need.vote_for + 1]
            marks[size - 2] += [Mark(contest=contest.id, position=_position(contest, p)) for p in too_many]
    ballots = tuple(
        DeckBallot(
            number=number,
            purpose=_purpose(number, size, overvoted=overvoted),
            marks=tuple(
                mark
                for contest in face.contests
                for mark in sorted((m for m in mine if m.contest == contest.id), key=lambda m: m.position)
            ),
        )
        for number, mine in enumerate(marks, start=1)
    )
    return Deck(face=face.key, ballots=ballots, bound=size, bound_by=by)


def _purpose(number: int, size: int, *, overvoted: bool) -> BallotPurpose:
    if number == size:
        return BallotPurpose.BLANK
    return BallotPurpose.OVERVOTED if overvoted and number == size - 1 else BallotPurpose.VOTES


def _position(contest: FaceContest, place: int) -> int:
    """Where the choice at `place` (from 0) of the unrotated list stands on this face, from 1."""
    choices = len(contest.choices)
    return (place - contest.rotation) % choices + 1 if place < choices else place + 1


def _reason(face: BallotFace, deck: Deck, contests: dict[str, FaceContest]) -> Reason:
    binding = contests[deck.bound_by[0]]
    need = need_of(binding)
    few = fewest(need)
    return Reason(
        subject=f"deck/{face.key}",
        field="ballots",
        text=message(
            N_(
                "{ballots} ballots: {contest} needs {votes} for different totals, {over} overvoted, "
                "and one ballot is blank. No deck that shows as much has fewer than {bound}."
            ),
            ballots=len(deck.ballots),
            contest=binding.words,
            votes=few.ballots,
            over=int(need.can_overvote),
            bound=deck.bound,
        ),
        figures=(
            Figure(name="choices", value=str(need.choices)),
            Figure(name="write-in lines", value=str(need.write_ins)),
            Figure(name="vote for", value=str(need.vote_for)),
            Figure(name="sum of totals", value=str(few.total)),
            Figure(name="fewest ballots", value=str(deck.bound)),
        ),
    )
