"""What stands at the head of a kept result: told once, by one place, for every bench."""

from __future__ import annotations

import datetime as dt
import platform
from pathlib import Path

from bench.measured import BUSY, machine_and_moment

BENCH = Path(__file__).resolve().parents[2] / "bench"


def test_machine_other_work_commit_and_date_are_told() -> None:
    """The processor as the platform names it, a day of today in UTC, a load that is no negative number."""
    before = dt.datetime.now(dt.UTC).date()
    told = machine_and_moment()
    assert list(told) == ["machine", BUSY, "commit", "date"]
    assert str(told["machine"]).startswith(platform.machine())
    assert float(told[BUSY]) >= 0
    assert before <= dt.date.fromisoformat(str(told["date"])) <= dt.datetime.now(dt.UTC).date()


def test_no_bench_asks_for_its_machine_or_commit_by_itself() -> None:
    """One place alone asks, so that kept results can be laid side by side."""
    asks = {
        path.relative_to(BENCH).as_posix()
        for path in BENCH.rglob("*.py")
        if any(words in path.read_text(encoding="utf-8") for words in ("rev-parse", "platform.machine"))
    }
    assert asks == {"measured/__init__.py"}
