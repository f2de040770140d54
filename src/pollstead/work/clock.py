"""This computer's clock, as the table of jobs wants it."""

from __future__ import annotations

import time


def now_ms() -> int:
    """UTC milliseconds since 1970."""
    return time.time_ns() // 1_000_000
