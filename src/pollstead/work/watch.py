"""Tell the store how far a job is, and learn from it that the job should stop."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Final

from pollstead.plan.terms.part import Cancelled
from pollstead.store.opening import Store

LEAST_INTERVAL_S: Final = 0.3


class StoreWatch:
    """A `Watch` whose steps go to the table of jobs, a few times a second at most.

    `step` raises `Cancelled` once somebody has asked the job to stop.
    """

    def __init__(self, store: Store, job_id: str, clock: Callable[[], float] = time.monotonic) -> None:
        self._store = store
        self._job_id = job_id
        self._clock = clock
        self._told_at: float | None = None
        self._part = ""

    def step(self, part: str, done: int, total: int) -> None:
        """Say that `done` of `total` steps of `part` are done."""
        now = self._clock()
        if self._told_at is not None and part == self._part and now - self._told_at < LEAST_INTERVAL_S:
            return
        self._told_at, self._part = now, part
        if not self._store.jobs.progress(self._job_id, done=done, total=total, message=part):
            raise Cancelled(f"job {self._job_id} was asked to stop while at {part}")
