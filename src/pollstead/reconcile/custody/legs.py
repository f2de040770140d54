"""The legs of each thing: every word of the record about where a thing was and who had it.

Nothing is chosen here: a word that was corrected or withdrawn falls away, all others stand.
"""

from __future__ import annotations

import enum

from pollstead.election.values import Value
from pollstead.reconcile.observed import short_site
from pollstead.record.event import Part
from pollstead.record.facts import Fact, Fold, Reading


class LegKind(enum.StrEnum):
    """What sort of word about a thing it is."""

    SENT = "sent"
    RECEIVED = "received"
    STATED = "stated"
    PACKED = "packed"
    GOING = "fetched by two"
    LEFT = "room left"


_KIND_OF = {
    "thing.sent": LegKind.SENT,
    "thing.received": LegKind.RECEIVED,
    "thing.stated": LegKind.STATED,
    "memory_device.packed": LegKind.PACKED,
    "retrieval.sent": LegKind.GOING,
    "room.left": LegKind.LEFT,
}

_MEMORY_PREFIXES = ("memory-device/", "memory/")


class Leg(Value, frozen=True, kw_only=True):
    """One word about one thing. Places and people are ids; "" or () where nobody said.

    `state` is the event's coded word, `inside` the machine or case that the thing travels in. `expected_ms`
    is when a thing on its way should arrive.
    """

    event: str
    thing: str
    kind: LegKind
    site: str
    day: str
    from_place: str = ""
    to_place: str = ""
    state: str = ""
    inside: str = ""
    seals: str = ""
    givers: tuple[str, ...] = ()
    receivers: tuple[str, ...] = ()
    witnesses: tuple[str, ...] = ()
    entered_by: tuple[str, ...] = ()
    utc_ms: int
    uncertainty_ms: int = 0
    expected_ms: int | None = None

    @property
    def holders(self) -> tuple[str, ...]:
        """Who has the thing after this leg, as far as it says."""
        return self.receivers or self.givers or self.entered_by

    def answers(self) -> dict[str, bool]:
        """Which custody questions a hand-off answers: who, what, when, where, from whom, to whom, seals.

        The questions are those of the EAC's Chain of Custody Best Practices (v1.1, 2021) as our reading of it
        was noted down, not quoted from it.
        """
        return {
            "who": bool(self.entered_by),
            "what": bool(self.thing.rpartition("/")[2]),
            "when": self.utc_ms > 0,
            "where": bool(self.to_place),
            "from whom": bool(self.givers),
            "to whom": bool(self.receivers),
            "seals": bool(self.seals),
        }


def thing_key(subject: str) -> str:
    """One id for one thing: both spellings of a memory device's subject are one."""
    for prefix in _MEMORY_PREFIXES:
        if subject.startswith(prefix):
            return f"memory/{subject.removeprefix(prefix)}"
    return subject


def legs_of(folded: Fold) -> tuple[Leg, ...]:
    """Every leg that stands, in the order of clock and event; the same whatever the order of merging."""
    found = [
        _leg(fact, reading, kind)
        for name, kind in _KIND_OF.items()
        for fact in folded.named(name)
        for reading in fact.current
    ]
    return tuple(sorted(found, key=lambda leg: (leg.utc_ms, leg.event)))


def _leg(fact: Fact, reading: Reading, kind: LegKind) -> Leg:
    def text(name: str) -> str:
        value = reading.value.get(name, fact.key.get(name, ""))
        return value if isinstance(value, str) else ""

    def people(*parts: Part) -> tuple[str, ...]:
        return tuple(dict.fromkeys(p.person for p in reading.people if p.part in parts))

    expected = reading.value.get("expected_utc_ms")
    return Leg(
        event=reading.event,
        thing=thing_key(fact.subject),
        kind=kind,
        site=short_site(reading.site),
        day=fact.day,
        from_place=text("from_place"),
        to_place=text("place") if kind in (LegKind.RECEIVED, LegKind.LEFT) else text("to_place"),
        state=text("state"),
        inside=text("inside"),
        seals=text("seals"),
        givers=people(Part.GIVER),
        receivers=people(Part.RECEIVER),
        witnesses=people(Part.WITNESS),
        entered_by=people(Part.AUTHOR, Part.SECOND),
        utc_ms=reading.utc_ms,
        uncertainty_ms=reading.uncertainty_ms,
        expected_ms=expected if isinstance(expected, int) else None,
    )
