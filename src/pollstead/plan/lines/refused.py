"""Which days the compiled engine does not do; those are told event by event."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.words import N_

if TYPE_CHECKING:
    from pollstead.plan.terms.lines import ArrivalDay, SitePath


def fast_engine_refuses(path: SitePath, day: ArrivalDay, counts: tuple[int, int, int, int]) -> str | None:
    """Why the compiled engine does not do such a day, in words; None when it does."""
    if path.accessible_open:
        return N_("accessible stations open to all")
    if path.patience is not None:
        return N_("voters who leave the line")
    if path.curbside is not None:
        return N_("voters at the curb")
    if path.jams is not None:
        return N_("ballots that jam")
    if any(work is not None and work.failures is not None for work in path.works()):
        return N_("stations that fail")
    if any(day.absences_of(counts)):
        return N_("breaks and shifts")
    return None
