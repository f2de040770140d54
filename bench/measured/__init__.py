"""Where and when a bench ran: the same lines at the head of every kept result."""

from __future__ import annotations

import datetime as dt
import os
import platform
import subprocess
from pathlib import Path

BUSY = "other work on the machine at the start, mean of runnable tasks over 1 min"


def machine_and_moment() -> dict[str, str | float]:
    """Kind of processor, cores and Python; other work there; commit and date (UTC). Ask when a run begins.

    The commit is the checkout's, "" where it is none; what is not committed is not told.
    """
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parent,
    ).stdout.strip()
    return {
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}",
        BUSY: round(os.getloadavg()[0], 2),
        "commit": commit,
        "date": dt.datetime.now(dt.UTC).date().isoformat(),
    }
