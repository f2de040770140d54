"""The facts that a workbook was made from, and the plan versions that were made from other facts."""

from __future__ import annotations

from pathlib import Path

import msgspec

from pollstead.election.canonical import canonical_bytes
from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.intake.folder import read_folder
from pollstead.intake.kept_tables import EARLIER, kept
from pollstead.record.kinds.offices import PlanApproved
from pollstead.store.opening import Store, open_store
from pollstead.work.county_folder import DATABASE


class StalePlan(Value, frozen=True):
    """A plan version made from other facts than the tables hold now; the oldest version is number 1."""

    number: int
    digest: str
    approved: bool


def keep_snapshot(store: Store, election: Election, utc_ms: int) -> None:
    """Keep the facts: a workbook made from them then finds out which side changed."""
    store.snapshots.save(canonical_bytes(election), label="facts", created_utc_ms=utc_ms)


def snapshot_of(folder: Path, store: Store | None, digest: str) -> Election | None:
    """The snapshot of `digest` from the store or from tables kept before a change, or None."""
    if store is not None and digest in {line.digest for line in store.snapshots.list()}:
        return msgspec.json.decode(store.snapshots.load(digest), type=Election)
    for copy in kept(folder):
        if copy.before == digest:
            intake = read_folder(folder / EARLIER / copy.name)
            if intake.digest == digest:
                return intake.election
    return None


def store_if_there(folder: Path) -> Store | None:
    """The folder's store, or None where there is none yet; raises ValueError where it cannot be opened."""
    return open_store(folder, create=False) if (folder / DATABASE).exists() else None


def stale_plans(store: Store, digest: str) -> tuple[StalePlan, ...]:
    """Of the newest plan version and the one approved last, those not made from the facts `digest`."""
    lines = store.plans.list()
    numbers = {line.digest: len(lines) - place for place, line in enumerate(lines)}
    approvals = [str(signed.event.body["digest"]) for signed in store.events.of_kinds(PlanApproved.kind)]
    approved = next((one for one in reversed(approvals) if one in numbers), "")
    return tuple(
        StalePlan(numbers[line.digest], line.digest, line.digest == approved)
        for place, line in enumerate(lines)
        if (place == 0 or line.digest == approved) and line.snapshot != digest
    )
