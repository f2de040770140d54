"""Print a sheet of the warehouse into one file: shared by ``pollstead stock`` and ``pollstead fleet``."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from pollstead.election.words import N_, message
from pollstead.show.words import fill, spoken

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.plan.terms.version import PlanVersion
    from pollstead.show.packet.content import Print
    from pollstead.show.packet.warehouse import Printing


def print_to(
    path: Path, election: Election, plan: PlanVersion | None, make: Callable[[Printing], Print]
) -> int:
    """Set what `make` gives into `path`, whole or not at all; 1 with the reason where it cannot be."""
    from pollstead.election.canonical import digest_of
    from pollstead.election.instants import Instant
    from pollstead.show.packet.setting import PrintFailed, SettingProcess
    from pollstead.show.packet.warehouse import Printing
    from pollstead.work.clock import now_ms

    given = Printing(
        election=election,
        digest=digest_of(plan if plan is not None else election),
        printed_at=Instant(utc_ms=now_ms()),
        language=spoken(),
    )
    process = SettingProcess()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        made = process.set(path, make(given))
    except PrintFailed as error:
        print(fill(error.said), file=sys.stderr)
        return 1
    finally:
        process.end()
    print(fill(message(N_("{path}: {pages} pages."), path=str(path), pages=made.pages)))
    return 0
