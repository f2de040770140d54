"""From what was found to what is told: shares, groups that the numbers cannot tell apart, how many fit.

Two explanations are in one group where each of their faults does the same to the rows and makes the numbers
that were read as likely: then only how often things happen tells them apart, and no number does. Explanations
by which the same numbers ought to be written are one as well, however those came to be wrong: not even a look
at the number would tell them apart. They stand where the likeliest of them stands.
"""

from __future__ import annotations

import hashlib
import math
from typing import TYPE_CHECKING, NamedTuple

from pollstead.election.fault_odds import FaultKind
from pollstead.reconcile.explain.odds import Odds
from pollstead.reconcile.explain.system import System, Vector, stands_alone
from pollstead.reconcile.explain.terms import Explained, Explanation, Fault, Group, SiteNight

if TYPE_CHECKING:
    from pollstead.reconcile.explain.families import Exchange
    from pollstead.reconcile.explain.search import Way

KEPT_WITHIN = 9_211
"""Millinats: what is more than ten thousand times less likely than the likeliest is not kept."""
DIGITS_OF_SHARE = 9

Part = tuple[Vector, int, int]
"""What one fault does to the rows, as direction and times, and the cost of what was read given that."""


class Found(NamedTuple):
    """One or two faults that explain everything: cost, what each does with how likely its readings are."""

    cost: int
    parts: tuple[Part, ...]
    ways: tuple[Way, ...]
    exchanges: tuple[Exchange, ...]

    def faults(self) -> tuple[Fault, ...]:
        """The faults, always in the same order."""
        found = [way.family.fault(way.amount, way.option) for way in self.ways]
        found += [one.fault for one in self.exchanges]
        return tuple(sorted(found, key=lambda f: (f.kind.value, f.moves, f.other)))


def explained_of(night: SiteNight, system: System, odds: Odds, found: tuple[Found, ...]) -> Explained:
    """What explains a site's differences, likeliest group first; equal ones always in the same order."""
    unknown = something_else(system, odds)
    best = min((one.cost for one in found), default=unknown)
    top = min(best, unknown)
    kept = [one for one in found if one.cost <= best + KEPT_WITHIN]
    weights = [math.exp((top - one.cost) / 1000) for one in kept]
    rest = math.exp((top - unknown) / 1000) if system.residual else 0.0
    total = math.fsum(weights) + rest
    told = [
        (_explanation(one, round(weight / total, DIGITS_OF_SHARE)), one)
        for one, weight in zip(kept, weights, strict=True)
    ]
    groups: dict[tuple[Part, ...], list[Explanation]] = {}
    stands: dict[object, tuple[Part, ...]] = {}
    for explanation, one in sorted(told, key=lambda pair: (pair[0].cost, pair[0].id)):
        parts = stands.setdefault(_corrected(explanation), one.parts)
        groups.setdefault(parts, []).append(explanation)
    ranked = sorted((_group(members) for members in groups.values()), key=_rank)
    near = top + odds.fits_within
    return Explained(
        site=night.site,
        differences=system.differences,
        groups=tuple(ranked),
        unknown=round(rest / total, DIGITS_OF_SHARE) if total else 0.0,
        fits=sum(one.cost <= near for one in kept),
        fitting=sum(any(e.cost <= near for e in group.explanations) for group in ranked),
        digest=digest_of(night),
    )


def something_else(system: System, odds: Odds) -> int:
    """The cost of what no fault here says: how often it happens, which rows, how large each size.

    Which of the rows differ is one choice of so many rows; a size v has the share 1 / (v (v + 1)).
    """
    rows = math.comb(system.n_rows, len(system.residual))
    sizes = {abs(amount) for _, amount in system.residual}
    cost = math.log(rows) + math.fsum(math.log(v * (v + 1)) for v in sorted(sizes)) if sizes else 0.0
    alone = odds.of(FaultKind.SPOILED_ALONE) if stands_alone(system.values, ()) else 0
    return odds.of(FaultKind.SOMETHING_ELSE) + alone + round(1000 * cost)


def digest_of(night: SiteNight) -> str:
    """A digest of the numbers and rows that were explained: another one when any of them changes."""
    lines = [f"site {night.site}"]
    for equation in (*night.balance.equations, *night.more):
        lines.append(f"row {equation.id} {equation.subject} {equation.terms}")
    lines += sorted(f"read {one.key} {one.value}" for one in night.readings)
    lines += sorted(f"known {one.key} {one.value}" for one in night.known)
    lines += sorted(f"other {o.key} {o.where.value} {o.name} {o.value}" for o in night.others)
    lines += sorted(f"bound {b.key} {b.least} {b.most}" for b in night.bounds)
    lines += sorted(f"jam {jam.event}" for jam in night.jams)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _explanation(one: Found, share: float) -> Explanation:
    faults = one.faults()
    said = "\n".join(f"{f.kind.value} {f.moves} {f.other}" for f in faults)
    name = hashlib.sha256(said.encode()).hexdigest()[:16]
    return Explanation(id=name, faults=faults, cost=one.cost, share=share)


def _corrected(explanation: Explanation) -> tuple[tuple[tuple[str, int], ...], ...]:
    """What each fault makes of which readings: with the numbers as read, what ought to be written."""
    return tuple(sorted(tuple(sorted(fault.moves)) for fault in explanation.faults))


def _group(members: list[Explanation]) -> Group:
    ranked = tuple(sorted(members, key=lambda e: (e.cost, e.id)))
    share = round(math.fsum(one.share for one in ranked), DIGITS_OF_SHARE)
    return Group(explanations=ranked, share=share)


def _rank(group: Group) -> tuple[float, int, str]:
    first = group.explanations[0]
    return (-group.share, first.cost, first.id)
