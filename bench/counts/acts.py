"""The suggested next acts carried out in play: does looking where the product says settle the difference?

A look finds what stands there. Where somebody copied or counted wrongly, that is the right number, but for a
small chance of erring again; where something happened at the site and is written nowhere (a spoiled ballot
in no envelope), it is the number that was read before.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from typing import NamedTuple

from bench.counts.asking import site_night
from bench.counts.night import Seeded
from bench.counts.omissions import WEIGHTS as OMISSIONS

from pollstead.election.next_acts import act_costs
from pollstead.reconcile.explain.next_act import next_acts
from pollstead.reconcile.explain.odds import Odds
from pollstead.reconcile.explain.search import explain

MOST_ACTS = 3
ERRS_AGAIN = 0.005
"""How often a second look is wrong too; within published rates of careful manual entry, own guess."""
COUNTED_ENOUGH = 2

A_LOOK_FINDS: frozenset[str] = frozenset(
    (
        "bin not emptied",
        "bin counted in sheets",
        "closing number not taken, opening stands",
        "exchanged device not read",
        "memory device not read",
        "memory device read twice",
        "opening written as zero",
        "pack counted twice or not",
        "report of the day before copied",
        "resupply not written",
        "spoiled counted in sheets",
        "unused counted before the resupply",
        "unused counted in sheets",
    )
)
"""Omissions whose right number still stands somewhere: on a screen, a report, a receipt, in a stack."""


class Played(NamedTuple):
    """What came of the acts of one night.

    `findable` whether looking at every number again would close the rows; `closed` whether the acts did,
    after how many (`acts`); `offered` whether any act was suggested.
    """

    findable: bool
    closed: bool
    acts: int
    offered: bool


def is_found_by_looking(label: str) -> bool:
    """Whether a second look at the numbers of a fault shows the right ones."""
    return label not in OMISSIONS or label in A_LOOK_FINDS


Chooser = Callable[[Seeded, Odds, int, set[str]], str | None]
"""Says which number to look at next, given those looked at already; None for none."""


def play(night: Seeded, odds: Odds, pack: int, seed: str, choose: Chooser) -> Played:
    """Look at the number that is chosen, explain again, at most three times."""
    chance = random.Random(seed)  # noqa: S311 - errors are drawn, no secret
    there = dict(night.read)
    for fault in night.faults:
        if is_found_by_looking(fault.label):
            there |= {key: was for key, was, _ in fault.changes}
    findable = not night._replace(read=there).differs
    now, looked, offered = dict(night.read), set[str](), False
    for done in range(1, MOST_ACTS + 1):
        key = choose(night._replace(read=now), odds, pack, looked)
        if key is None:
            break
        offered = True
        looked.add(key)
        now[key] = _look(there, key, chance)
        if not night._replace(read=now).differs:
            return Played(findable=findable, closed=True, acts=done, offered=True)
    return Played(findable=findable, closed=False, acts=len(looked), offered=offered)


def suggested(night: Seeded, odds: Odds, pack: int, looked: set[str]) -> str | None:
    """The number that the product says to look at next, those looked at already left out."""
    asked = site_night(night, pack)
    acts = next_acts(asked, explain(asked, odds), act_costs(), COUNTED_ENOUGH)
    return next((act.key for act in acts if act.key not in looked), None)


def likeliest(night: Seeded, odds: Odds, pack: int, looked: set[str]) -> str | None:
    """A rival: the first number that the likeliest explanation names, however hard it is to look at."""
    groups = explain(site_night(night, pack), odds).groups
    keys = (
        key
        for group in groups[:1]
        for one in group.explanations
        for fault in one.faults
        for key in fault.keys
    )
    return next((key for key in keys if key in night.read and key not in looked), None)


def _look(there: Mapping[str, int], key: str, chance: random.Random) -> int:
    if chance.random() < ERRS_AGAIN:
        return max(0, there[key] + chance.choice((-10, -1, 1, 10)))
    return there[key]
