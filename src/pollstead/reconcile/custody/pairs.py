"""What the record says of tests and of seals put on: two people read each number, each by themselves.

A position is *matched* when two different people said the same number and nobody's word that stands says
another one. Numbers of seals that became void on that closure are past and count no more.
"""

from __future__ import annotations

import enum
from collections import defaultdict

from pollstead.election.values import Value
from pollstead.record.event import Part
from pollstead.record.facts import Fact, Fold, Reading


class PairState(enum.StrEnum):
    """How far two people are with one seal."""

    NOBODY = "nobody yet"
    ONE = "one person"
    MATCHED = "matched"
    DIFFERS = "value differs"


class Word(Value, frozen=True, kw_only=True):
    """One person's word about the number on a seal; `number` is empty where it was redacted."""

    event: str
    person: str
    number: str
    utc_ms: int


class SealedPosition(Value, frozen=True, kw_only=True):
    """One position of a closure: what was said of the seal that is on it now."""

    closure: str
    position: int
    words: tuple[Word, ...] = ()

    @property
    def people(self) -> tuple[str, ...]:
        """Who has read it, each once."""
        return tuple(dict.fromkeys(word.person for word in self.words))

    @property
    def state(self) -> PairState:
        """Nobody, one person, matched, or value differs."""
        if not self.words:
            return PairState.NOBODY
        if len({word.number for word in self.words}) > 1:
            # With one person's word only, nobody has compared anything yet.
            return PairState.DIFFERS if len(self.people) > 1 else PairState.ONE
        return PairState.MATCHED if len(self.people) > 1 else PairState.ONE

    @property
    def number(self) -> str:
        """The number that two people read; empty until then."""
        return self.words[0].number if self.state is PairState.MATCHED else ""

    def seen_by(self, person: str) -> tuple[Word, ...]:
        """What this person may see: one's own words until two are in, then all of them."""
        done = len(self.people) > 1
        return tuple(word for word in self.words if done or word.person == person)


class TestState(Value, frozen=True, kw_only=True):
    """The test of one device that stands now; `people` are author and second person."""

    device: str
    result: str
    zero: str
    lifetime_counter: int | None
    memory_devices: tuple[str, ...]
    people: tuple[str, ...]
    utc_ms: int
    differing: bool = False

    @property
    def passed(self) -> bool:
        """Whether the test that stands was passed, with nothing recorded against it."""
        return self.result == "pass" and not self.differing


class Warehouse(Value, frozen=True, kw_only=True):
    """Tests by device and sealed positions, as the record says now."""

    tests: tuple[TestState, ...] = ()
    positions: tuple[SealedPosition, ...] = ()

    def test(self, device: str) -> TestState | None:
        """The test of a device; None where none is recorded."""
        return next((test for test in self.tests if test.device == device), None)

    def position(self, closure: str, position: int) -> SealedPosition:
        """What was said of one position; an empty one where nobody said anything."""
        return next(
            (p for p in self.positions if (p.closure, p.position) == (closure, position)),
            SealedPosition(closure=closure, position=position),
        )


def warehouse(folded: Fold) -> Warehouse:
    """Tests and seals of the record; made with private parts, else numbers are empty."""
    void = void_numbers(folded)
    return Warehouse(
        tests=tuple(test for fact in folded.named("device.tested") if (test := _test(fact)) is not None),
        positions=tuple(
            SealedPosition(
                closure=fact.subject,
                position=int(fact.key.get("position", 1)),
                words=tuple(
                    word
                    for reading in fact.current
                    for word in _words(reading)
                    if word.number not in void.get(fact.subject, frozenset())
                ),
            )
            for fact in folded.named("closure.sealed")
        ),
    )


def void_numbers(folded: Fold) -> dict[str, frozenset[str]]:
    """The numbers that became void, by the subject that the event names (a closure, or ``seals/…``)."""
    found: dict[str, set[str]] = defaultdict(set)
    for fact in folded.named("seal.voided"):
        for reading in fact.current:
            number = reading.private.get("number") if reading.private is not None else None
            if isinstance(number, str):
                found[fact.subject].add(number)
    return {subject: frozenset(numbers) for subject, numbers in found.items()}


def _words(reading: Reading) -> tuple[Word, ...]:
    number = reading.private.get("number") if reading.private is not None else None
    text = number if isinstance(number, str) else ""
    return tuple(
        Word(event=reading.event, person=person.person, number=text, utc_ms=reading.utc_ms)
        for person in reading.people
        if person.part is Part.AUTHOR
    )


def _test(fact: Fact) -> TestState | None:
    current = sorted(fact.current, key=lambda reading: (reading.utc_ms, reading.event))
    if not current:
        return None
    last = current[-1]
    counter = last.value.get("lifetime_counter")
    return TestState(
        device=fact.subject,
        result=str(last.value.get("result", "not_run")),
        zero=str(last.value.get("zero", "not_read")),
        lifetime_counter=counter if isinstance(counter, int) else None,
        memory_devices=tuple(map(str, last.value.get("memory_devices", ()))),
        people=tuple(dict.fromkeys(p.person for p in last.people if p.part in (Part.AUTHOR, Part.SECOND))),
        utc_ms=last.utc_ms,
        differing=fact.differing,
    )
