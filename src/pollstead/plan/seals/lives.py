"""The one life of a seal: received, assigned, applied, read, cut, then void or returned; what breaks it."""

from __future__ import annotations

from collections import defaultdict

from pollstead.election.seal_checks import SealChecks
from pollstead.election.seal_stock import SealVoid, VoidReason
from pollstead.plan.seals.spans import Run, Shape, holds, shape_of
from pollstead.plan.seals.trouble import Trouble, TroubleKind
from pollstead.plan.terms.seals import SealEvent, SealStep

_ON_A_CLOSURE = (SealStep.APPLIED, SealStep.READ)


def steps_of(events: tuple[SealEvent, ...], voids: tuple[SealVoid, ...]) -> tuple[SealEvent, ...]:
    """All steps, those of the table of void seals too; a seal that was cut is void afterwards."""
    told = tuple(
        SealEvent(
            number=void.number,
            step=SealStep.CUT if void.reason == VoidReason.CUT.value else SealStep.VOIDED,
            seal_kind=void.seal_kind,
            source=f"seal_voids.csv ({void.reason})",
        )
        for void in voids
    )
    return (*events, *told)


def life_troubles(
    events: tuple[SealEvent, ...],
    held: dict[Shape, tuple[Run, ...]],
    returned: dict[Shape, tuple[Run, ...]],
    checks: SealChecks,
) -> list[Trouble]:
    """Every number with more than one life, and every number that never came in."""
    lives: dict[tuple[str, str], list[SealEvent]] = defaultdict(list)
    for event in events:
        lives[event.seal_kind, event.number].append(event)
    troubles: list[Trouble] = []
    for (kind, number), life in sorted(lives.items()):
        life.sort(key=lambda e: (e.utc_ms, list(SealStep).index(e.step)))
        found = shape_of(kind, number, checks.scheme_of(kind, number))
        known = found is not None and holds(held.get(found[0], ()), found[1])
        back = found is not None and holds(returned.get(found[0], ()), found[1])
        troubles += _of_one(kind, number, life, known=known, back=back)
    return troubles


def _of_one(kind: str, number: str, life: list[SealEvent], *, known: bool, back: bool) -> list[Trouble]:
    on = [event for event in life if event.step in _ON_A_CLOSURE]
    places = tuple(dict.fromkeys(event.place for event in on if event.place))
    void = [event for event in life if event.step is SealStep.VOIDED]
    cut = [event for event in life if event.step is SealStep.CUT]

    def told(what: TroubleKind, where: str) -> Trouble:
        return Trouble(kind=what, seal_kind=kind, where=where, first=number, last=number, count=1)

    where = ", ".join(places) or ", ".join(dict.fromkeys(e.source for e in life if e.source)) or kind
    found = []
    if not known:
        found.append(told(TroubleKind.OUTSIDE, where))
    if len(places) > 1:
        found.append(told(TroubleKind.USED_TWICE, where))
    if void and on:
        found.append(told(TroubleKind.VOID_USED, where))
    if back and on:
        found.append(told(TroubleKind.RETURNED_USED, where))
    if len({event.source for event in (*void, *cut) if event.source}) > 1:
        found.append(told(TroubleKind.VOID_TWICE, where))
    # What facts tell has no time of its own: only steps with one can come after the cut.
    timed = [event for event in cut if event.utc_ms]
    if timed and any(event.utc_ms > timed[0].utc_ms for event in on):
        found.append(told(TroubleKind.AFTER_CUT, where))
    return found
