"""The explainer beside one that writes every single fault down and tries all pairs: the same ranking.

The plain one walks forward (what would be written if this stood there?), keeps every row as it is, and
prices a slip by the general alignment of two texts; it shares the odds and the list of what happens.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rapidfuzz.distance import OSA

from pollstead.election.fault_odds import FaultKind
from pollstead.election.station_type import CountUnit
from pollstead.reconcile.counts.balance import Reading
from pollstead.reconcile.counts.equations import Balance, Equation, TermLine
from pollstead.reconcile.counts.rows import Step
from pollstead.reconcile.counts.terms import BY_ID, key_of, split_key
from pollstead.reconcile.diagnosis.edits import EditKind, align
from pollstead.reconcile.explain.groups import KEPT_WITHIN
from pollstead.reconcile.explain.neighbors import pairs_of
from pollstead.reconcile.explain.odds import USUAL, among
from pollstead.reconcile.explain.processes import PROCESSES
from pollstead.reconcile.explain.reading_lines import MOST_SIZE, SELDOM_LARGE
from pollstead.reconcile.explain.search import explain
from pollstead.reconcile.explain.terms import Explained, SiteNight

DEVICE = "device/1"
LARGEST = 1_100
"""No number of these small sites is meant to be larger."""

CAST = "-public_counter_close@device/1 public_counter_open@device/1"
ROWS = (
    ("I1", f"ballots_received {CAST} -ballots_spoiled -ballots_unused"),
    ("I2", "check_ins -check_ins_cancelled -ballots_issued ballots_reissued"),
    ("I3", f"ballots_issued -ballots_spoiled {CAST}"),
    ("I4-report", "public_counter_close@device/1 -report_count_close@device/1"),
)
_SLIP = {
    EditKind.SUBSTITUTED: FaultKind.DIGIT_MISREAD,
    EditKind.TRANSPOSED: FaultKind.DIGITS_SWAPPED,
    EditKind.DROPPED: FaultKind.DIGIT_DROPPED,
    EditKind.DOUBLED: FaultKind.DIGIT_ADDED,
    EditKind.INSERTED: FaultKind.DIGIT_ADDED,
    EditKind.TWIN: FaultKind.PAIR_MISREAD,
}


def balance() -> Balance:
    """A small site: one scanner with a report, four rows, ten numbers."""
    equations = []
    for name, terms in ROWS:
        signed = tuple((-1, t[1:]) if t.startswith("-") else (1, t) for t in terms.split())
        equations.append(
            Equation(id=name, words=name, subject="site/S01", unit=CountUnit.BALLOTS, terms=signed)
        )
    wanted = {key for equation in equations for _, key in equation.terms}
    lines = tuple(
        TermLine(key=key, term=term, device=split_key(key)[1], unit="ballots")
        for term in BY_ID.values()
        if (key := key_of(term.id, DEVICE)) in wanted
    )
    return Balance(
        site="S01", sheets_per_ballot=1, steps=(Step.PAPER,), lines=lines, equations=tuple(equations)
    )


class Candidate(NamedTuple):
    """One fault written down: kind, moves, where from, what it does to each row, both costs."""

    kind: str
    moves: tuple[tuple[str, int], ...]
    other: str
    effect: tuple[int, ...]
    prior: int
    likelihood: int
    is_free: bool
    columns: frozenset[str]


def _candidates(values: dict[str, int], rows: list[dict[str, int]]) -> Iterator[Candidate]:
    night = SiteNight(site="S01", balance=balance(), readings=())

    def of(kind: FaultKind, moves: dict[str, int], likelihood: int, **more: object) -> Candidate:
        effect = tuple(sum(row.get(key, 0) * amount for key, amount in moves.items()) for row in rows)
        return Candidate(
            kind=kind.value,
            moves=tuple(moves.items()),
            other=str(more.get("other", "")),
            effect=effect,
            prior=int(str(more.get("prior", USUAL.of(kind)))),
            likelihood=likelihood,
            is_free=bool(more.get("is_free", False)),
            columns=frozenset(moves) if more.get("read", True) else frozenset(),
        )

    near: dict[str, list[tuple[FaultKind, str]]] = {key: [] for key in values}
    for copied, exchanged, one, other in pairs_of(night):
        near[one].append((copied, other))
        near[other].append((copied, one))
        if values[one] != values[other]:
            apart = values[one] - values[other]
            yield of(exchanged, {one: apart, other: -apart}, 0)
    for key, written in values.items():
        for meant in range(LARGEST):
            if meant == written:
                continue
            amount = written - meant
            rarer = 0
            if split_key(key)[0] in SELDOM_LARGE:
                rarer = round(1000 * math.log(1 + meant)) - round(1000 * math.log(1 + written))
            near_enough = OSA.distance(str(meant), str(written), score_cutoff=2) <= 2
            way = align(str(meant), str(written), USUAL.costs) if near_enough else None
            if way is not None and len(way.edits) == 1:
                yield of(_SLIP[way.edits[0].kind], {key: amount}, way.cost + rarer, prior=0)
            if BY_ID[split_key(key)[0]].source == "hand" and abs(amount) <= MOST_SIZE:
                kind = FaultKind.MISCOUNTED
                size = USUAL.size(kind, abs(amount))
                yield of(kind, {key: amount}, size, prior=USUAL.of(kind) + among(2))
            for kind, other in near[key]:
                if values[other] == written:
                    choices = sum(k is kind for k, _ in near[key])
                    cost = among(choices) + rarer
                    yield of(kind, {key: amount}, cost, other=other, is_free=True)
            if meant and written == meant * 2:
                yield of(FaultKind.WRITTEN_DOUBLE, {key: amount}, rarer)
            if written == 0:
                opened = split_key(key)[0] == "public_counter_open"
                kind = FaultKind.OPENING_NOT_ZERO if opened else FaultKind.NOT_WRITTEN
                yield of(kind, {key: amount}, rarer, is_free=True)
            cost = len(str(written)) * among(10) + rarer
            yield of(FaultKind.OTHER_NUMBER, {key: amount}, cost, is_free=True)
    yield from _happened(values, of)


def _happened(values: dict[str, int], of: Callable[..., Candidate]) -> Iterator[Candidate]:
    """What the registry says happens at a site, where every line that it moves is there."""
    for process in PROCESSES:
        moves = {key_of(t, DEVICE) if t in BY_ID else t: amount for t, amount in process.moves}
        of_site = [key for key in moves if "@" not in key]
        first = next((key for key in moves if "@" in key), None)
        have = {split_key(key)[0] for key in values}
        known = set(values) | {k for row in _rows() for k in row}
        if not set(of_site) <= known or (first is not None and first not in values):
            continue
        if (process.needs and not have & set(process.needs)) or have & set(process.without):
            continue
        for size in range(1, MOST_SIZE + 1):
            moved = {key: amount * size for key, amount in moves.items() if key in known}
            found = of(process.kind, moved, USUAL.size(process.kind, size), read=False)
            enough = all(values[key] >= amount for key, amount in moved.items() if key in values)
            if any(found.effect) and enough:
                yield found
    yield from _unread(values, of)


def _unread(values: dict[str, int], of: Callable[..., Candidate]) -> Iterator[Candidate]:
    """Every closing number of the device is what stood there at opening: anything may have been counted."""
    opening, screen = key_of("public_counter_open", DEVICE), key_of("public_counter_close", DEVICE)
    closing = [screen, key_of("report_count_close", DEVICE)]
    if all(values[key] == values[opening] for key in closing):
        for more in range(1, LARGEST):
            yield of(FaultKind.CLOSING_NOT_READ, dict.fromkeys(closing, -more), 0, is_free=True)


def _rows() -> list[dict[str, int]]:
    """The rows with the places that no line has: gone from both, issued alone, stock alone."""
    rows = [{key: c for c, key in equation.terms} for equation in balance().equations]
    rows[0] |= {"ballot gone from the count": 1, "blank ballot gone": 1}
    rows[2] |= {"ballot gone from the count": 1, "ballot more than was issued": -1}
    return rows


def plainly(values: dict[str, int]) -> list[list[tuple[int, frozenset[tuple[str, object, str]]]]]:
    """Groups of (cost, faults), by trying all single faults and all pairs."""
    rows = _rows()
    seen = tuple(sum(c * values.get(key, 0) for key, c in row.items()) for row in rows)
    every = list(_candidates(values, rows))
    by_effect: dict[tuple[int, ...], list[Candidate]] = {}
    for one in every:
        by_effect.setdefault(one.effect, []).append(one)
    found: list[tuple[Candidate, ...]] = [(one,) for one in by_effect.get(seen, ())]
    for one in every:
        rest = tuple(a - b for a, b in zip(seen, one.effect, strict=True))
        for other in by_effect.get(rest, ()):
            # Each pair once, and none that changes one reading twice or is the same thing twice.
            if (one.kind, one.moves, one.other) >= (other.kind, other.moves, other.other):
                continue
            alike = one.kind == other.kind and {k for k, _ in one.moves} == {k for k, _ in other.moves}
            if one.columns & other.columns or (alike and not one.columns) or _is_twice_free(one, other):
                continue
            found.append((one, other))
    alone = {pair: USUAL.of(FaultKind.SPOILED_ALONE) * _spoiled_alone(values, pair) for pair in found}
    cost = {pair: sum(one.prior + one.likelihood for one in pair) + alone[pair] for pair in found}
    best = min(cost.values(), default=0)
    groups: dict[object, list[tuple[int, frozenset[tuple[str, object, str]]]]] = {}
    kept = [p for p in found if all(any(one.effect) for one in p) and cost[p] <= best + KEPT_WITHIN]
    likeliest: dict[object, tuple[Candidate, ...]] = {}
    for pair in sorted(kept, key=lambda p: cost[p]):
        told = frozenset((one.kind, tuple(sorted(one.moves)), one.other) for one in pair)
        # Whatever asks for the same numbers is told with the likeliest that does.
        first = likeliest.setdefault(_asked(pair), pair)
        key = (tuple(sorted((one.effect, one.likelihood) for one in first)), alone[first])
        groups.setdefault(key, []).append((cost[pair], told))
    return [sorted(members, key=lambda m: m[0]) for members in groups.values()]


def _asked(faults: tuple[Candidate, ...]) -> tuple[tuple[tuple[str, int], ...], ...]:
    """What each fault makes of which numbers."""
    return tuple(sorted(tuple(sorted(one.moves)) for one in faults))


def _spoiled_alone(values: dict[str, int], faults: tuple[Candidate, ...]) -> bool:
    """Whether the true numbers of spoiled ballots and of reissues would differ."""
    meant = dict(values)
    for one in faults:
        for key, amount in one.moves:
            meant[key] = meant.get(key, 0) - amount
    return meant["ballots_spoiled"] != meant["ballots_reissued"]


def _is_twice_free(one: Candidate, other: Candidate) -> bool:
    """Two numbers that could be anything, along one direction: no row tells how much each is off."""
    ratios = {
        None if not b else Fraction(a, b) for a, b in zip(one.effect, other.effect, strict=True) if a or b
    }
    return one.is_free and other.is_free and len(ratios) == 1 and None not in ratios


def _told(explained: Explained) -> list[list[tuple[int, frozenset[tuple[str, object, str]]]]]:
    return [
        [
            (e.cost, frozenset((f.kind.value, tuple(sorted(f.moves)), f.other) for f in e.faults))
            for e in group.explanations
        ]
        for group in explained.groups
    ]


def played(seed: int) -> dict[str, int]:
    """A small day whose rows are all zero, made from the voters' side."""
    free = random.Random(seed).randint
    cast, spoiled, unused, cancelled = free(20, 180), free(0, 9), free(5, 99), free(0, 3)
    return {
        "ballots_received": cast + spoiled + unused,
        "ballots_unused": unused,
        "ballots_spoiled": spoiled,
        "check_ins": cast + cancelled,
        "check_ins_cancelled": cancelled,
        "ballots_issued": cast + spoiled,
        "ballots_reissued": spoiled,
        "public_counter_open@device/1": 0,
        "public_counter_close@device/1": cast,
        "report_count_close@device/1": cast,
    }


