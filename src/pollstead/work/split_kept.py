"""A split as a job: computed once for what was asked, kept as a result that anybody may throw away.

The job's own result is the key under which the report is kept; where it was thrown away, the same split is
asked for again and comes out the same.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Final

import msgspec

from pollstead.election.values import Value
from pollstead.plan.terms.split import Goal
from pollstead.store.jobs import Job, JobState
from pollstead.work.clock import now_ms
from pollstead.work.county_folder import store_of
from pollstead.work.kinds import SplitArguments, decode_arguments
from pollstead.work.splitting import SplitReport, split_folder

if TYPE_CHECKING:
    from pollstead.plan.terms.part import Watch
    from pollstead.store.opening import Store

JOB_KIND: Final = "split"


class KeptSplit(Value, frozen=True, kw_only=True):
    """A split that was made: its job, what was asked, its report (None where it was thrown away)."""

    job: str
    asked: SplitArguments
    by: str
    utc_ms: int
    report: SplitReport | None


def keep_split(
    folder: Path,
    *,
    watch: Watch,
    goal: Goal,
    within_percent: int,
    stay_min: int,
    days: int,
    fresh_days: int,
    spare_share_ppm: int | None,
    run_out_ppm: int | None,
) -> str:
    """Split the fleet and keep the report; gives its key. Raises as `split_folder`."""
    report = split_folder(
        folder,
        watch=watch,
        goal=goal,
        within_percent=within_percent,
        stay_min=stay_min,
        days=days,
        fresh_days=fresh_days,
        spare_share_ppm=spare_share_ppm,
        run_out_ppm=run_out_ppm,
    )
    data = msgspec.json.encode(report)
    key = f"{JOB_KIND}/{hashlib.sha256(data).hexdigest()}"
    with store_of(folder) as store:
        store.kept.save({key: data}, (), utc_ms=now_ms())
    return key


def report_of(store: Store, job: Job) -> SplitReport | None:
    """The report of a finished job; None where it was thrown away or comes from another version."""
    if job.kind != JOB_KIND or job.state is not JobState.DONE or job.result is None:
        return None
    data = store.kept.get(str(msgspec.json.decode(job.result)))
    if data is None:
        return None
    try:
        return msgspec.json.decode(data, type=SplitReport)
    except msgspec.ValidationError:
        # Kept by another version of this program: as good as thrown away, since it can be made again.
        return None


def kept_split(store: Store, job: Job) -> KeptSplit:
    """A job of a split with its report."""
    asked = decode_arguments(job.kind, job.arguments)
    if not isinstance(asked, SplitArguments):
        raise TypeError(f"job {job.id} is no split")
    return KeptSplit(
        job=job.id,
        asked=asked,
        by=job.requested_by,
        utc_ms=job.requested_utc_ms,
        report=report_of(store, job),
    )
