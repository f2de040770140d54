"""Days put together by hour of arrival and by quarter hour."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pollstead.plan.lines.intervals import nearest_rank
from pollstead.plan.terms.lines import HOUR_MS, WHOLE_PPM, ArrivalDay, ByHour, HourFigures, LineFigures

if TYPE_CHECKING:
    import numpy as np

    Ints = np.ndarray[Any, np.dtype[np.int64]]


def by_hour(day: ArrivalDay, voters: Ints, over: Ints, longest_ms: Ints, lines: Ints) -> ByHour:
    """The figures of some days from their counts.

    `voters`, `over`, `longest_ms`: int64, shape (days, hours), by hour of arrival from the set opening
    hour: voters, those over the limit, the longest wait. `lines`: int64, shape (days, moments, 5), voters
    in line at ``day.moments_ms()`` in the order of ``Stage``.
    """
    days = len(voters)
    hours = []
    for hour in range(day.hours):
        came = int(voters[:, hour].sum())
        ordered = sorted(longest_ms[:, hour].tolist())
        hours.append(
            HourFigures(
                from_ms=day.open_ms + hour * HOUR_MS,
                voters=came,
                over_limit_ppm=int(over[:, hour].sum()) * WHOLE_PPM // max(1, came),
                p50_longest_ms=nearest_rank(ordered, 50),
                p90_longest_ms=nearest_rank(ordered, 90),
            )
        )
    sums = lines.sum(axis=0).tolist()
    means = [tuple((n * 2000 + days) // (2 * days) for n in row) for row in sums]
    return ByHour(
        days=days,
        hours=tuple(hours),
        lines=tuple(
            LineFigures(at_ms=at, in_line_milli=(a, b, c, d, e))
            for at, (a, b, c, d, e) in zip(day.moments_ms(), means, strict=True)
        ),
    )
