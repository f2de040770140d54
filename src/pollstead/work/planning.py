"""Planning a county folder: facts and decisions in, a plan version kept with all that went into it.

The same path for the command line, a job, and a page that plans at once.
"""

from __future__ import annotations

import functools
import os
from pathlib import Path
from typing import TYPE_CHECKING

from pollstead.election.county import Election
from pollstead.election.values import Value, require
from pollstead.plan.terms.part import Effort, Watch
from pollstead.plan.terms.version import Decisions, PlanVersion, Told
from pollstead.work.cluster import spreading
from pollstead.work.county_folder import (
    MoreNotices,
    engines,
    facts_of,
    parent_digest,
    version_of,
)
from pollstead.work.decisions import decisions_of
from pollstead.work.keeping import StoreKeeping

if TYPE_CHECKING:
    from pollstead.intake.folder import Intake
    from pollstead.store.opening import Store


def plan_folder(
    folder: Path,
    *,
    watch: Watch,
    effort: Effort = Effort.QUICK,
    seed: int = 1,
    workers: int | str = 0,
    also_told: MoreNotices | None = None,
) -> str:
    """Read the facts, make a plan version, keep it with all that went in; gives its digest.

    Where nothing changed since the version that it would come after, that one is the answer. Raises
    `Refused` where the facts give no plan, `Cancelled` from `watch`; then nothing is kept. `also_told`
    adds notices about the facts, which are part of what went in. `workers`: threads (0: all), or where else
    the sites are sized, see `pollstead.work.cluster`.
    """
    from pollstead.store.opening import open_store

    _, intake = facts_of(Path(folder), also_told)
    with open_store(folder) as store:
        parent = parent_digest(store)
        drawn = draw_up(store, intake, watch=watch, effort=effort, seed=seed, workers=workers, parent=parent)
        if drawn.version is None:
            return parent
        return keep(store, drawn)


class DrawnUp(Value, frozen=True, kw_only=True):
    """A plan version that is not kept yet, with all that went in.

    `version` is None where nothing changed since the version that it would come after.
    """

    election: Election
    decisions: Decisions
    told: Told
    version: PlanVersion | None


def draw_up(
    store: Store,
    intake: Intake,
    *,
    watch: Watch,
    effort: Effort,
    seed: int,
    parent: str,
    workers: int | str = 0,
    anew: bool = False,
) -> DrawnUp:
    """Plan the facts of `intake` after the version `parent` ("" for none); the version is not kept.

    Sites whose sizing follows from the same as in an earlier plan take its result from the store.

    With `anew` there is a version even where nothing changed since `parent`. Raises ValueError where the
    intake holds no facts, `Cancelled` from `watch`.
    """
    from pollstead.election.canonical import digest_of
    from pollstead.plan.compose import compose
    from pollstead.plan.lines.run import run as run_lines

    require(intake.election is not None, "facts must have been read before they can be planned")
    election = intake.election
    assert election is not None  # noqa: S101 - required above
    decisions, differing = decisions_of(store)
    told = Told(notices=(*intake.notices, *differing), leave_out=intake.not_planned)
    previous = version_of(store, parent) if parent else None
    inputs = (intake.digest, digest_of(decisions), digest_of(told), seed, effort, engines())
    if not anew and previous is not None and not previous.stopped_early and _inputs(previous) == inputs:
        return DrawnUp(election=election, decisions=decisions, told=told, version=None)
    with StoreKeeping(store) as keeping, spreading(workers or os.cpu_count() or 1) as spread:
        version = compose(
            election,
            intake.digest,
            decisions,
            seed,
            effort,
            watch,
            parent,
            told=told,
            previous=previous,
            engines=engines(),
            lines_run=functools.partial(run_lines, keeping=keeping, spreading=spread),
        )
    return DrawnUp(election=election, decisions=decisions, told=told, version=version)


def keep(store: Store, drawn: DrawnUp) -> str:
    """Keep a plan version with all that went in, and give its digest; keeping it again changes nothing."""
    from pollstead.election.canonical import canonical_bytes, digest_of
    from pollstead.store.versions import PlanVersion as VersionLine
    from pollstead.work.clock import now_ms

    version = drawn.version
    require(version is not None, "there must be a plan version to keep")
    assert version is not None  # noqa: S101 - required above
    now = now_ms()
    for value, label in (
        (drawn.election, "facts"),
        (drawn.decisions, "decisions"),
        (drawn.told, "notices"),
    ):
        store.snapshots.save(canonical_bytes(value), label=label, created_utc_ms=now)
    digest = digest_of(version)
    store.plans.save(
        VersionLine(
            digest=digest,
            parent=version.parent,
            snapshot=version.snapshot,
            label="",
            effort=version.effort.value,
            seed=str(version.seed),
            stopped_early=version.stopped_early,
            created_utc_ms=now,
        ),
        canonical_bytes(version),
    )
    return digest


def _inputs(version: PlanVersion) -> tuple[object, ...]:
    return (
        version.snapshot,
        version.decisions,
        version.told,
        version.seed,
        version.effort,
        version.engines,
    )
