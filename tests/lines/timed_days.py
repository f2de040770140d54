"""Days drawn by the model's own draws and told by its reference engine, as an office would count them."""

from __future__ import annotations

import datetime as dt
from itertools import accumulate

from pollstead.plan.lines import draws
from pollstead.plan.lines.laws import gap_table, law_table
from pollstead.plan.lines.reference import Voter, tell_day
from pollstead.plan.terms.lines import SLOT_MS, ServiceLaw

OPENS_MIN, CLOSES_MIN = 7 * 60, 20 * 60
DAY = dt.date(2028, 11, 7)
HOURS = (125, 95, 75, 70, 75, 80, 70, 60, 60, 75, 95, 80, 40)
"""Share of the day by hour from 07:00, in tenths of a percent."""


def told_day(
    key: int, day: int, voters: int, law: ServiceLaw, stations: int, opening_ppm: int
) -> tuple[list[int], list[tuple[int, int]]]:
    """When each check-in ended (ms of the day), and people in line at each full hour."""
    slots = (CLOSES_MIN - OPENS_MIN) * 60_000 // SLOT_MS
    edges = [OPENS_MIN * 60_000 + SLOT_MS * k for k in range(slots + 1)]
    sums = [0, *accumulate(HOURS[k // 4] for k in range(slots))]
    cumulative = [(s << draws.SHARE_BITS) // sums[-1] for s in sums]
    waiting = draws.opening_line(voters, opening_ppm)
    arrive = draws.arrivals_ms(key, day, voters, waiting, edges, cumulative, gap_table().tolist())
    table = law_table(law).tolist()
    takes = [draws.quantile(table, draws.word(key, day, n, draws.CHECK_IN)) for n in range(voters)]
    line = [
        Voter(arrives_ms=at, accessible=False, check_in_ms=took, mark_ms=0, cast_ms=0)
        for at, took in zip(arrive, takes, strict=True)
    ]
    told = tell_day(line, (stations, 0, 0, 0), edges[0], edges[0])
    starts = [at + waits[0] for at, waits in zip(arrive, told.waits_ms, strict=True)]
    ends = sorted(at + took for at, took in zip(starts, takes, strict=True))
    hours = range(OPENS_MIN, CLOSES_MIN + 60, 60)
    waits = [
        (minute, sum(a <= minute * 60_000 < s for a, s in zip(arrive, starts, strict=True)))
        for minute in hours
    ]
    # At the set opening the line stands, and nobody is served yet.
    waits[0] = (OPENS_MIN, waiting)
    return ends, waits


def as_files(days: list[tuple[str, list[int], list[tuple[int, int]]]], stations: int) -> tuple[bytes, bytes]:
    """The check-in times and the line counts of several sites as the CSV files that an office has."""
    times = ["time,site"]
    lines = ["site,hour,people in line,stations open"]
    for site, ends, waits in days:
        for at in ends:
            seconds = at // 1000
            times.append(f"2028-11-07 {seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02},{site}")
        lines += [f"{site},{minute // 60}:00,{count},{stations}" for minute, count in waits]
    return "\n".join(times).encode(), "\n".join(lines).encode()
