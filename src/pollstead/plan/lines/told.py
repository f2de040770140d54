"""A day told event by event, in the rows and by-hour counts that the compiled engine gives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pollstead.plan.lines.reference import DayTold, Voter, tell_day
from pollstead.plan.lines.voters import drawn_voters
from pollstead.plan.terms.lines import HOUR_MS, ArrivalDay, SitePath

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class DayCounts:
    """One simulated day as whole numbers.

    `row`: the columns that ``engine`` names. By hour of arrival, counted from the set opening hour: `voters`,
    `over` the limit, `longest_ms`. `lines`: number in line, (moment, stage in the order of ``Stage``).
    """

    row: tuple[int, ...]
    voters: tuple[int, ...]
    over: tuple[int, ...]
    longest_ms: tuple[int, ...]
    lines: tuple[tuple[int, ...], ...]


def told_day(
    path: SitePath,
    day: ArrivalDay,
    key: int,
    number: int,
    total: int,
    counts: tuple[int, int, int, int],
    late_ms: int = 0,
) -> tuple[DayTold, list[Voter]]:
    """Draw the `total` voters of the simulated day `number` and tell it, doors `late_ms` late."""
    voters = drawn_voters(path, day, key, number, total)
    told = tell_day(
        voters,
        counts,
        day.open_ms + late_ms,
        day.open_ms,
        absences=day.absences_of(counts),
        curbside_stations=1 if path.curbside is None else path.curbside.stations,
        accessible_open=path.accessible_open,
        moments_ms=day.moments_ms(),
    )
    return told, voters


def counted_day(told: DayTold, voters: Sequence[Voter], day: ArrivalDay, limit_ms: int) -> DayCounts:
    """What is kept of a day told; the row of a day without voters has the closing hour as its end."""
    longest, over = [0] * day.hours, [0] * day.hours
    came = [0] * day.hours
    for voter, waits in zip(voters, told.waits_ms, strict=True):
        hour = max(0, voter.arrives_ms - day.open_ms) // HOUR_MS
        came[hour] += 1
        longest[hour] = max(longest[hour], sum(waits))
        over[hour] += sum(waits) > limit_ms
    last_out = told.last_out_ms if voters else day.close_ms
    sums = told.sums_ms(voters)
    row = (told.longest_ms, sum(over), last_out, *sums[:4], _binding(told, voters), sums[4], sum(told.left))
    return DayCounts(
        row=row, voters=tuple(came), over=tuple(over), longest_ms=tuple(longest), lines=told.lines
    )


def _binding(told: DayTold, voters: Sequence[Voter]) -> int:
    """The stage that makes most of the longest wait (the first voter's who has it), -1 when nobody waits."""
    longest = told.longest_ms
    if longest == 0:
        return -1
    who = next(v for v, waits in enumerate(told.waits_ms) if sum(waits) == longest)
    waits = told.waits_ms[who]
    return voters[who].stage(max(range(3), key=lambda step: (waits[step], -step)))
