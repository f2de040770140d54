"""Fold events into facts: what is known of each subject, with every value and who gave it.

The outcome depends on the set of events only. Order is by cause first (`prev` and `after`), then by
clock, then by id. Nothing wins silently: two values for one fact both stay and both are shown; a
correction names the event that it corrects, and both stay.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any, Final

from pollstead.election.canonical import digest_of
from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.record.check import chain_troubles
from pollstead.record.event import Event, Person, Signed
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Nature
from pollstead.record.kinds.days import EntryCorrected
from pollstead.record.kinds.registry import KINDS, UnknownKind, Unreadable, body_of, parse_body
from pollstead.record.problem import Problem, trouble

SHEET: Final = "sheet"


class Reading(Value, frozen=True):
    """One event's word about a fact.

    `value` is the body without the fact's key and without `sheet`, which says where it came from.
    `private` holds the private part's fields where they were given to the fold. `replaced_by` are
    the events that corrected this one, or decisions that knew it and came after; while it is empty
    the reading is current. `withdrawn` marks a correction without a new value.
    """

    event: str
    kind: str
    value: FrozenObject
    sheet: str
    private_digest: str
    private: FrozenObject | None
    people: tuple[Person, ...]
    site: str
    device: str
    n: int
    utc_ms: int
    uncertainty_ms: int
    corrects: str
    withdrawn: bool
    replaced_by: tuple[str, ...]

    def says(self) -> str:
        """A digest that is equal for readings that say the same thing, whatever the reasons given.

        Where a private field belongs to what was said and is not at hand, its salted digest
        stands for it: then equal readings cannot be told from different ones.
        """
        wanted = KINDS[self.kind].private if self.kind in KINDS else None
        said: Any = ""
        if wanted is not None and wanted.said and self.private_digest:
            said = self.private_digest
            if self.private is not None:
                said = [self.private.get(name) for name in wanted.said]
        return digest_of({"kind": self.kind, "value": self.value, "said": said})


class Fact(Value, frozen=True):
    """All that was said about one thing: subject, name, day and key, and every reading in order."""

    subject: str
    name: str
    day: str
    key: FrozenObject
    readings: tuple[Reading, ...]

    @property
    def current(self) -> tuple[Reading, ...]:
        """The readings that nothing replaced and that were not withdrawn."""
        return tuple(r for r in self.readings if not r.replaced_by and not r.withdrawn)

    @property
    def differing(self) -> bool:
        """Whether the current readings do not all say the same."""
        return len({reading.says() for reading in self.current}) > 1


class Fold:
    """The facts of a record.

    `facts` stand in the order of subject, name, day and key; `order` is the order of all events by
    cause, clock and id; `notices` name forks, gaps and corrections of events that are not here.
    """

    def __init__(self, facts: tuple[Fact, ...], order: tuple[str, ...], notices: tuple[Notice, ...]) -> None:
        self.facts = facts
        self.order = order
        self.notices = notices
        self._by_subject: dict[str, list[Fact]] = defaultdict(list)
        self._by_name: dict[str, list[Fact]] = defaultdict(list)
        for fact in facts:
            self._by_subject[fact.subject].append(fact)
            self._by_name[fact.name].append(fact)

    def of_subject(self, subject: str) -> tuple[Fact, ...]:
        """Every fact about one subject."""
        return tuple(self._by_subject.get(subject, ()))

    def named(self, name: str) -> tuple[Fact, ...]:
        """Every fact of one name (a kind such as ``count.read``, or a shared name such as ``value``)."""
        return tuple(self._by_name.get(name, ()))

    def find(self, subject: str, name: str, day: str = "", **key: Any) -> Fact | None:
        """The one fact with this subject, name, day and key; None when nothing was said about it."""
        wanted = FrozenObject(key)
        for fact in self._by_subject.get(subject, ()):
            if fact.name == name and fact.day == day and fact.key == wanted:
                return fact
        return None

    def heads(self, subject: str, name: str, day: str = "", **key: Any) -> tuple[str, ...]:
        """The ids of the current events of a fact: what a decision that replaces them names in `after`."""
        fact = self.find(subject, name, day, **key)
        return () if fact is None else tuple(sorted(reading.event for reading in fact.current))

    def digest(self) -> str:
        """A digest over all facts and the order, equal for equal sets of events.

        It covers what the record says, spelt out here field by field, so that it stays the same
        while these classes change; ``tests/events/v1`` holds one frozen.
        """
        facts = [
            {
                "subject": fact.subject,
                "name": fact.name,
                "day": fact.day,
                "key": fact.key,
                "readings": [
                    {
                        "event": reading.event,
                        "kind": reading.kind,
                        "value": reading.value,
                        "corrects": reading.corrects,
                        "withdrawn": reading.withdrawn,
                        "replaced_by": reading.replaced_by,
                    }
                    for reading in fact.readings
                ],
            }
            for fact in self.facts
        ]
        return digest_of({"facts": facts, "order": self.order})


def causal_order(events: Iterable[Signed]) -> tuple[Signed, ...]:
    """Every event after those it names in `prev` and `after` or corrects; else by clock, then by id.

    Events that are named but not here are passed over. Cycles cannot occur: a name is a digest.
    """
    here = {signed.id: signed for signed in events}
    waiting: dict[str, int] = {}
    followers: dict[str, list[str]] = defaultdict(list)
    ready: list[tuple[int, str]] = []
    for signed in here.values():
        event = signed.event
        causes = {cause for cause in (event.prev, *event.after, *_corrected(event)) if cause in here}
        waiting[signed.id] = len(causes)
        for cause in causes:
            followers[cause].append(signed.id)
        if not causes:
            heapq.heappush(ready, (event.utc_ms, signed.id))
    ordered: list[Signed] = []
    while ready:
        _, event_id = heapq.heappop(ready)
        ordered.append(here[event_id])
        for follower in followers[event_id]:
            waiting[follower] -= 1
            if waiting[follower] == 0:
                heapq.heappush(ready, (here[follower].event.utc_ms, follower))
    return tuple(ordered)


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
    places = _Placed(ordered, sides or {})
    notices = [found.to_notice() for found in chain_troubles(ordered)] + places.notices
    facts = tuple(places.fact(name) for name in sorted(places.readings))
    return Fold(facts, tuple(signed.id for signed in ordered), tuple(notices))


_FactName = tuple[str, str, str, str]


class _Placed:
    """Each event filed under its fact, while a fold is made."""

    def __init__(self, ordered: tuple[Signed, ...], sides: Mapping[str, FrozenObject]) -> None:
        self.readings: dict[_FactName, list[Reading]] = defaultdict(list)
        self.keys: dict[_FactName, FrozenObject] = {}
        self.notices: list[Notice] = []
        self._sides = sides
        self._signed = {signed.id: signed for signed in ordered}
        self._place_of: dict[str, _FactName] = {}
        self._natures: dict[_FactName, Nature] = {}
        for signed in ordered:
            self._file(signed)

    def _file(self, signed: Signed) -> None:
        event = signed.event
        body = body_of(event)
        if isinstance(body, (UnknownKind, Unreadable)):
            self._put(signed, event.kind, Nature.ENTRY, (), event.body)
        elif isinstance(body, EntryCorrected):
            self._file_correction(signed, body)
        else:
            self._put(signed, type(body).fact or event.kind, type(body).nature, type(body).key, event.body)

    def _file_correction(self, signed: Signed, body: EntryCorrected) -> None:
        place = self._place_of.get(body.corrects)
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
        rest = FrozenObject({k: v for k, v in value.items() if k not in key and k != SHEET})
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
        self._natures[place] = nature
        rest = FrozenObject({k: v for k, v in body.items() if k not in key and k != SHEET})
        self._add(signed, place, event.kind, rest, corrects="", withdrawn=False)

    def _add(
        self,
        signed: Signed,
        place: _FactName,
        kind: str,
        value: FrozenObject,
        *,
        corrects: str,
        withdrawn: bool,
    ) -> None:
        event = signed.event
        self._place_of[signed.id] = place
        self.readings[place].append(
            Reading(
                event=signed.id,
                kind=kind,
                value=value,
                sheet=str(event.body.get(SHEET, "")),
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

    def fact(self, place: _FactName) -> Fact:
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
