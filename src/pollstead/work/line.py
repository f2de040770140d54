"""The line of jobs: ask for one, cancel one, start one again, and find those whose worker is gone."""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import Final

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.store.jobs import Job, JobState
from pollstead.store.opening import Store
from pollstead.work.kinds import KINDS, encode_arguments
from pollstead.work.lock import worker_lock

INTERRUPTED: Final = N_(
    "Interrupted: the program ended while this job ran. What was not finished was not kept."
)
"""The message of a job whose worker was gone before the job had ended."""

CANCELLED_WORDS: Final = N_("Stopped as asked. What was not finished was not kept.")
LIVING: Final = frozenset({JobState.RUNNING, JobState.CANCELLING})


def ask_for(store: Store, kind: str, arguments: Value, *, by: str, utc_ms: int) -> Job:
    """Put a job of `kind` in line; raises ValueError for an unknown kind."""
    if kind not in KINDS:
        raise ValueError(f"kind must be one of {', '.join(sorted(KINDS))}, got {kind!r}")
    return store.jobs.request(
        job_id=f"job-{utc_ms:x}-{secrets.token_hex(3)}",
        kind=kind,
        arguments=encode_arguments(arguments),
        requested_by=by,
        utc_ms=utc_ms,
    )


def interrupted(job: Job) -> bool:
    """Whether a job ended because its worker was gone."""
    return job.state is JobState.FAILED and job.message == INTERRUPTED


def sweep(store: Store, folder: Path, utc_ms: int) -> tuple[str, ...]:
    """Mark jobs as interrupted that stand as running while no worker lives; gives their ids.

    A job that was being cancelled counts as cancelled: that is what was asked for.
    """
    living = [job for job in store.jobs.list() if job.state in LIVING]
    if not living:
        return ()
    with worker_lock(folder) as ours:
        return sweep_holding_lock(store, utc_ms) if ours else ()


def sweep_holding_lock(store: Store, utc_ms: int) -> tuple[str, ...]:
    """`sweep` for a caller that holds the worker lock."""
    found = []
    for job in store.jobs.list():
        if job.state is JobState.RUNNING:
            store.jobs.finish(job.id, JobState.FAILED, utc_ms=utc_ms, message=INTERRUPTED)
            found.append(job.id)
        elif job.state is JobState.CANCELLING:
            store.jobs.finish(job.id, JobState.CANCELLED, utc_ms=utc_ms, message=CANCELLED_WORDS)
    return tuple(found)
