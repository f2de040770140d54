"""The newest plan version and the folded record of a folder, where they are there; nothing is made."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.plan.terms.version import PlanVersion
    from pollstead.record.facts import Fold

DATABASE = "pollstead.db"


def standing_of(folder: Path) -> tuple[PlanVersion | None, Fold | None, Election | None]:
    """Plan, record with private parts, and the facts of that plan; None for each that is not there.

    Refuses a store that cannot be opened.
    """
    if not (folder / DATABASE).exists():
        return None, None, None
    from pollstead.cli.county import digests, store_of, version_of
    from pollstead.election.county import Election

    with store_of(folder) as store:
        kept = digests(store)
        plan = version_of(store, kept[-1]) if kept else None
        facts = None
        if plan is not None:
            facts = msgspec.json.decode(store.snapshots.load(plan.snapshot), type=Election)
        folded = store.fold(private=True) if store.header() is not None else None
    return plan, folded, facts
