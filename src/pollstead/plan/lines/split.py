"""The split of a fixed fleet over all sites: whole numbers, with a proved bound and the worth of one more.

Each site's table (`split_tables`) says what the same simulated days make of each of its numbers. The split
takes one row of each table under the fleet's numbers (`choice`). Where it wants to go to the edge of what was
tried, more is tried there. The bound holds for all numbers tried; that no others are better is not proved.

Sites are gone through in the order of their seed keys, so the order in which they are given changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pollstead.election.words import N_
from pollstead.plan.lines.choice import Choices, Chosen, choices, choose, limits_kept
from pollstead.plan.lines.split_policies import policy_prices
from pollstead.plan.lines.split_short import over_limit_notices, short_notices
from pollstead.plan.lines.split_tables import Box, Range, Tables, range_of, uses, within_bounds
from pollstead.plan.terms.part import NoWatch, Outcome
from pollstead.plan.terms.split import (
    Goal,
    NoSplit,
    Price,
    Response,
    SiteSplit,
    SplitAnswer,
    SplitGiven,
)

if TYPE_CHECKING:
    from pollstead.plan.terms.part import Watch

PART = N_("split of the fleet")
MOST_ROUNDS = 12
"""How often more numbers are tried because the split went to the edge of those tried before."""

WHOLE_PPM = 1_000_000


@dataclass(frozen=True, slots=True)
class Worst:
    """The least possible worst site: its longest waits in ms, found and proved, over the simulated days."""

    found_ms: int
    bound_ms: int


def split(
    given: SplitGiven, seed: int, *, watch: Watch | None = None, workers: int = 1
) -> Outcome[SplitAnswer | NoSplit]:
    """Split the fleet. Work units are voters' passes. `watch` may raise `Cancelled`.

    Where the fleet cannot give every site its least numbers, the answer is `NoSplit`: its notices say what is
    short, where, and by how much.
    """
    return _Split(given, seed, watch or NoWatch(), workers).outcome()


class _Split:
    """One split while it is being made."""

    def __init__(self, given: SplitGiven, seed: int, watch: Watch, workers: int) -> None:
        self.given = given
        self.sites = tuple(sorted(given.sites, key=lambda site: site.key))
        self.watch = watch
        self.limits = [kind.available for kind in given.fleet]
        self.allowed: list[Range] = [range_of(site, given.fleet) for site in self.sites]
        self.tables = Tables(self.sites, seed, given.days, workers)

    def outcome(self) -> Outcome[SplitAnswer | NoSplit]:
        short = short_notices(self.sites, self.allowed, self.given.fleet)
        if short:
            return Outcome(NoSplit(notices=short), notices=short)
        boxes = [Box(site, allowed) for site, allowed in zip(self.sites, self.allowed, strict=True)]
        self._deep_enough(boxes)
        self._try(boxes, 1)
        found = None
        for turn in range(2, MOST_ROUNDS + 2):
            found = self._chosen()
            if found is None:
                wider = [box for box in boxes for k in range(4) if box.lower(k)]
                if not wider:
                    break
            elif turn == MOST_ROUNDS + 1:
                break
            else:
                wanted = zip(boxes, self._wanted(*found), strict=True)
                wider = [box for box, mine in wanted for counts in mine if box.wider(counts)]
                if not wider:
                    break
            self._try(boxes, turn)
        if found is None:
            # Every site alone can have its least numbers and the fleet holds them: choosing cannot fail.
            raise ArithmeticError("no split was found although the least numbers fit")
        answer = self._answer(*found, boxes)
        return Outcome(
            answer,
            notices=answer.notices,
            bound=str(answer.bound),
            complete=answer.best_of_tried,
            work_units=self.tables.passes,
        )

    def _deep_enough(self, boxes: list[Box]) -> None:
        """Lower each box until its room holds its least numbers, then all until the fleet holds them."""
        for site, box in zip(self.sites, boxes, strict=True):
            while not within_bounds(site, box.low):
                for k in range(4):
                    box.lower(k)
        while True:
            needed = np.zeros(len(self.limits), np.int64)
            for site, box in zip(self.sites, boxes, strict=True):
                needed += np.array(uses(site, box.low), np.int64)
            short = [n for n, most in enumerate(self.limits) if needed[n] > most]
            if not short:
                return
            for site, box in zip(self.sites, boxes, strict=True):
                for k in range(4):
                    if any(site.takes[n][k] for n in short):
                        box.lower(k)

    def _try(self, boxes: list[Box], turn: int) -> None:
        told = N_("numbers tried at sites")
        self.tables.try_(
            ((at, box.numbers()) for at, box in enumerate(boxes)),
            lambda done, total: self.watch.step(told, done, total),
        )
        self.watch.step(PART, turn, MOST_ROUNDS + 1)

    def _cost(self, at: int, row: Response) -> int:
        """Waiting over the days with what it costs to leave what the site has."""
        moved = sum(
            abs(now - has)
            for now, has, chosen in zip(row.counts, self.sites[at].has, self.allowed[at].chosen, strict=True)
            if chosen
        )
        return row.wait_ms + moved * self.given.stay_ms * self.given.days

    def _choices(self, threshold: int | None) -> tuple[Choices, list[list[Response]]] | None:
        """The rows of all sites whose longest waits keep a threshold; None where a site has none."""
        rows = [
            [row for row in self.tables.rows(at) if threshold is None or row.longest_ms <= threshold]
            for at in range(len(self.sites))
        ]
        if not all(rows):
            return None
        sites = [
            [(self._cost(at, row), uses(self.sites[at], row.counts)) for row in mine]
            for at, mine in enumerate(rows)
        ]
        return choices(sites, self.limits), rows

    def _chosen(self) -> tuple[Chosen, list[Response], Worst | None, int | None] | None:
        """The choice by the goal, its rows, the least worst and the threshold held; None: nothing fits."""
        if self.given.goal is Goal.TOTAL:
            return self._with_threshold(None, None)
        worst = self._least_worst()
        if worst is None:
            return None
        threshold = worst.found_ms
        if self.given.goal is Goal.BLEND:
            threshold += threshold * self.given.within_ppm // WHOLE_PPM
        return self._with_threshold(threshold, worst)

    def _with_threshold(
        self, threshold: int | None, worst: Worst | None
    ) -> tuple[Chosen, list[Response], Worst | None, int | None] | None:
        made = self._choices(threshold)
        if made is None:
            return None
        given, rows = made
        chosen = choose(given)
        if chosen is None:
            return None
        flat = [row for mine in rows for row in mine]
        return chosen, [flat[pick] for pick in chosen.picks], worst, threshold

    def _least_worst(self) -> Worst | None:
        """The least threshold that the relaxation can keep, then the least that whole numbers keep."""
        every = [[row.longest_ms for row in self.tables.rows(at)] for at in range(len(self.sites))]
        lowest = max(min(mine) for mine in every)
        values = sorted({value for mine in every for value in mine if value >= lowest})
        low, high = 0, len(values) - 1
        while low < high:
            middle = (low + high) // 2
            made = self._choices(values[middle])
            if made is not None and limits_kept(made[0]):
                high = middle
            else:
                low = middle + 1
        bound = values[low]
        # Whole numbers keep the bound or, as a rule, one of the next few; steps double so that it ends.
        step = 0
        while low + step < len(values):
            if self._keeps_whole(values[low + step]):
                least, most = low + step // 2, low + step
                while least < most:
                    middle = (least + most) // 2
                    if self._keeps_whole(values[middle]):
                        most = middle
                    else:
                        least = middle + 1
                return Worst(values[most], bound)
            if low + step == len(values) - 1:
                return None
            step = min(max(1, step * 2), len(values) - 1 - low)
        return None

    def _keeps_whole(self, threshold: int) -> bool:
        made = self._choices(threshold)
        return made is not None and choose(made[0]) is not None

    def _wanted(
        self, chosen: Chosen, rows: list[Response], _: Worst | None, threshold: int | None
    ) -> list[set[tuple[int, int, int, int]]]:
        """For each site the numbers chosen, and those that would be at the multipliers' prices."""
        wanted = []
        for at, row in enumerate(rows):
            priced = [
                (self._priced(at, other, chosen.multipliers), other.counts)
                for other in self.tables.rows(at)
                if threshold is None or other.longest_ms <= threshold
            ]
            wanted.append({row.counts, min(priced)[1]})
        if self.given.goal is not Goal.TOTAL:
            # What holds the worst site up may lie beyond what was tried there.
            worst = max(range(len(rows)), key=lambda at: rows[at].longest_ms)
            best = min(self.tables.rows(worst), key=lambda row: (row.longest_ms, row.counts))
            wanted[worst].add(best.counts)
        return wanted

    def _priced(self, at: int, row: Response, multipliers: tuple[int, ...]) -> int:
        taken = uses(self.sites[at], row.counts)
        return self._cost(at, row) + sum(a * b for a, b in zip(multipliers, taken, strict=True))

    def _answer(
        self,
        chosen: Chosen,
        rows: list[Response],
        worst: Worst | None,
        threshold: int | None,
        boxes: list[Box],
    ) -> SplitAnswer:
        given, days = self.given, self.given.days
        tried = self.tables.tried()
        policies = policy_prices(
            self.sites, self.allowed, given.fleet, self.tables, rows, chosen.multipliers, self._priced
        )
        # Last, what sites have now on the same days: no row of it may be chosen, nor priced.
        self.tables.try_((at, [site.has]) for at, site in enumerate(self.sites))
        used = np.zeros(len(self.limits), np.int64)
        for site, row in zip(self.sites, rows, strict=True):
            used += np.array(uses(site, row.counts), np.int64)
        splits = tuple(
            SiteSplit(
                site=site.id,
                has=site.has,
                counts=row.counts,
                before=self.tables.row(at, site.has),
                after=row,
                edge=boxes[at].edge(row.counts),
            )
            for at, (site, row) in enumerate(zip(self.sites, rows, strict=True))
        )
        total = sum(row.wait_ms for row in rows)
        goal_worst = given.goal is Goal.WORST and worst is not None
        worst_ms = max((row.longest_ms for row in rows), default=0)
        return SplitAnswer(
            goal=given.goal,
            days=days,
            sites=splits,
            value=worst.found_ms if goal_worst and worst is not None else chosen.cost,
            bound=worst.bound_ms if goal_worst and worst is not None else chosen.bound,
            wait_ms=total,
            worst_ms=worst_ms,
            worst_bound_ms=0 if worst is None else worst.bound_ms,
            threshold_ms=threshold,
            changes=sum(
                abs(a - b)
                for one, allowed in zip(splits, self.allowed, strict=True)
                for a, b, free in zip(one.has, one.counts, allowed.chosen, strict=True)
                if free
            ),
            multipliers=chosen.multipliers,
            prices=tuple(
                Price(kind=kind.id, worth_ms=price // days, used=int(count), available=kind.available)
                for kind, price, count in zip(given.fleet, chosen.multipliers, used, strict=True)
            ),
            policies=policies,
            tried=tried,
            best_of_tried=chosen.best,
            notices=over_limit_notices(self.sites, rows, days),
        )