def readings(values: dict[str, int]) -> tuple[Reading, ...]:
    """Each number read once."""
    return tuple(Reading(key=key, value=value) for key, value in values.items())


@pytest.mark.full
@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000), st.lists(st.tuples(st.integers(0, 9), st.integers(-12, 99)), max_size=2))
def test_all_explanations_costs_and_groups_are_those_of_plain_enumeration(
    seed: int, changes: list[tuple[int, int]]
) -> None:
    """Nothing is missed, nothing is made up, and the same explanations stand in the same groups."""
    values = played(seed)
    keys = sorted(values)
    for place, amount in changes:
        values[keys[place]] = max(0, values[keys[place]] + amount)
    explained = explain(SiteNight(site="S01", balance=balance(), readings=readings(values)), USUAL)
    if not explained.differences:
        assert explained.groups == ()
        return
    wanted = {frozenset(members) for members in plainly(values)}
    assert {frozenset(members) for members in _told(explained)} == wanted


def test_a_device_that_nobody_read_at_closing_is_found_as_by_plain_enumeration() -> None:
    """Screen and report stand as at opening: the same explanations, and first that nobody read the device."""
    values = played(7)
    for term in ("public_counter_close", "report_count_close"):
        values[key_of(term, DEVICE)] = values[key_of("public_counter_open", DEVICE)]
    explained = explain(SiteNight(site="S01", balance=balance(), readings=readings(values)), USUAL)
    assert {frozenset(members) for members in _told(explained)} == {frozenset(m) for m in plainly(values)}
    first = explained.groups[0].explanations[0].faults
    assert [fault.kind for fault in first] == [FaultKind.CLOSING_NOT_READ]


def test_the_ranking_of_groups_is_that_of_plain_enumeration() -> None:
    """Groups come in the order of the sums of their weights, computed here from the costs alone."""
    values = played(3)
    values["ballots_spoiled"] += 1
    explained = explain(SiteNight(site="S01", balance=balance(), readings=readings(values)), USUAL)
    mine = [sum(math.exp(-cost / 1000) for cost, _ in members) for members in _told(explained)]
    assert mine == pytest.approx(sorted(mine, reverse=True), rel=1e-6)
    plain = sorted((sum(math.exp(-c / 1000) for c, _ in m) for m in plainly(values)), reverse=True)
    assert mine == pytest.approx(plain, rel=1e-6)
