"""Facts: what is known of each subject, with every value and who gave it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from functools import cached_property
from types import MappingProxyType
from typing import Any, Final

from pollstead.election.canonical import digest_of
from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.record.event import Person
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.registry import KINDS

SHEET: Final = "sheet"
LINE: Final = "line"
BY_PHONE: Final = "by_phone"
FROM_PAPER: Final = frozenset({SHEET, LINE})
"""Fields of a body that say which paper an entry was typed from, and are no part of what it says."""
ORIGIN: Final = FROM_PAPER | {BY_PHONE}
"""Fields of a body that say where an entry came from, paper or telephone; no part of what it says."""


class Reading(Value, frozen=True):
    """One event's word about a fact.

    `value` is the body without the fact's key and without `sheet`, `line` and `by_phone`, which say where it
    came from. `private` holds the private part's fields where they were given to the fold. `replaced_by` are
    the events that corrected this one, or decisions that knew it and came after; while it is empty
    the reading is current. `withdrawn` marks a correction without a new value.
    """

    event: str
    kind: str
    value: FrozenObject
    sheet: str
    line: str
    by_phone: str
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

    @cached_property
    def place_in_order(self) -> Mapping[str, int]:
        """Where each event stands in `order`, from 0."""
        return MappingProxyType({event: place for place, event in enumerate(self.order)})

    def moment(self, event: str, utc_ms: int) -> tuple[int, int]:
        """What to compare words by that stand in different facts: the clock, then cause.

        One device can write twice in a millisecond; its second word still names the first as coming before.
        """
        return utc_ms, self.place_in_order.get(event, -1)

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
