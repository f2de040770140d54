"""What the sites of Larkmoor say of their lines by telephone on election day; all of it invented.

How long a line is follows from the voters of the seeded day: they come by the plan's arrivals, are drawn by
chance and told event by event, so that a site whose doors opened late has the line of a late opening.
`README.md` lists who falls silent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from pollstead.election.station_type import StationType
from pollstead.plan.lines.reference import tell_day
from pollstead.plan.lines.voters import drawn_voters
from pollstead.plan.stations.path import numbers_by_stage, voter_path
from pollstead.plan.terms.lines import SIZED
from pollstead.plan.terms.part import derive_seed
from pollstead.record.event import Part, Person
from pollstead.record.kinds.body import Body
from pollstead.record.kinds.lines import LineCounted
from pollstead.work.waits import arrival_day

CALLER = "P007"
CHANCE = 7
MINUTE_MS = 60_000
FIRST_MIN, LAST_MIN, EVERY_MIN = 8 * 60, 19 * 60, 60

NEVER_TOLD = "S28"
"""Nobody of this site rings, and nobody answers."""
SILENT_AFTER_MIN = {"S20": 11 * 60}
"""This site rings until then and no more."""

Write = Callable[[int, Body, str, tuple[Person, ...]], None]
"""Writes one event: minute at which it is typed, body, site, people."""


def lines_told(played: Iterable[Any], write: Write, someone: Callable[..., Person]) -> None:
    """At each full hour each site rings: people in line by step, check-ins so far, stations in use.

    `played`: the sites of election day with what really happened there.
    """
    calls = [call for day in played for call in _calls(day)]
    for minute, site, body, giver in sorted(calls, key=lambda call: call[:2]):
        write(minute, body, f"site/{site}", (someone(CALLER), someone(giver, Part.GIVER)))


def _calls(day: Any) -> list[tuple[int, str, LineCounted, str]]:
    site = day.plan.site
    if site == NEVER_TOLD:
        return []
    operating = day.election.operating_day(day.date)
    asked = range(max(FIRST_MIN, day.opens + EVERY_MIN), min(LAST_MIN, day.closes) + 1, EVERY_MIN)
    minutes = [m for m in asked if m <= SILENT_AFTER_MIN.get(site, LAST_MIN)]
    since = [operating.at_wall_clock(m).utc_ms - operating.start().utc_ms for m in minutes]
    types: dict[str, StationType] = {one.id: one for one in day.election.station_types}
    path = voter_path(day.election.site_kind(day.plan.kind), types, day.election.rules, {})
    demand = next(one for one in day.plan.demand if one.date == day.date)
    hours = next(one for one in day.site.hours if one.date == day.date)
    share = day.election.rules.whole("opening-line-share") if path.path.check_in.limited else 0
    arrivals = arrival_day(operating, demand, hours, share)
    by_stage = numbers_by_stage(day.plan, path.sized)
    a, b, c, d = (by_stage.get(stage, 0) for stage in SIZED)
    chance = derive_seed(CHANCE, "seeded day", day.election.site(site).key, "line")
    voters = drawn_voters(path.path, arrivals, chance, 0, day.counts["check_ins"])
    curb = path.path.curbside
    told = tell_day(
        voters,
        (a, b, c, d),
        arrivals.open_ms + (day.opened_at - day.opens) * MINUTE_MS,
        arrivals.open_ms,
        absences=arrivals.absences_of((a, b, c, d)),
        curbside_stations=1 if curb is None else curb.stations,
        accessible_open=path.path.accessible_open,
        moments_ms=since,
    )
    inside = [
        max(voter.arrives_ms, arrivals.open_ms) + waits[0] + voter.check_in_ms
        for voter, waits in zip(voters, told.waits_ms, strict=True)
        if not voter.curbside
    ]
    return [
        (
            minute,
            site,
            LineCounted(
                at_min=minute,
                at_check_in=lines[0],
                at_mark=lines[1] + lines[2],
                at_cast=lines[3],
                check_ins=sum(1 for moment in inside if moment <= at),
                open_check_in=a or None,
                by_phone="read_back",
            ),
            day.crew[0],
        )
        for minute, at, lines in zip(minutes, since, told.lines, strict=True)
    ]
