"""Voters by quarter hour as a small drawing: a hatched band from P10 to P90 and a line at P50.

Geometry only, in whole units of the drawing's own grid; words stand in the page beside it, and the
same numbers in a table below it.
"""

from __future__ import annotations

from pollstead.election.values import Value
from pollstead.plan.terms.demand import SiteDayDemand

WIDTH, HEIGHT = 400, 210
LEFT, RIGHT, TOP, BOTTOM = 40, 8, 22, 28
SLOT_MIN = 15


class Tick(Value, frozen=True, kw_only=True):
    """A labelled place on an axis: where, and the minute of the day or the count that stands there."""

    at: int
    value: int


class DemandChart(Value, frozen=True, kw_only=True):
    """What the template draws: point lists as SVG wants them, ticks, and the bounds of the field."""

    id: str
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM
    band: str
    middle: str
    hours: tuple[Tick, ...]
    counts: tuple[Tick, ...]
    peak_min: int
    peak: int


def demand_chart(day: SiteDayDemand, chart_id: str) -> DemandChart | None:
    """The drawing of one site-day; None where the day has no quarter hours."""
    if not day.slots:
        return None
    span = max(day.closes_min - day.opens_min, 1)
    step = _step(max(slot.p90 for slot in day.slots))
    top_count = step * -(-max(slot.p90 for slot in day.slots) // step) or step
    field_x, field_y = WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM

    def x(minute: int) -> int:
        return LEFT + round(field_x * (minute - day.opens_min) / span)

    def y(count: int) -> int:
        return HEIGHT - BOTTOM - round(field_y * count / top_count)

    middles = [
        min(day.opens_min + SLOT_MIN * i + SLOT_MIN // 2, day.closes_min) for i in range(len(day.slots))
    ]
    upper = [f"{x(m)},{y(s.p90)}" for m, s in zip(middles, day.slots, strict=True)]
    lower = [f"{x(m)},{y(s.p10)}" for m, s in zip(middles, day.slots, strict=True)]
    peak = max(range(len(day.slots)), key=lambda i: day.slots[i].p50)
    every = 120 if span > 360 else 60
    first = -(-day.opens_min // every) * every
    return DemandChart(
        id=chart_id,
        band=" ".join(upper + lower[::-1]),
        middle=" ".join(f"{x(m)},{y(s.p50)}" for m, s in zip(middles, day.slots, strict=True)),
        hours=tuple(Tick(at=x(m), value=m) for m in range(first, day.closes_min + 1, every)),
        counts=tuple(Tick(at=y(c), value=c) for c in range(0, top_count + 1, step)),
        peak_min=day.opens_min + SLOT_MIN * peak,
        peak=day.slots[peak].p50,
    )


def _step(most: int) -> int:
    """A step of 1, 2 or 5 times a power of ten that gives at most five lines."""
    size = 1
    while True:
        for factor in (1, 2, 5):
            if most <= 5 * factor * size:
                return factor * size
        size *= 10
