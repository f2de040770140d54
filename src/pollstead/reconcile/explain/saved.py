"""Explanations that a named person saved, and whether they still hold for the numbers as they are."""

from __future__ import annotations

from pollstead.election.values import Value
from pollstead.reconcile.explain.terms import Explained
from pollstead.record.fold import Fold

KIND = "explanation.saved"


class Saved(Value, frozen=True, kw_only=True):
    """One saved explanation: who, when, for which numbers, its words.

    `holds` says whether the numbers are still those that it explains; else it is kept and the difference is
    open again. `words` are empty where the private part is not here.
    """

    event: str
    person: str
    utc_ms: int
    explanation: str
    digest: str
    words: str
    own: str
    act: str
    number: str
    outcome: int | None
    holds: bool
    in_force: bool


def saved_of(folded: Fold, site: str, day: str, explained: Explained | None) -> tuple[Saved, ...]:
    """What was saved about a site's day, the latest last; the words only as far as `folded` has them."""
    fact = folded.find(f"site/{site.removeprefix('site/')}", KIND, day)
    if fact is None:
        return ()
    standing = {reading.event for reading in fact.current}
    now = "" if explained is None else explained.digest
    found = []
    for reading in fact.readings:
        value = reading.value
        private = reading.private
        outcome = value.get("outcome")
        found.append(
            Saved(
                event=reading.event,
                person=reading.people[0].person if reading.people else "",
                utc_ms=reading.utc_ms,
                explanation=str(value["explanation"]),
                digest=str(value["digest"]),
                words="" if private is None else str(private.get("words", "")),
                own="" if private is None else str(private.get("own", "")),
                act=str(value.get("act", "")),
                number=str(value.get("looked_at", "")),
                outcome=outcome if isinstance(outcome, int) else None,
                holds=bool(now) and str(value["digest"]) == now and not reading.withdrawn,
                in_force=reading.event in standing,
            )
        )
    return tuple(sorted(found, key=lambda one: (one.utc_ms, one.event)))


def in_force(saved: tuple[Saved, ...]) -> Saved | None:
    """The saved explanation that holds now; None where none does or two stand beside one another."""
    standing = [one for one in saved if one.in_force and one.holds]
    return standing[0] if len(standing) == 1 else None
