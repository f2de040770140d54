"""What commands about a county folder share: facts with the notices of letters, and how a refusal is told."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from pollstead.show.words import fill
from pollstead.work.county_folder import (
    DATABASE,
    ENGINES,
    Refused,
    county_folder,
    digest_named,
    digests,
    engines,
    parent_digest,
    refuse,
    store_of,
    version_of,
)
from pollstead.work.decisions import decisions_of

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.intake.folder import Intake

__all__ = [
    "DATABASE",
    "ENGINES",
    "Refused",
    "county_folder",
    "decisions_of",
    "digest_named",
    "digests",
    "engines",
    "facts_of",
    "parent_digest",
    "refuse",
    "store_of",
    "tell",
    "version_of",
    "with_letters",
]


def tell(refused: Refused) -> int:
    """Print why something could not be done, and give the exit code."""
    print(fill(refused.said), file=sys.stderr)
    return 1


def facts_of(folder: Path) -> tuple[Election, Intake]:
    """The facts of a county folder, with an open item for all words whose letters cannot be printed."""
    from pollstead.show.letters import letters_without_font
    from pollstead.work.county_folder import facts_of as read

    return read(folder, letters_without_font)


def with_letters(intake: Intake) -> Intake:
    """The intake with open items for letters that cannot be printed, and dates that cross, after its own."""
    import msgspec

    from pollstead.plan.calendar.conflicts import conflict_notices
    from pollstead.plan.calendar.days import working_days_of
    from pollstead.show.letters import letters_without_font

    if intake.election is None:
        return intake
    election = intake.election
    crossing = conflict_notices(election.tasks, election.election_day, working_days_of(election))
    lacking = letters_without_font(election)
    return msgspec.structs.replace(intake, notices=(*intake.notices, *crossing, *lacking))
