"""What to look at next: what an act would settle over how much it disturbs.

Looking at a number again shows what each explanation says should stand there. The information of an act is
by how much it lessens the entropy of the explanations in the mean; that it may show a number that closes the
rows is worth something too, else nobody would look at what is nearly sure. Acts are ranked by both together
over their intrusiveness. One that looks at a number of the likeliest explanation is always among them, where
there is one. A container is never opened for it, and what was counted as often as the county's rule says is
not counted again.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from pollstead.election.next_acts import LookAgain
from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.reconcile.counts.terms import BY_ID, split_key
from pollstead.reconcile.explain.processes import PROCESSES
from pollstead.reconcile.explain.terms import Explained, Explanation, SiteNight

MOST_ACTS = 3
CLOSING = 1.0
"""Nats: what a number is worth that closes the rows. Our own guess."""
_LEAST_WORTH = 0.02
"""Nats: an act that is worth less than this is not suggested."""

IN_A_CONTAINER = frozenset(("ballots_auxiliary", "ballots_held_apart", "ballots_in_box", "paper_in_box"))
"""What lies in a closed container: never suggested."""
_ACT_OF_TERM: Mapping[str, LookAgain] = {
    "provisional_envelopes": LookAgain.COUNT_ENVELOPES,
    "provisional_entries": LookAgain.COUNT_ENTRIES,
    "ballots_spoiled": LookAgain.COUNT_SPOILED,
    "ballots_fled": LookAgain.COUNT_SPOILED,
    "ballots_damaged": LookAgain.COUNT_SPOILED,
    "ballots_unused": LookAgain.COUNT_UNUSED,
}
_ACT_OF_SOURCE: Mapping[str, LookAgain] = {
    "screen": LookAgain.SECOND_LOOK,
    "memory_device": LookAgain.READ_MEMORY,
}
_TALLIES = ("ballots_issued", "ballots_reissued")
_FOUND_AGAIN = frozenset(process.kind for process in PROCESSES if process.counted_again)
_HAPPENED = frozenset(process.kind for process in PROCESSES)


class Outcome(Value, frozen=True, kw_only=True):
    """What looking again may show: the number, and the fitting explanations that it leaves, by id.

    `as_written` when the same number is found again. `share` is internal, for ranking and benches.
    """

    value: int
    as_written: bool
    leaves: tuple[str, ...]
    share: float

    @property
    def left(self) -> int:
        """How many explanations are left."""
        return len(self.leaves)


class Act(Value, frozen=True, kw_only=True):
    """One act: what is looked at again, how much it disturbs, what each outcome would settle.

    `information` is in nats and `closes` the share of another number than was written: internal numbers.
    `outcomes` begin with the number as written.
    """

    act: LookAgain
    key: str
    intrusiveness: int
    information: float
    closes: float
    outcomes: tuple[Outcome, ...]

    @property
    def worth(self) -> float:
        """What it tells and may close, in nats."""
        return self.information + CLOSING * self.closes


def act_of(key: str) -> LookAgain | None:
    """The act that looks at a number again; None where that would open a container, or nobody can.

    A number of an earlier day is read again on that day's paper, whatever it counted.
    """
    day, _, earlier = key.partition("/")
    if earlier and day[:4].isdigit():
        term = BY_ID.get(split_key(earlier.partition("%")[0])[0])
        return None if term is None else LookAgain.REREAD_PAPER
    term = BY_ID.get(split_key(key.partition("%")[0])[0])
    if term is None or term.id in IN_A_CONTAINER:
        return None
    if term.id in _ACT_OF_TERM:
        return _ACT_OF_TERM[term.id]
    if term.moment is Moment.OPENING:
        # The opening is over: what was written then can be read again, and no more.
        return LookAgain.REREAD_PAPER
    return _ACT_OF_SOURCE.get(term.source, LookAgain.REREAD_PAPER)


def next_acts(
    night: SiteNight, explained: Explained, costs: Mapping[LookAgain, int], counted_enough: int
) -> tuple[Act, ...]:
    """The acts worth doing, the best first, at most three.

    The look that confirms or rules out the likeliest explanation is among them wherever an act reads one of
    its numbers, however little it would tell beside others: nothing is corrected unseen. A number that people
    counted `counted_enough` times by hand is not counted again.
    """
    every = [one for group in explained.groups for one in group.explanations]
    if not every:
        return ()
    fitting = explained.near
    found = []
    written = {one.key: one.value for one in night.known if not one.exact}
    written |= {one.key: one.value for one in night.readings}
    for key, value in sorted(written.items()):
        act = act_of(key)
        times = max((r.times for r in night.readings if r.key == key), default=0)
        if act is None or (_is_count(act) and times >= counted_enough):
            continue
        found.append(_act(act, key, value, every, explained, fitting, costs[act]))
    found.sort(key=lambda a: (-round(a.worth / a.intrusiveness, 6), a.intrusiveness, a.key))
    worth_it = [act for act in found if act.worth > _LEAST_WORTH][:MOST_ACTS]
    likeliest = {key for fault in every[0].faults for key in fault.keys}
    if not any(act.key in likeliest for act in worth_it):
        worth_it = [*worth_it[: MOST_ACTS - 1], *[act for act in found if act.key in likeliest][:1]]
    return tuple(worth_it)


def shown_again(one: Explanation, key: str, value: int) -> int:
    """What `key` shows when it is looked at again, if this explanation is what happened."""
    for fault in one.faults:
        if fault.kind in _HAPPENED and fault.kind not in _FOUND_AGAIN:
            continue
        for moved, amount in fault.moves:
            # Of what was logged nowhere, the envelope holds it and no tally does.
            if moved == key and (fault.kind not in _HAPPENED or moved not in _TALLIES):
                value -= amount
    return value


def _is_count(act: LookAgain) -> bool:
    return act in (LookAgain.COUNT_ENVELOPES, LookAgain.COUNT_SPOILED, LookAgain.COUNT_UNUSED)


def _act(
    act: LookAgain,
    key: str,
    value: int,
    every: list[Explanation],
    explained: Explained,
    fitting: frozenset[str],
    cost: int,
) -> Act:
    cells: dict[int, list[float]] = {value: [explained.unknown]}
    left: dict[int, list[str]] = {value: []}
    for one in every:
        shown = shown_again(one, key, value)
        cells.setdefault(shown, []).append(one.share)
        left.setdefault(shown, []).extend([one.id] if one.id in fitting else [])
    before = _entropy([share for cell in cells.values() for share in cell])
    after = math.fsum(math.fsum(cell) * _entropy(cell) for _, cell in sorted(cells.items()))
    other = [share for shown, cell in sorted(cells.items()) if shown != value for share in cell]
    outcomes = [
        Outcome(
            value=shown,
            as_written=shown == value,
            leaves=tuple(left[shown]),
            share=round(math.fsum(cell), 9),
        )
        for shown, cell in cells.items()
        if left[shown] or shown == value
    ]
    return Act(
        act=act,
        key=key,
        intrusiveness=cost,
        information=round(max(0.0, before - after), 9),
        closes=round(math.fsum(other), 9),
        outcomes=tuple(sorted(outcomes, key=lambda o: (not o.as_written, -o.share, o.value))),
    )


def _entropy(shares: list[float]) -> float:
    total = math.fsum(shares)
    return -math.fsum(s / total * math.log(s / total) for s in shares if s > 0) if total > 0 else 0.0
