"""One simulated day of the compiled engine by hour of arrival, from what it traced of each voter."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pollstead.plan.terms.lines import HOUR_MS, ArrivalDay

if TYPE_CHECKING:
    Ints = np.ndarray[Any, np.dtype[np.int64]]

STAGES = 5


def counted_hours(day: ArrivalDay, trace: Ints, limit_ms: int) -> tuple[Ints, Ints, Ints, Ints]:
    """Voters, voters over the limit and the longest wait of each hour, and the lines each quarter hour.

    `trace`: int64, shape (7, voters), see ``engine.simulate_days``. Gives int64 arrays, three of shape
    (hours,) and one of (moments, 5) in the order of ``Stage``; equal to ``told.counted_day`` of that day.
    """
    arrives, at_check_in, at_mark, at_cast, marking, checking_in, curb = trace
    waits = at_check_in + at_mark + at_cast
    hour = np.maximum(0, arrives - day.open_ms) // HOUR_MS
    voters = np.bincount(hour, minlength=day.hours)
    over = np.bincount(hour[waits > limit_ms], minlength=day.hours)
    longest = np.zeros(day.hours, np.int64)
    np.maximum.at(longest, hour, waits)
    lines = np.zeros((len(day.moments_ms()), STAGES), np.int64)
    moments = np.array(day.moments_ms(), np.int64)
    reached = np.maximum(arrives, day.open_ms)
    begins = reached + at_check_in
    inside, there = curb == 0, curb == 1
    lines[:, 0] = _in_line(moments, reached[inside], begins[inside])
    lines[:, 4] = _in_line(moments, reached[there], begins[there])
    reached = begins + checking_in
    begins = reached + at_mark
    needs, others = marking < 0, inside & (marking >= 0)
    lines[:, 1] = _in_line(moments, reached[others], begins[others])
    lines[:, 2] = _in_line(moments, reached[needs], begins[needs])
    reached = begins + np.where(needs, -1 - marking, marking)
    lines[:, 3] = _in_line(moments, reached[inside], (reached + at_cast)[inside])
    return voters.astype(np.int64), over.astype(np.int64), longest, lines


def _in_line(moments: Ints, reached: Ints, begins: Ints) -> Ints:
    """How many have reached a line and not begun, all that happened at the moment included."""
    came = np.searchsorted(np.sort(reached), moments, side="right")
    went = np.searchsorted(np.sort(begins), moments, side="right")
    return np.asarray(came - went, np.int64)
