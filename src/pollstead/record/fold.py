"""Fold events into facts (`pollstead.record.facts`).

The outcome depends on the set of events only. Order is by cause first (`prev` and `after`), then by
clock, then by id. Nothing wins silently: two values for one fact both stay and both are shown; a
correction names the event that it corrects, and both stay.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from pollstead.election.notice import Notice
from pollstead.election.words import N_
from pollstead.record.check import chain_troubles
from pollstead.record.event import Event, Signed
from pollstead.record.facts import BY_PHONE, LINE, ORIGIN, SHEET, Fact, Fold, Reading
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Nature
from pollstead.record.kinds.days import EntryCorrected
from pollstead.record.kinds.registry import KINDS, UnknownKind, Unreadable, body_of, parse_body
from pollstead.record.problem import Problem, trouble

__all__ = ["SHEET", "Fact", "FactName", "Fold", "Placed", "Reading", "causal_order", "causes_of", "fold"]


def causal_order(events: Iterable[Signed]) -> tuple[Signed, ...]:
    """Every event after those it names in `prev` and `after` or corrects; else by clock, then by id.

    Events that are named but not here are passed over. Cycles cannot occur: a name is a digest.
    """
    here = {signed.id: signed for signed in events}
    waiting: dict[str, int] = {}
    followers: dict[str, list[str]] = defaultdict(list)
    ready: list[tuple[int, str]] = []
    for signed in here.values():
        causes = {cause for cause in causes_of(signed.event) if cause in here}
        waiting[signed.id] = len(causes)
        for cause in causes:
            followers[cause].append(signed.id)
        if not causes:
            heapq.heappush(ready, (signed.event.utc_ms, signed.id))
    ordered: list[Signed] = []
    while ready:
        _, event_id = heapq.heappop(ready)
        ordered.append(here[event_id])
        for follower in followers[event_id]:
            waiting[follower] -= 1
            if waiting[follower] == 0:
                heapq.heappush(ready, (here[follower].event.utc_ms, follower))
    return tuple(ordered)


def causes_of(event: Event) -> tuple[str, ...]:
    """The ids of the events that an event names as coming before it."""
    return tuple(cause for cause in (event.prev, *event.after, *_corrected(event)) if cause)


def _corrected(event: Event) -> tuple[str, ...]:
    """The event that a correction names: it comes before the correction, whatever the clocks say."""
    corrects = event.body.get("corrects") if event.kind == EntryCorrected.kind else None
    return (corrects,) if isinstance(corrects, str) else ()


def fold(events: Iterable[Signed], sides: Mapping[str, FrozenObject] | None = None) -> Fold:
    """Fold a set of events into facts; `sides` maps digests to private fields that may be shown.

    Duplicates are folded once. Unknown kinds become facts of their own (subject, kind, key with
    the event's id), so that they are shown and never lost.
    """
    ordered = causal_order({signed.id: signed for signed in events}.values())
    places = Placed(ordered, sides or {})
    notices = [found.to_notice() for found in chain_troubles(ordered)] + places.notices
    facts = tuple(places.fact(name) for name in sorted(places.readings))
    return Fold(facts, tuple(signed.id for signed in ordered), tuple(notices))


FactName = tuple[str, str, str, str]


class Placed:
    """Each event filed under its fact, while a fold is made.

    `natures_changed` names facts that events of two natures speak of; the later in the order decides.
    """

    def __init__(self, ordered: tuple[Signed, ...], sides: Mapping[str, FrozenObject]) -> None:
        self.readings: dict[FactName, list[Reading]] = defaultdict(list)
        self.keys: dict[FactName, FrozenObject] = {}
        self.notices: list[Notice] = []
        self._sides = sides
        self._signed: dict[str, Signed] = {}
        self.place_of: dict[str, FactName] = {}
        self._natures: dict[FactName, Nature] = {}
        self.natures_changed: list[FactName] = []
        for signed in ordered:
            self.file(signed)

    def file(self, signed: Signed) -> None:
        """File one event, after those that it names."""
        self._signed[signed.id] = signed
        event = signed.event
        body = body_of(event)
        if isinstance(body, (UnknownKind, Unreadable)):
            self._put(signed, event.kind, Nature.ENTRY, (), event.body)
        elif isinstance(body, EntryCorrected):
            self._file_correction(signed, body)
        else:
            self._put(signed, type(body).fact or event.kind, type(body).nature, type(body).key, event.body)

    def _file_correction(self, signed: Signed, body: EntryCorrected) -> None:
        place = self.place_of.get(body.corrects)
        if place is None or place[0] != signed.event.subject:
            found = trouble(
                Problem.BROKEN_CHAIN,
                N_(
                    "event {event} of {device} corrects {corrects}, which is not here or about something else"
                ),
                event=signed.id,
                device=signed.event.device,
                n=signed.event.n,
                corrects=body.corrects[:12],
            )
            self.notices.append(found.to_notice())
            self._put(signed, signed.event.kind, Nature.ENTRY, (), signed.event.body)
            return
        value, kind = body.value, body.of_kind
        # A correction may change what is said, not what it is said about: the key stays.
        if value and kind in KINDS and not _fits(kind, value):
            value = FrozenObject()
        key = self.keys[place]
        rest = value.without((*key, *ORIGIN))
        self._add(signed, place, kind, rest, corrects=body.corrects, withdrawn=not value)

    def _put(
        self, signed: Signed, name: str, nature: Nature, key: tuple[str, ...], body: FrozenObject
    ) -> None:
        event = signed.event
        if nature is Nature.ENTRY:
            key_object = FrozenObject({"event": signed.id})
        else:
            key_object = FrozenObject({part: body[part] for part in key})
        place = (event.subject, name, event.day, repr(key_object))
        self.keys[place] = key_object
        if self._natures.setdefault(place, nature) is not nature:
            self._natures[place] = nature
            self.natures_changed.append(place)
        rest = body.without((*key, *ORIGIN))
        self._add(signed, place, event.kind, rest, corrects="", withdrawn=False)

    def _add(
        self,
        signed: Signed,
        place: FactName,
        kind: str,
        value: FrozenObject,
        *,
        corrects: str,
        withdrawn: bool,
    ) -> None:
        event = signed.event
        self.place_of[signed.id] = place
        self.readings[place].append(
            Reading(
                event=signed.id,
                kind=kind,
                value=value,
                sheet=str(event.body.get(SHEET, "")),
                line=str(event.body.get(LINE, "")),
                by_phone=str(event.body.get(BY_PHONE, "")),
                private_digest=event.private,
                private=self._private(event.private, corrects),
                people=event.people,
                site=event.site,
                device=event.device,
                n=event.n,
                utc_ms=event.utc_ms,
                uncertainty_ms=event.uncertainty_ms,
                corrects=corrects,
                withdrawn=withdrawn,
                replaced_by=(),
            )
        )

    def _private(self, digest: str, corrects: str) -> FrozenObject | None:
        """The private fields; of a correction, those of the corrected kind."""
        fields = self._sides.get(digest) if digest else None
        if fields is None or not corrects:
            return fields
        inner = fields.get("fields")
        return inner if isinstance(inner, FrozenObject) else None

    def fact(self, place: FactName) -> Fact:
        """The fact of one place, each reading with what replaced it."""
        readings = self.readings[place]
        decision = self._natures[place] is Nature.DECISION
        finished = []
        for index, reading in enumerate(readings):
            replaced_by = tuple(
                later.event
                for later in readings[index + 1 :]
                if later.corrects == reading.event
                or (decision and not later.corrects and self._knew(later, reading))
            )
            finished.append(_replaced(reading, replaced_by))
        subject, name, day, _ = place
        return Fact(subject=subject, name=name, day=day, key=self.keys[place], readings=tuple(finished))

    def _knew(self, later: Reading, earlier: Reading) -> bool:
        """Whether a decision was made knowing an earlier one: same device before, or named."""
        if later.device == earlier.device:
            return later.n > earlier.n
        return earlier.event in self._signed[later.event].event.after


def _fits(kind: str, value: FrozenObject) -> bool:
    try:
        parse_body(kind, value)
    except ValueError:
        return False
    return True


def _replaced(reading: Reading, replaced_by: tuple[str, ...]) -> Reading:
    if not replaced_by:
        return reading
    fields: dict[str, Any] = {name: getattr(reading, name) for name in reading.__struct_fields__}
    return Reading(**{**fields, "replaced_by": replaced_by})
