"""Invented sites and a fleet for the tests of the split."""

from __future__ import annotations

import datetime as dt

import numpy as np

from pollstead.election.values import frozen_array
from pollstead.plan.terms.lines import (
    ArrivalDay,
    ServiceLaw,
    SiteLines,
    SitePath,
    StageWork,
    StationChoice,
    StationCounts,
    WaitLimit,
)
from pollstead.plan.terms.split import Counts, FleetKind, SplitGiven, SplitSite

HOUR_MS = 3_600_000
WEIGHTS = [9, 8, 7, 6] + [4] * 16 + [5] * 8 + [8, 8, 9, 9] * 4 + [5, 4, 3, 3] * 2
NOTHING: Counts = (0, 0, 0, 0)
FREE = StationChoice()


def work(mean_s: int, cv_ppm: int = 600_000) -> StageWork:
    """A step with lognormal service and a line."""
    return StageWork(law=ServiceLaw(mean_ms=mean_s * 1000, cv_ppm=cv_ppm))


ELECTRONIC = SitePath(check_in=work(85), mark=work(240))
PAPER = SitePath(
    check_in=work(85), mark=work(300), accessible=work(600), accessible_share_ppm=20_000, cast=work(20)
)


def a_day(voters: int, date: dt.date = dt.date(2028, 11, 7)) -> ArrivalDay:
    """07:00 to 20:00 with a morning and an evening peak; totals spread by 12 %."""
    totals = np.random.default_rng(voters).normal(voters, voters * 0.12, 200).round().clip(0)
    return ArrivalDay(
        date=date,
        open_ms=7 * HOUR_MS,
        close_ms=20 * HOUR_MS,
        slot_weights=frozen_array(WEIGHTS, "int64"),
        totals=frozen_array(totals, "int64"),
        opening_line_share_ppm=20_000,
    )


def a_site(
    name: str,
    voters: int,
    has: Counts,
    *,
    takes: tuple[Counts, ...] = ((1, 0, 0, 0), (0, 1, 0, 0)),
    path: SitePath = ELECTRONIC,
    floor: Counts = (1, 1, 0, 0),
    law_floor: Counts | None = None,
    fixed: StationChoice = FREE,
    ceiling: StationChoice = FREE,
    **more: object,
) -> SplitSite:
    """A site; limit 30 minutes at 5 %."""
    lines = SiteLines(
        site=f"site/{name}",
        seed_key=name,
        path=path,
        days=(a_day(voters),),
        limit=WaitLimit(limit_ms=1_800_000, risk_ppm=50_000),
        floor=StationCounts(check_in=floor[0], mark=floor[1], mark_accessible=floor[2], cast=floor[3]),
        fixed=fixed,
        ceiling=ceiling,
    )
    return SplitSite(
        lines=lines, takes=takes, has=has, law_floor=floor if law_floor is None else law_floor, **more
    )


def fleet(check_in: int, mark: int, held_back: int = 0) -> tuple[FleetKind, ...]:
    """Two kinds of device."""
    return (
        FleetKind(id="check-in computer", owned=check_in),
        FleetKind(id="marking device", owned=mark, held_back=held_back),
    )


SIZES = {"S01": 300, "S02": 520, "S03": 700, "S04": 260}


def county(check_in: int = 9, mark: int = 21, **changes: object) -> SplitGiven:
    """Four sites that have a little too much or too little."""
    sites = tuple(a_site(name, voters, (2, 5, 0, 0)) for name, voters in SIZES.items())
    return SplitGiven(**{"fleet": fleet(check_in, mark), "sites": sites, "days": 24, **changes})
