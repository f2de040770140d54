"""What to look at next where receiving or the canvass has another number than a site counted.

Two looks, and neither opens anything: the total again where it was typed from, and what was taken in, part
by part. A slip of typing shows at the first, a part left out or taken twice at the second. As for a site
they are ranked by what they tell and may close over how much they disturb.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Mapping

from pollstead.election.fault_odds import FaultKind
from pollstead.election.next_acts import LookAgain
from pollstead.election.values import Value
from pollstead.reconcile.explain.county import CountyExplained
from pollstead.reconcile.explain.next_act import CLOSING
from pollstead.reconcile.explain.terms import Explanation

LEAST_WORTH = 0.02
"""Nats: a look that is worth less than this is not suggested."""
_TAKEN_IN = frozenset((FaultKind.UPLOAD_MISSED, FaultKind.UPLOAD_TWICE))


class CountyLook(enum.StrEnum):
    """What is looked at again."""

    TOTAL = "the total where it was typed from"
    TAKEN_IN = "what was taken in, part by part"


_COST_OF: Mapping[CountyLook, LookAgain] = {
    CountyLook.TOTAL: LookAgain.REREAD_PAPER,
    CountyLook.TAKEN_IN: LookAgain.SECOND_LOOK,
}


class CountyOutcome(Value, frozen=True, kw_only=True):
    """What a look may show, and the fitting explanations that it leaves.

    `value` is the total that is found, None where parts are looked at; `as_before` says that nothing is
    found to be otherwise.
    """

    value: int | None
    as_before: bool
    leaves: tuple[Explanation, ...]


class CountyAct(Value, frozen=True, kw_only=True):
    """One look: how much it disturbs, what it tells and may close (nats, internal), what it may show."""

    look: CountyLook
    intrusiveness: int
    worth: float
    outcomes: tuple[CountyOutcome, ...]


def county_acts(one: CountyExplained, costs: Mapping[LookAgain, int]) -> tuple[CountyAct, ...]:
    """The looks worth taking at a total, the best first."""
    acts = (_act(one, look, costs[by]) for look, by in _COST_OF.items())
    worth = (act for act in acts if act.worth > LEAST_WORTH)
    return tuple(sorted(worth, key=lambda a: (-round(a.worth / a.intrusiveness, 6), a.intrusiveness)))


def _act(one: CountyExplained, look: CountyLook, cost: int) -> CountyAct:
    """Each explanation shows one thing; what none of them says shows what stood there before."""
    before = _shown(one, None, look)
    held: dict[tuple[int | None, str], list[Explanation]] = {before: []}
    shares: dict[tuple[int | None, str], list[float]] = {before: [one.unknown]}
    for explanation in one.explanations:
        shown = _shown(one, explanation, look)
        held.setdefault(shown, []).append(explanation)
        shares.setdefault(shown, []).append(explanation.share)
    told = _entropy([share for cell in shares.values() for share in cell])
    told -= math.fsum(math.fsum(cell) * _entropy(cell) for cell in shares.values())
    closes = math.fsum(share for shown, cell in shares.items() if shown != before for share in cell)
    fitting = {e.id for e in one.explanations[: one.fits]}
    outcomes = (
        CountyOutcome(
            value=shown[0], as_before=shown == before, leaves=tuple(e for e in cell if e.id in fitting)
        )
        for shown, cell in held.items()
    )
    return CountyAct(
        look=look,
        intrusiveness=cost,
        worth=round(max(0.0, told) + CLOSING * closes, 9),
        outcomes=tuple(
            sorted((o for o in outcomes if o.leaves or o.as_before), key=lambda o: not o.as_before)
        ),
    )


def _shown(one: CountyExplained, explanation: Explanation | None, look: CountyLook) -> tuple[int | None, str]:
    """What a look shows if this is what happened: the total found, or which part is not there once."""
    taken_in = explanation is not None and explanation.faults[0].kind in _TAKEN_IN
    if look is CountyLook.TOTAL:
        # What was taken in wrongly stands wrong where it is read again; a slip of typing does not.
        return (one.read if explanation is None or taken_in else one.counted, "")
    return (None, explanation.id if explanation is not None and taken_in else "")


def _entropy(shares: list[float]) -> float:
    total = math.fsum(shares)
    return -math.fsum(s / total * math.log(s / total) for s in shares if s > 0) if total > 0 else 0.0
