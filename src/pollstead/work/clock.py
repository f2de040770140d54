"""This computer's clock: milliseconds for the table of jobs, a date for "is it past?"."""

from __future__ import annotations

import datetime as dt
import time

from pollstead.election.instants import Instant

LAST_ZONE = "Etc/GMT+12"
"""The zone in which a day ends last (IANA zone database: the sign is turned round)."""


def now_ms() -> int:
    """UTC milliseconds since 1970."""
    return time.time_ns() // 1_000_000


def date_everywhere() -> dt.date:
    """The date that has come everywhere on Earth: a day before it is past in every zone."""
    return Instant(utc_ms=now_ms()).local(LAST_ZONE).date()
