"""Make the next event of a recording device: the one path by which every screen and command writes."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from typing import Protocol

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from pollstead.election.values import Value, require
from pollstead.record.event import (
    EVENT_VERSION,
    Event,
    Person,
    Side,
    Signed,
    make_side,
    read_signed,
    signed_bytes,
)
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.header import Header
from pollstead.record.kinds.body import Body, Private
from pollstead.record.kinds.offices import ExpectedAmended, ExpectedIssued
from pollstead.record.kinds.registry import body_object, check_writable


class ToRecord(Value, frozen=True, kw_only=True):
    """One event to be written: its body, what it is about, its private part; see `Recorder.record`."""

    body: Body
    subject: str
    site: str = ""
    day: str = ""
    after: tuple[str, ...] = ()
    private: Private | None = None
    salt: bytes | None = None


class Moment(Value, frozen=True):
    """When an event is written, as the caller's clock says: UTC ms, zone offset, how far it may be off."""

    utc_ms: int
    offset_min: int
    uncertainty_ms: int


Made = tuple[tuple[Signed, Side | None], ...]
"""Events in a row, each with its private part where it has one."""


class Journal(Protocol):
    """Where events go. The store is one; a list in memory is another."""

    def append_run(self, device: str, make: Callable[[int, str], Made]) -> tuple[Signed, ...]:
        """Call `make` with the device's next counter and its last event's id, and keep what it gives.

        All of its events are kept, or none. Returns only when they would survive the end of this
        process; nothing else of the same device may come between the two steps.
        """
        ...


class Recorder:
    """Writes events for one recording device, signed with its key, into a journal."""

    def __init__(self, header: Header, device: str, key: Ed25519PrivateKey, journal: Journal) -> None:
        self.header = header
        self.device = device
        self._key = key
        self._journal = journal

    def record(
        self,
        body: Body,
        *,
        subject: str,
        people: tuple[Person, ...],
        moment: Moment,
        site: str = "",
        day: str = "",
        after: tuple[str, ...] = (),
        private: Private | None = None,
        salt: bytes | None = None,
    ) -> Signed:
        """Write one event and return it once it is kept.

        `after` names events that this one knew (for a decision: `Fold.heads`). `private` goes to
        a salted side object; `salt` is 32 random bytes, made here unless given. Raises ValueError
        naming what does not fit, with nothing written.
        """
        entry = ToRecord(
            body=body, subject=subject, site=site, day=day, after=after, private=private, salt=salt
        )
        return self.record_run((entry,), people=people, moment=moment)[0]

    def record_run(
        self, entries: tuple[ToRecord, ...], *, people: tuple[Person, ...], moment: Moment
    ) -> tuple[Signed, ...]:
        """Write the events of one act, all or none; returns once they are kept, raises as `record`."""
        made_sides = tuple((entry, fields, _side(entry, fields)) for entry, fields in map(_fields, entries))

        def make(n: int, prev: str) -> Made:
            made: list[tuple[Signed, Side | None]] = []
            for entry, fields, side in made_sides:
                event = Event(
                    v=EVENT_VERSION,
                    kind=entry.body.kind,
                    subject=entry.subject,
                    site=entry.site,
                    day=entry.day,
                    body=body_object(entry.body),
                    utc_ms=moment.utc_ms,
                    offset_min=moment.offset_min,
                    uncertainty_ms=moment.uncertainty_ms,
                    people=people,
                    device=self.device,
                    n=n + len(made),
                    prev=made[-1][0].id if made else prev,
                    after=tuple(sorted(set(entry.after))),
                    private="" if side is None else side.digest,
                )
                check_writable(event, fields)
                made.append((sign_event(self.header, self._key, event), side))
            return tuple(made)

        return self._journal.append_run(self.device, make)


def _fields(entry: ToRecord) -> tuple[ToRecord, FrozenObject | None]:
    return entry, None if entry.private is None else body_object(entry.private)


def _side(entry: ToRecord, fields: FrozenObject | None) -> Side | None:
    """The salted private part of an entry; raises ValueError where it is not the list that the body names."""
    if fields is None:
        return None
    side = make_side(fields, secrets.token_bytes(32) if entry.salt is None else entry.salt)
    body = entry.body
    if isinstance(body, (ExpectedIssued, ExpectedAmended)):
        require(
            body.list_digest == side.digest,
            f"list_digest must be that of the list given, {side.digest}, got {body.list_digest}",
        )
    return side


def sign_event(header: Header, key: Ed25519PrivateKey, event: Event) -> Signed:
    """The event with the device's signature over record id and canonical bytes."""
    data = event.to_bytes()
    # Read back what will be stored: what cannot be read is refused before it is written.
    return read_signed(data, key.sign(signed_bytes(header.record_id, data)))


def list_side(lines: tuple[FrozenObject, ...], salt: bytes) -> Side:
    """The side object of an expected list, whose digest is the list digest on events and sheets."""
    return make_side(FrozenObject({"lines": lines}), salt)


class MemoryJournal:
    """A journal in memory, for tests and for events that are sent elsewhere."""

    def __init__(self) -> None:
        self.events: list[Signed] = []
        self.sides: dict[str, Side] = {}
        self._last: dict[str, Signed] = {}

    def append_run(self, device: str, make: Callable[[int, str], Made]) -> tuple[Signed, ...]:
        """See `Journal.append_run`."""
        last = self._last.get(device)
        made = make(1, "") if last is None else make(last.event.n + 1, last.id)
        for signed, side in made:
            self.events.append(signed)
            self._last[device] = signed
            if side is not None:
                self.sides[side.digest] = side
        return tuple(signed for signed, _ in made)
