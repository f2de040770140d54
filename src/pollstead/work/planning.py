"""Planning a county folder: facts and decisions in, a plan version kept with all that went into it.

The same path for the command line, a job, and a page that plans at once.
"""

from __future__ import annotations

import os
from pathlib import Path

from pollstead.plan.terms.part import Effort, Watch
from pollstead.plan.terms.version import PlanVersion, Told
from pollstead.work.county_folder import (
    MoreNotices,
    engines,
    facts_of,
    parent_digest,
    version_of,
)
from pollstead.work.decisions import decisions_of


def plan_folder(
    folder: Path,
    *,
    watch: Watch,
    effort: Effort = Effort.QUICK,
    seed: int = 1,
    workers: int = 0,
    also_told: MoreNotices | None = None,
) -> str:
    """Read the facts, make a plan version, keep it with all that went in; gives its digest.

    Where nothing changed since the version that it would come after, that one is the answer. Raises
    `Refused` where the facts give no plan, `Cancelled` from `watch`; then nothing is kept. `also_told`
    adds notices about the facts, which are part of what went in.
    """
    from pollstead.election.canonical import canonical_bytes, digest_of
    from pollstead.plan.compose import compose
    from pollstead.store.opening import open_store
    from pollstead.store.versions import PlanVersion as VersionLine
    from pollstead.work.clock import now_ms

    election, intake = facts_of(Path(folder), also_told)
    with open_store(folder) as store:
        decisions, differing = decisions_of(store)
        told = Told(notices=(*intake.notices, *differing), leave_out=intake.not_planned)
        parent = parent_digest(store)
        previous = version_of(store, parent) if parent else None
        inputs = (intake.digest, digest_of(decisions), digest_of(told), seed, effort, engines())
        if previous is not None and not previous.stopped_early and _inputs(previous) == inputs:
            return parent
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
            workers=workers or os.cpu_count() or 1,
        )
        now = now_ms()
        for value, label in ((election, "facts"), (decisions, "decisions"), (told, "notices")):
            store.snapshots.save(canonical_bytes(value), label=label, created_utc_ms=now)
        data = canonical_bytes(version)
        digest = digest_of(version)
        store.plans.save(
            VersionLine(
                digest=digest,
                parent=parent,
                snapshot=intake.digest,
                label="",
                effort=effort.value,
                seed=str(seed),
                stopped_early=version.stopped_early,
                created_utc_ms=now,
            ),
            data,
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
