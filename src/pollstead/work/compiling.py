"""Compile the code of the wait now before anybody asks for it: ``python -m pollstead.work.compiling``.

What is compiled is kept on the disk, once for a computer and version. A process of its own does it, so that
the app answers meanwhile.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import sys
from typing import TYPE_CHECKING

from pollstead.election.instants import MS_PER_MINUTE
from pollstead.election.values import frozen_array
from pollstead.plan.terms.lines import (
    HOUR_MS,
    ArrivalDay,
    ServiceLaw,
    SitePath,
    Stage,
    StageWork,
    StationCounts,
)
from pollstead.plan.terms.now import LineReport, NowGiven, NowSite, StationChange

if TYPE_CHECKING:
    from pollstead.plan.terms.now import NowAnswer

NICENESS = 5
"""Of IEEE Std 1003.1: the app goes first, and somebody who waits for this beside a plan that is made waits
a minute, not ten."""


def invented() -> NowGiven:
    """Two small invented sites with every stage: a long line, an empty one, a stopped station, spares."""
    work = StageWork(law=ServiceLaw(mean_ms=90_000))
    path = SitePath(check_in=work, mark=work, accessible=work, accessible_share_ppm=50_000, cast=work)
    day = ArrivalDay(
        date=dt.date(2028, 11, 7),
        open_ms=7 * HOUR_MS,
        close_ms=9 * HOUR_MS,
        slot_weights=frozen_array([1] * 8, "int64"),
        totals=frozen_array([60, 70], "int64"),
    )
    one = StationCounts(check_in=1, mark=1, mark_accessible=1, cast=1)
    two = StationCounts(check_in=2, mark=3, mark_accessible=1, cast=1)
    at_ms = 8 * HOUR_MS
    full = LineReport(
        at_ms=at_ms - 10 * MS_PER_MINUTE,
        in_line=60,
        by_stage=(60, 0, 0),
        check_ins=20,
        open_stations=(1, 2, 1),
        event="full",
    )
    empty = LineReport(at_ms=at_ms - 5 * MS_PER_MINUTE, in_line=0, wait_ms=MS_PER_MINUTE, event="empty")
    sites = tuple(
        NowSite(
            site=name,
            seed_key=name,
            path=path,
            day=day,
            counts=two,
            floor=one,
            most=two,
            reports=(report,),
            changes=(StationChange(stage=Stage.CHECK_IN, at_ms=at_ms - HOUR_MS // 2, by=-1),),
        )
        for name, report in (("full", full), ("empty", empty))
    )
    return NowGiven(
        sites=sites,
        now_ms=at_ms,
        stale_ms=HOUR_MS,
        limit_ms=30 * MS_PER_MINUTE,
        set_up_ms=5 * MS_PER_MINUTE,
        usual_travel_ms=10 * MS_PER_MINUTE,
        spares=(1, 1, 1, 1),
    )


def compile_the_wait_now() -> NowAnswer:
    """Estimate the invented sites, which compiles all that an estimate uses."""
    from pollstead.plan.lines.now import run

    return run(invented(), 1)


def main() -> int:
    """Give way to the app, compile, end with 0."""
    # Windows knows no niceness.
    with contextlib.suppress(AttributeError, OSError):
        os.nice(NICENESS)
    compile_the_wait_now()
    return 0


if __name__ == "__main__":
    sys.exit(main())
