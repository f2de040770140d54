"""A day told voter by voter, reports as people would make of it, and the wait that somebody really had."""

from __future__ import annotations

import datetime as dt
import math
import random

from pollstead.election.values import frozen_array
from pollstead.plan.lines import draws
from pollstead.plan.lines.laws import gap_table, law_table
from pollstead.plan.lines.reference import Voter, tell_day
from pollstead.plan.lines.voters import cumulative_shares, slot_edges_ms
from pollstead.plan.terms.lines import ArrivalDay, ServiceLaw, SitePath, StageWork, StationCounts
from pollstead.plan.terms.now import LineReport, NowGiven, NowSite

HOUR_MS, MINUTE_MS = 3_600_000, 60_000
OPEN_MS, CLOSE_MS = 7 * HOUR_MS, 20 * HOUR_MS
WEIGHTS = [9, 8, 7, 6] + [4] * 16 + [5] * 8 + [8, 8, 9, 9] * 4 + [5, 4, 3, 3] * 2
COUNTS = StationCounts(check_in=3, mark=9, mark_accessible=1, cast=1)
ONE_EACH = StationCounts(check_in=1, mark=1, mark_accessible=1, cast=1)
LINE_SHARE_PPM = 20_000


def work(mean_s: int, cv_ppm: int = 500_000) -> StageWork:
    """A step with lognormal service and a line."""
    return StageWork(law=ServiceLaw(mean_ms=mean_s * 1000, cv_ppm=cv_ppm))


PATH = SitePath(
    check_in=work(90), mark=work(300), accessible=work(600), accessible_share_ppm=20_000, cast=work(30)
)


def arrival_day(weights: list[int], totals: list[int]) -> ArrivalDay:
    """The day of the site with these quarter hours and draws."""
    return ArrivalDay(
        date=dt.date(2028, 11, 7),
        open_ms=OPEN_MS,
        close_ms=CLOSE_MS,
        slot_weights=frozen_array(weights, "int64"),
        totals=frozen_array(totals, "int64"),
        opening_line_share_ppm=LINE_SHARE_PPM,
    )


def site_of(name: str, reports: tuple[LineReport, ...] = (), **other: object) -> NowSite:
    """The site as planned: about 900 voters, give or take a tenth."""
    given: dict[str, object] = {
        "path": PATH,
        "day": arrival_day(WEIGHTS, [700, 800, 850, 900, 950, 1000, 1100]),
        "counts": COUNTS,
        "floor": ONE_EACH,
        "most": COUNTS,
        "reports": reports,
    }
    return NowSite(site=name, seed_key=name, **(given | other))  # type: ignore[arg-type]


def at(sites: tuple[NowSite, ...], now_ms: int, **other: object) -> NowGiven:
    """All sites at a moment."""
    given: dict[str, object] = {
        "stale_ms": 75 * MINUTE_MS,
        "limit_ms": 30 * MINUTE_MS,
        "set_up_ms": 10 * MINUTE_MS,
        "usual_travel_ms": 25 * MINUTE_MS,
    }
    return NowGiven(sites=sites, now_ms=now_ms, **(given | other))  # type: ignore[arg-type]


class TrueDay:
    """What really happened on one day, unlike the plan by chance: voters, shape, service times."""

    def __init__(self, seed: int, *, service_spread: float = 0.1, shape_spread: float = 0.1) -> None:
        self.rng = rng = random.Random(seed)
        off, weights = 0.0, []
        for weight in WEIGHTS:
            off = 0.85 * off + rng.gauss(0, shape_spread * math.sqrt(1 - 0.85**2))
            weights.append(max(1, round(weight * 1000 * math.exp(off))))
        voters = round(900 * math.exp(rng.gauss(0, 0.12)))
        day = arrival_day(weights, [voters])
        slower = math.exp(rng.gauss(0, service_spread))
        key = rng.getrandbits(60)
        tables = [law_table(step.law) for step in PATH.works()[:4] if step is not None]
        threshold = draws.accessible_threshold(PATH.accessible_share_ppm)
        waiting = draws.opening_line(voters, LINE_SHARE_PPM)
        arrivals = draws.arrivals_ms(
            key, 0, voters, waiting, slot_edges_ms(day), cumulative_shares(day), gap_table()
        )
        self.voters = []
        for number, arrives in enumerate(arrivals):
            special = draws.needs_accessible(key, 0, number, threshold)
            chosen = (tables[0], tables[2 if special else 1], tables[3])
            times = [
                max(1, round(draws.quantile(table, draws.word(key, 0, number, purpose)) * slower))
                for table, purpose in zip(chosen, (draws.CHECK_IN, draws.MARK, draws.CAST), strict=True)
            ]
            self.voters.append(Voter(arrives, special, *times))
        self.told = tell_day(self.voters, COUNTS.by_stage(), OPEN_MS, OPEN_MS)

    def state(self, at_ms: int) -> tuple[list[int], int]:
        """How many stand in line at check-in, marking and casting, and how many are checked in."""
        line, checked_in = [0, 0, 0], 0
        for voter, waits in zip(self.voters, self.told.waits_ms, strict=True):
            reached = voter.arrives_ms
            for step, takes in enumerate((voter.check_in_ms, voter.mark_ms, voter.cast_ms)):
                begins = reached + waits[step]
                line[step] += reached <= at_ms < begins
                reached = begins + takes
                checked_in += step == 0 and reached <= at_ms
        return line, checked_in

    def wait_ms(self, at_ms: int) -> int:
        """What one more voter who comes at this moment waits in all lines."""
        more = Voter(at_ms, False, 90_000, 300_000, 30_000)
        place = sum(voter.arrives_ms <= at_ms for voter in self.voters)
        voters = [*self.voters[:place], more, *self.voters[place:]]
        return sum(tell_day(voters, COUNTS.by_stage(), OPEN_MS, OPEN_MS).waits_ms[place])

    def reports(self) -> tuple[LineReport, ...]:
        """About hourly: late or early, now and then left out, people counted a tenth wrong and in fives."""
        made, moment = [], OPEN_MS + HOUR_MS
        while moment < CLOSE_MS:
            counted_at = moment + self.rng.randint(-MINUTE_MS, MINUTE_MS)
            line = sum(self.state(counted_at)[0])
            told = max(0, round(line + self.rng.gauss(0, 0.12 * line + 0.5)))
            told = told if told < 10 else round(told / 5) * 5
            if self.rng.random() < 0.85:
                made.append(LineReport(at_ms=moment, in_line=told, check_ins=self.state(moment)[1]))
            moment += HOUR_MS + self.rng.randint(-5, 5) * MINUTE_MS
        return tuple(made)
