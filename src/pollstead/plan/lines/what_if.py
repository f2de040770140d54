"""What if: one site-day with other numbers, doors late, other turnout, a longer ballot; the same voters.

The days are the plan's fresh days, so that without any change the figures are the plan's own.
"""

from __future__ import annotations

import msgspec

from pollstead.election.instants import MS_PER_MINUTE
from pollstead.election.values import Value, require
from pollstead.plan.lines.shares import ranks_of, risk_of, share_of
from pollstead.plan.lines.trials import (
    FRESH_FROM,
    Counts,
    Trials,
    as_station_counts,
    figures_of,
    over_limit,
)
from pollstead.plan.terms.lines import (
    WHOLE_PPM,
    ArrivalDay,
    ByHour,
    SiteLines,
    SitePath,
    StageWork,
    WaitFigures,
)
from pollstead.plan.terms.part import derive_seed

MOST_LATE_MIN = 720
MOST_PERCENT = 500
LEAST_PERCENT = 10
LONGEST_SERVICE_MS = 14_400_000


class WhatIfAsked(Value, frozen=True, kw_only=True):
    """One question: stations of each stage of `SIZED`, minutes that doors open late, per cent of the plan.

    `turnout_percent` of the planned voters come; marking and casting take `marking_percent` and
    `casting_percent` of their planned times (130: a ballot that takes three tenths longer).
    """

    counts: Counts
    late_min: int = 0
    turnout_percent: int = 100
    marking_percent: int = 100
    casting_percent: int = 100

    def __post_init__(self) -> None:
        require(0 <= self.late_min <= MOST_LATE_MIN, f"late_min must be 0 to {MOST_LATE_MIN}")
        for name in ("turnout_percent", "marking_percent", "casting_percent"):
            value = getattr(self, name)
            require(
                LEAST_PERCENT <= value <= MOST_PERCENT,
                f"{name} must be {LEAST_PERCENT} to {MOST_PERCENT}, got {value}",
            )
        for count in self.counts:
            require(0 <= count <= 500, f"counts must be 0 to 500, got {count}")


class WhatIfTold(Value, frozen=True, kw_only=True):
    """What the days say of one question: figures of whole days, and the day by the hour."""

    asked: WhatIfAsked
    figures: WaitFigures
    by_hour: ByHour


def day_key(seed: int, site: SiteLines, day: ArrivalDay) -> int:
    """The seed of a site-day's draws in a plan made with `seed`."""
    return derive_seed(seed, "lines", site.seed_key, f"day {day.date.isoformat()}")


def what_if(
    site: SiteLines, day: ArrivalDay, asked: WhatIfAsked, seed: int, days: int, hour_days: int
) -> WhatIfTold:
    """Simulate `days` fresh days for the figures, and the first `hour_days` of them by the hour."""
    path = longer_ballot(site.path, asked.marking_percent, asked.casting_percent)
    trials = Trials(path, day, site.limit, day_key(seed, site, day))
    late_ms = asked.late_min * MS_PER_MINUTE
    turnout_ppm = asked.turnout_percent * (WHOLE_PPM // 100)
    figures = fresh_figures(trials, asked.counts, days, late_ms, turnout_ppm)
    by_hour = trials.by_hour(asked.counts, FRESH_FROM, hour_days, late_ms, turnout_ppm)
    return WhatIfTold(asked=asked, figures=figures, by_hour=by_hour)


def fresh_figures(
    trials: Trials, counts: Counts, days: int, late_ms: int = 0, turnout_ppm: int = WHOLE_PPM
) -> WaitFigures:
    """The figures of the first `days` fresh days, with the interval that a plan gives them."""
    rows = trials.rows([counts], FRESH_FROM, days, late_ms, turnout_ppm)[0]
    voters = trials.voters(FRESH_FROM, days, turnout_ppm)
    share = share_of(over_limit(rows, trials.limit), ranks_of(trials.day, FRESH_FROM))
    return figures_of(as_station_counts(counts), rows, voters, trials.limit, risk_of(share))


def longer_ballot(path: SitePath, marking_percent: int, casting_percent: int) -> SitePath:
    """The path with marking of every kind, and casting, taking so much of their times, in whole ms."""
    if marking_percent == casting_percent == 100:
        return path

    def changed(work: StageWork | None, percent: int) -> StageWork | None:
        if work is None:
            return None
        mean = min(LONGEST_SERVICE_MS, max(1, work.law.mean_ms * percent // 100))
        return msgspec.structs.replace(work, law=msgspec.structs.replace(work.law, mean_ms=mean))

    return msgspec.structs.replace(
        path,
        mark=changed(path.mark, marking_percent),
        accessible=changed(path.accessible, marking_percent),
        cast=changed(path.cast, casting_percent),
    )
