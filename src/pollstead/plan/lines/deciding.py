"""Fresh days decide whether numbers of stations keep the limit, with an error that is fixed beforehand.

Whether a candidate is within the accepted risk is tested on days that the search has not seen, in looks:
after the effort's days, then twice, four, eight and sixteen times as many. It is within when, were its true
share just the risk, so few days over would come up with at most the look's part of the allowed chance. The
parts add up to it (Bonferroni), and later looks get more: a group sequential test with spending, Lan and
DeMets 1983, Biometrika 70, 659-663, from memory. A candidate that is surely enough above `CLOSE_PART` below
the risk is left: so close to the risk one more station is the safer answer, and days are better spent on
that.

Candidates are tried from the safe end down. While each is found to be within, the next, cheaper one is
tested with the same chance: the first that is truly above the risk has to pass for any error to be made
(fixed sequence, Maurer, Hothorn and Lehmacher 1995, from memory). After one that is not found to be within,
what is tried next gets a smaller part: 1/2, 1/6, 1/12, ... of `ERROR`, which add up to it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.plan.lines.looks import Looks
from pollstead.plan.lines.shares import risk_of
from pollstead.plan.lines.trials import FRESH_FROM, as_station_counts, figures_of
from pollstead.plan.terms.lines import WHOLE_PPM, RiskEstimate, WaitFigures

if TYPE_CHECKING:
    from pollstead.plan.lines.trials import Counts, Trials

ERROR = 0.05
"""Chance allowed, for one day of a site, that numbers are called within the risk that are not."""

ROUNDS = (1, 2, 4, 8, 16)
"""Looks at the fresh days, in multiples of the effort's days."""

ROUNDS_TOLD = (1, 2)
"""The same where days are told event by event."""

CLOSE_PART = 20
"""One part in so many of the risk: numbers as close below it may be left for safer ones."""

GIVE_UP = 0.1
"""Chance with which a look may leave a candidate that is further below the risk than `CLOSE_PART`."""


class Deciding:
    """The fresh days of one site-day and what they have decided so far.

    `certain` False: so few days can be had that at the last look the share itself decides.
    """

    def __init__(self, trials: Trials, days: int, risk_ppm: int, certain: bool = True) -> None:
        draws = len(trials.day.totals)
        each = -(-days // draws) * draws if draws <= days else days
        rounds = ROUNDS if certain else ROUNDS_TOLD
        self.ends = tuple(each * k for k in rounds)
        self._parts = tuple((k + 1) / (len(rounds) * (len(rounds) + 1) / 2) for k in range(len(rounds)))
        self._trials, self._looks = trials, Looks(trials, FRESH_FROM)
        self._risk_ppm, self._certain = risk_ppm, certain
        self._known: dict[Counts, bool] = {}
        self._failed = 0

    def accepts(self, counts: Counts) -> bool:
        """Whether `counts` are found to be within the risk; asked again, the answer is the same."""
        known = self._known.get(counts)
        if known is None:
            known = self._within(counts, ERROR / ((self._failed + 1) * (self._failed + 2)))
            self._known[counts] = known
            self._failed += not known
        return known

    def screens(self, counts: Counts) -> bool:
        """The same for numbers that nobody will plan: at the first chance, and it takes no part of it."""
        return self._within(counts, ERROR / 2)

    def settled(self, counts: Counts) -> RiskEstimate:
        """What the days say of numbers that are planned; where not accepted, as many as decide, or all."""
        if not self._known.get(counts, False):
            for end, part in zip(self.ends, self._parts, strict=True):
                share = self._looks.share(counts, end)
                chance = part * ERROR / 2
                if share.is_above(self._risk_ppm, chance) or share.is_below(self._risk_ppm, chance):
                    break
        return risk_of(self._looks.share(counts, self._looks.days_of(counts)))

    def figures(self, counts: Counts) -> WaitFigures:
        """The figures of all days that `settled` speaks of, with its interval."""
        risk = self.settled(counts)
        rows, voters = self._looks.rows(counts), self._trials.voters(FRESH_FROM, risk.days)
        return figures_of(as_station_counts(counts), rows, voters, self._trials.limit, risk)

    def _within(self, counts: Counts, chance: float) -> bool:
        close_ppm = self._risk_ppm - self._risk_ppm // CLOSE_PART if self._certain else self._risk_ppm
        for end, part in zip(self.ends, self._parts, strict=True):
            share = self._looks.share(counts, end)
            if share.is_below(self._risk_ppm, chance * part):
                return True
            if share.is_above(close_ppm, GIVE_UP):
                return False
        return not self._certain and share.over * WHOLE_PPM <= self._risk_ppm * share.days
