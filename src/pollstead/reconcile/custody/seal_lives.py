"""The life of seals as the record tells it: put on, read, cut, void."""

from __future__ import annotations

from pollstead.plan.terms.seals import SealEvent, SealStep
from pollstead.record.facts import Fold, Reading

_WHY = {"cut": SealStep.CUT}


def seal_events(folded: Fold, kinds: dict[str, str]) -> tuple[SealEvent, ...]:
    """Every step of every seal in the record, by cause and clock; `kinds` is closure id -> kind of seal.

    The fold must have been made with private parts. A number on a closure of no known kind is left out:
    the plan does not know that closure. What was corrected or withdrawn counts no more.
    """
    found = []
    for name, step in (
        ("closure.sealed", SealStep.APPLIED),
        ("seen.seal", SealStep.READ),
        ("seal.voided", SealStep.VOIDED),
    ):
        for fact in folded.named(name):
            position = int(fact.key.get("position", 1))
            place = fact.subject if position == 1 else f"{fact.subject}/{position}"
            kind = kind_of(place, kinds)
            for reading in fact.current:
                number = _number(reading)
                if number and (kind or name == "seal.voided"):
                    found.append(
                        SealEvent(
                            number=number,
                            step=_step(step, reading),
                            seal_kind=kind,
                            place=place if place.startswith("closure/") else "",
                            utc_ms=reading.utc_ms,
                            source=name,
                        )
                    )
    return tuple(sorted(found, key=lambda e: (e.utc_ms, e.place, e.number, e.step.value)))


def kind_of(place: str, kinds: dict[str, str]) -> str:
    """The kind of seal of a closure or of one position of it; empty where the plan does not know it."""
    if place in kinds:
        return kinds[place]
    closure, _, last = place.rpartition("/")
    return kinds.get(closure, "") if last.isdecimal() else ""


def _number(reading: Reading) -> str:
    number = reading.private.get("number") if reading.private is not None else None
    return number if isinstance(number, str) else ""


def _step(step: SealStep, reading: Reading) -> SealStep:
    if step is SealStep.VOIDED:
        return _WHY.get(str(reading.value.get("why", "")), SealStep.VOIDED)
    return step
