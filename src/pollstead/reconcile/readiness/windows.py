"""Call-back windows: when everybody who opens is called again; the county's rules set the days and the hour.

Common practice, no source; varies by county.
"""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Election
from pollstead.election.instants import OperatingDay
from pollstead.election.values import Value
from pollstead.election.words import N_

WINDOW_WORDS = {
    "first": N_("first calls"),
    "week": N_("calls in the last week"),
    "evening": N_("calls on the evening before"),
    "night": N_("calls on closing night"),
}


class Window(Value, frozen=True, kw_only=True):
    """One window: its word, its first moment; it lasts until the next begins, the last until opening."""

    word: str
    starts_ms: int
    starts: dt.date
    from_min: int = 0


def windows_of(election: Election, day: dt.date) -> tuple[Window, ...]:
    """The three windows before one operating day, in the order of their beginning."""
    rules = election.rules
    made = []
    for word, rule, minute in (
        ("first", "call-back-first", 0),
        ("week", "call-back-week", 0),
        ("evening", "call-back-evening", min(23, rules.whole("call-back-evening-hour")) * 60),
    ):
        date = day - dt.timedelta(days=rules.whole(rule))
        at = OperatingDay(date=date, zone_name=election.zone_name).at_wall_clock(minute)
        made.append(Window(word=word, starts_ms=at.utc_ms, starts=date, from_min=minute))
    return tuple(sorted(made, key=lambda window: window.starts_ms))


def window_at(windows: tuple[Window, ...], now_ms: int) -> Window | None:
    """The window that has begun last; None before the first."""
    begun = [window for window in windows if window.starts_ms <= now_ms]
    return begun[-1] if begun else None
