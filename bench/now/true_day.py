"""A day as it really went at a site, unlike its plan by chance, and what people told of it."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING, Any

import msgspec

from pollstead.election.values import frozen_array
from pollstead.plan.lines.reference import Voter, tell_day
from pollstead.plan.lines.voters import drawn_voters
from pollstead.plan.terms.lines import HOUR_MS, StageWork
from pollstead.plan.terms.now import LineReport

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bench.lines.county import SiteDay

MINUTE_MS = 60_000
SHAPE_SPREAD, SHAPE_STAYS, SERVICE_SPREAD, COUNT_WRONG, TELLS = 0.1, 0.85, 0.1, 0.12, 0.85
"""How far a day is from its plan: log of the rate of a quarter hour and what stays of it in the next one, log
of service times; how wrong a count is, and how often anybody counts."""


class TrueDay:
    """One day as it really went at a site, unlike the plan by chance."""

    def __init__(self, one: SiteDay, seed: int) -> None:
        self.one, self.rng = one, random.Random(seed)  # noqa: S311 - seeded, nothing secret
        off, weights = 0.0, []
        for weight in one.day.slot_weights.tolist():
            push = self.rng.gauss(0, SHAPE_SPREAD * math.sqrt(1 - SHAPE_STAYS**2))
            off = SHAPE_STAYS * off + push
            weights.append(round(weight * math.exp(off)))
        total = self.rng.choice(one.day.totals.tolist())
        slower = math.exp(self.rng.gauss(0, SERVICE_SPREAD))
        day = msgspec.structs.replace(
            one.day, slot_weights=frozen_array(weights, "int64"), totals=frozen_array([total], "int64")
        )
        works = zip(("check_in", "mark", "accessible", "cast"), one.path.works(), strict=True)
        path = msgspec.structs.replace(one.path, **{name: _slower(work, slower) for name, work in works})
        self.path = path
        self.voters = drawn_voters(path, day, self.rng.getrandbits(60), 0, total)
        self.told = self._tell(self.voters)

    def _tell(self, voters: Sequence[Voter]) -> Any:
        one = self.one
        return tell_day(
            voters, one.counts, one.day.open_ms, one.day.open_ms, absences=one.day.absences_of(one.counts)
        )

    def state(self, at_ms: int) -> tuple[int, int]:
        """How many stand in any line, and how many are checked in."""
        line = checked_in = 0
        for voter, waits in zip(self.voters, self.told.waits_ms, strict=True):
            reached = max(voter.arrives_ms, self.one.day.open_ms)
            for step in range(3):
                begins = reached + waits[step]
                line += reached <= at_ms < begins
                reached = begins + voter.takes_ms(step)
                checked_in += step == 0 and reached <= at_ms
        return line, checked_in

    def wait_ms(self, at_ms: int) -> int:
        """What one more voter who comes at this moment waits in all lines."""
        times = [0 if work is None else work.law.mean_ms for work in self.path.works()]
        more = Voter(at_ms, False, times[0], times[1], times[3])
        place = sum(voter.arrives_ms <= at_ms for voter in self.voters)
        told = self._tell([*self.voters[:place], more, *self.voters[place:]])
        return sum(told.waits_ms[place])

    def reports(self) -> tuple[LineReport, ...]:
        """About one an hour."""
        made: list[LineReport] = []
        moment = self.one.day.open_ms + HOUR_MS
        while moment < self.one.day.close_ms:
            line = self.state(moment + self.rng.randint(-MINUTE_MS, MINUTE_MS))[0]
            told = max(0, round(line + self.rng.gauss(0, COUNT_WRONG * line + 0.5)))
            told = told if told < 10 else round(told / 5) * 5
            if self.rng.random() < TELLS:
                made.append(LineReport(at_ms=moment, in_line=told, check_ins=self.state(moment)[1]))
            moment += HOUR_MS + self.rng.randint(-5, 5) * MINUTE_MS
        return tuple(made)


def _slower(work: StageWork | None, factor: float) -> StageWork | None:
    if work is None:
        return None
    law = msgspec.structs.replace(work.law, mean_ms=max(1, round(work.law.mean_ms * factor)))
    return msgspec.structs.replace(work, law=law)
