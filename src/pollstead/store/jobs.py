"""Long jobs in the store: requested here, run by ``work``, watched by every screen."""

from __future__ import annotations

import enum

import sqlalchemy as sa

from pollstead.election.values import Value, require
from pollstead.store.database import Database
from pollstead.store.schema import jobs


class JobState(enum.StrEnum):
    """Where a job stands. ``cancelling`` was asked to stop and has not stopped yet."""

    WAITING = "waiting"
    RUNNING = "running"
    CANCELLING = "cancelling"
    CANCELLED = "cancelled"
    DONE = "done"
    FAILED = "failed"


ENDED = frozenset({JobState.CANCELLED, JobState.DONE, JobState.FAILED})


class Job(Value, frozen=True):
    """A job: `arguments` and `result` are JSON bytes of the job's kind; progress in work units."""

    id: str
    kind: str
    arguments: bytes
    state: JobState
    progress_done: int
    progress_total: int
    message: str
    requested_by: str
    requested_utc_ms: int
    started_utc_ms: int | None
    ended_utc_ms: int | None
    result: bytes | None


class Jobs:
    """The table of jobs. Every change is one transaction and is refused when the state does not allow it."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def request(
        self, *, job_id: str, kind: str, arguments: bytes, requested_by: str, utc_ms: int, message: str = ""
    ) -> Job:
        """Put a job in line."""
        with self._database.writing() as connection:
            connection.execute(
                sa.insert(jobs).values(
                    id=job_id,
                    kind=kind,
                    arguments=arguments,
                    state=JobState.WAITING.value,
                    progress_done=0,
                    progress_total=0,
                    message=message,
                    requested_by=requested_by,
                    requested_utc_ms=utc_ms,
                )
            )
        return self.get(job_id)

    def take(self, utc_ms: int) -> Job | None:
        """Take the job that waits longest and mark it running; None when none waits.

        Two workers never take the same job.
        """
        with self._database.writing() as connection:
            found = connection.execute(
                sa.select(jobs.c.id)
                .where(jobs.c.state == JobState.WAITING.value)
                .order_by(jobs.c.requested_utc_ms, jobs.c.id)
                .limit(1)
            ).scalar()
            if found is None:
                return None
            connection.execute(
                sa.update(jobs)
                .where(jobs.c.id == found)
                .values(state=JobState.RUNNING.value, started_utc_ms=utc_ms)
            )
        return self.get(found)

    def progress(self, job_id: str, *, done: int, total: int, message: str = "") -> bool:
        """Note how far a running job is; False tells the worker to stop, since it is being cancelled."""
        with self._database.writing() as connection:
            changed = connection.execute(
                sa.update(jobs)
                .where(jobs.c.id == job_id, jobs.c.state == JobState.RUNNING.value)
                .values(progress_done=done, progress_total=total, message=message)
            ).rowcount
        return bool(changed)

    def finish(
        self, job_id: str, state: JobState, *, utc_ms: int, message: str = "", result: bytes | None = None
    ) -> bool:
        """End a job as done, failed or cancelled; False when it had already ended."""
        require(state in ENDED, f"a job ends as done, failed or cancelled, got {state}")
        open_states = [s.value for s in JobState if s not in ENDED]
        with self._database.writing() as connection:
            changed = connection.execute(
                sa.update(jobs)
                .where(jobs.c.id == job_id, jobs.c.state.in_(open_states))
                .values(state=state.value, ended_utc_ms=utc_ms, message=message, result=result)
            ).rowcount
        return bool(changed)

    def cancel(self, job_id: str, utc_ms: int) -> JobState:
        """Ask a job to stop: one that waits is cancelled at once, one that runs is told to. Its state now."""
        with self._database.writing() as connection:
            connection.execute(
                sa.update(jobs)
                .where(jobs.c.id == job_id, jobs.c.state == JobState.WAITING.value)
                .values(state=JobState.CANCELLED.value, ended_utc_ms=utc_ms)
            )
            connection.execute(
                sa.update(jobs)
                .where(jobs.c.id == job_id, jobs.c.state == JobState.RUNNING.value)
                .values(state=JobState.CANCELLING.value)
            )
        return self.get(job_id).state

    def restart(self, job_id: str) -> bool:
        """Put a job that ended, or whose worker is gone, back in line; False when it waits already."""
        with self._database.writing() as connection:
            changed = connection.execute(
                sa.update(jobs)
                .where(jobs.c.id == job_id, jobs.c.state != JobState.WAITING.value)
                .values(
                    state=JobState.WAITING.value,
                    progress_done=0,
                    progress_total=0,
                    message="",
                    started_utc_ms=None,
                    ended_utc_ms=None,
                    result=None,
                )
            ).rowcount
        return bool(changed)

    def get(self, job_id: str) -> Job:
        """One job; raises ValueError when it is not here."""
        with self._database.reading() as connection:
            row = connection.execute(sa.select(jobs).where(jobs.c.id == job_id)).mappings().first()
        if row is None:
            raise ValueError(f"a job must be one in the table, {job_id!r} is not")
        return _job(row)

    def list(self, limit: int = 100) -> tuple[Job, ...]:
        """The newest jobs first."""
        query = sa.select(jobs).order_by(jobs.c.requested_utc_ms.desc(), jobs.c.id.desc()).limit(limit)
        with self._database.reading() as connection:
            return tuple(_job(row) for row in connection.execute(query).mappings())


def _job(row: sa.RowMapping) -> Job:
    result = row["result"]
    return Job(
        **{
            **row,
            "arguments": bytes(row["arguments"]),
            "state": JobState(row["state"]),
            "result": None if result is None else bytes(result),
        }
    )
