"""Which days the compiled engine does not do; those are told event by event."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.words import N_

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pollstead.plan.terms.lines import ArrivalDay, ServiceLaw, SitePath

LARGEST_KNOT = (1 << 37) - 1
"""The longest service that the compiled engine draws, in 1/256 ms: 149 hours."""

SURELY_FITS_MS = 1_000_000
"""No law of so small a mean comes near: the longest times drawn are at most 512 means."""


def fast_engine_refuses(path: SitePath, day: ArrivalDay, counts: tuple[int, int, int, int]) -> str | None:
    """Why the compiled engine does not do such a day, in words; None when it does.

    The path alone decides now; who asks gives the whole day, so that a limit on absences or numbers may come.
    """
    if path.accessible_open:
        return N_("accessible stations open to all")
    if path.patience is not None:
        return N_("voters who leave the line")
    if any(_too_long(law) for law in _laws(path)):
        return N_("services of more than six days")
    return None


def _laws(path: SitePath) -> Iterator[ServiceLaw]:
    """Every law of times of a path that the compiled engine would draw from."""
    for work in path.works():
        if work is not None:
            yield work.law
            if work.failures is not None:
                yield work.failures.repair
    if path.jams is not None:
        yield path.jams.time
    if path.curbside is not None:
        yield path.curbside.law


def _too_long(law: ServiceLaw) -> bool:
    """Whether the longest times of a law are beyond what the engine's tables hold."""
    from pollstead.plan.lines.laws import law_table

    return law.mean_ms > SURELY_FITS_MS and int(law_table(law).max()) > LARGEST_KNOT
