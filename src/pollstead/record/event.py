"""One event: what was decided, seen or done, by whom, when, and on which device.

An event is signed as the bytes of its RFC 8785 form; its id is the SHA-256 of these bytes. The
field list is the contract of docs/formats/record.md and never changes within a version.
"""

from __future__ import annotations

import datetime as dt
import enum
import json
import re
from typing import Any, Final

import msgspec

from pollstead.election.canonical import LARGEST_INT, canonical_object, sha256_hex
from pollstead.election.values import Value, require
from pollstead.record.frozen_json import FrozenObject, check_text

EVENT_VERSION: Final = 1
LARGEST_EVENT_BYTES: Final = 65_536
EVENT_CONTEXT: Final = b"pollstead/event/v1\x00"
"""What stands before the record id and the event's bytes when they are signed."""

DIGEST = re.compile(r"[0-9a-f]{64}")
SUBJECT = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}(/[A-Za-z0-9][A-Za-z0-9._-]{0,63}){0,7}")
KIND = re.compile(r"[a-z][a-z0-9_]{0,31}(\.[a-z][a-z0-9_]{0,31}){1,3}")
DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


class Means(enum.StrEnum):
    """How a person stood behind an entry; every screen says which."""

    OWN_DEVICE = "own_device"
    CODE = "code"
    NAME_ONLY = "name_only"


class Part(enum.StrEnum):
    """What a person did in an event; the first person is always its author."""

    AUTHOR = "author"
    SECOND = "second"
    GIVER = "giver"
    RECEIVER = "receiver"
    WITNESS = "witness"


class Person(Value, frozen=True):
    """One person's part in an event: an id, never a name."""

    person: str
    means: Means
    part: Part


class Event(Value, frozen=True):
    """One event of the record.

    `subject`, `site` and `device` are ids; `site` and `day` are empty for what belongs to no
    site or day. `device` is the recording device (a desk, a tablet), `n` its own counter from 1 and
    `prev` the id of its event before this one (empty for the first). `after` names other events
    that this one depends on. Times: `utc_ms` since 1970, the wall clock's `offset_min` east of
    UTC, and how far the clock may be off in `uncertainty_ms`. `private` is the digest of a
    salted side object, or empty. Raises ValueError naming the field, the bound and the value.
    """

    v: int
    kind: str
    subject: str
    site: str
    day: str
    body: FrozenObject
    utc_ms: int
    offset_min: int
    uncertainty_ms: int
    people: tuple[Person, ...]
    device: str
    n: int
    prev: str
    after: tuple[str, ...]
    private: str

    def __post_init__(self) -> None:
        require(1 <= self.v <= 1_000, f"v must be 1 or a later version, got {self.v}")
        _match(KIND, self.kind, "kind", "dotted words such as count.read")
        _match(SUBJECT, self.subject, "subject", "an id such as site/S01")
        _match(SUBJECT, self.device, "device", "an id such as desk/office-1")
        if self.site:
            _match(SUBJECT, self.site, "site", "an id such as site/S01, or empty")
        if self.day:
            _match(DAY, self.day, "day", "a date such as 2028-11-07, or empty")
            _check_date(self.day)
        if not isinstance(self.body, FrozenObject):
            raise ValueError(f"body must be a FrozenObject, got {type(self.body)}")
        _within("utc_ms", self.utc_ms, 0, LARGEST_INT)
        _within("offset_min", self.offset_min, -1_440, 1_440)
        _within("uncertainty_ms", self.uncertainty_ms, 0, LARGEST_INT)
        _within("n", self.n, 1, LARGEST_INT)
        _check_people(self.people)
        if (self.prev == "") != (self.n == 1):
            raise ValueError(
                f"prev must be empty for n = 1 and only then, got n = {self.n} and prev = {self.prev!r}"
            )
        for name, digest in (("prev", self.prev), ("private", self.private)):
            if digest:
                _match(DIGEST, digest, name, "64 hexadecimal digits, or empty")
        for digest in self.after:
            _match(DIGEST, digest, "after", "ids of 64 hexadecimal digits")
        if list(self.after) != sorted(set(self.after)):
            raise ValueError(f"after must hold each id once, in ascending order, got {', '.join(self.after)}")

    @property
    def author(self) -> Person:
        """The person who made the entry."""
        return self.people[0]

    def to_object(self) -> dict[str, Any]:
        """The event as a plain JSON object."""
        fields: dict[str, Any] = {
            name: getattr(self, name) for name in self.__struct_fields__ if name not in ("body", "people")
        }
        fields["after"] = list(self.after)
        fields["body"] = self.body.thawed()
        fields["people"] = [
            {"means": str(p.means), "part": str(p.part), "person": p.person} for p in self.people
        ]
        return fields

    def to_bytes(self) -> bytes:
        """The canonical bytes: what is digested, signed and stored."""
        return canonical_object(self.to_object())


class Signed(Value, frozen=True):
    """An event with its id, its canonical bytes and the device's signature over them."""

    id: str
    data: bytes
    signature: bytes
    event: Event


class Side(Value, frozen=True):
    """The private part of an event: its digest and its bytes, kept apart from the event."""

    digest: str
    data: bytes


def read_event(data: bytes) -> Event:
    """Read an event from its canonical bytes.

    Raises ValueError saying what is wrong: not JSON, a number with a fraction, a field that is
    missing, unknown or out of bounds, or bytes that are not the canonical form of what they say.
    """
    require(
        len(data) <= LARGEST_EVENT_BYTES,
        f"an event must be at most {LARGEST_EVENT_BYTES} bytes, got {len(data)}",
    )
    try:
        fields = _decode(data)
    except (UnicodeDecodeError, RecursionError, json.JSONDecodeError) as error:
        raise ValueError(f"an event must be JSON in UTF-8: {error}") from error
    require(isinstance(fields, dict), "an event must be one JSON object")
    expected = set(Event.__struct_fields__)
    missing, extra = sorted(expected - set(fields)), sorted(set(fields) - expected)
    require(not missing, f"an event must have the field(s) {', '.join(missing)}")
    require(not extra, f"an event has no field(s) {', '.join(extra)}")
    body = fields.pop("body")
    require(isinstance(body, dict), "body must be a JSON object")
    try:
        event = msgspec.convert({**fields, "body": FrozenObject(body)}, Event, dec_hook=_keep_body)
    except msgspec.ValidationError as error:
        raise ValueError(f"an event field does not fit: {error}") from error
    require(event.to_bytes() == data, "the bytes are not the canonical form (RFC 8785) of the event")
    return event


def signed_bytes(record_id: str, data: bytes) -> bytes:
    """What the device key signs: context, the record's id (32 bytes), the event's bytes.

    The record id inside the signature is why an event of a practice election, or of another
    county's record, does not check in this one.
    """
    return EVENT_CONTEXT + bytes.fromhex(record_id) + data


def read_signed(data: bytes, signature: bytes) -> Signed:
    """Pair event bytes with their signature; the signature itself is not checked here."""
    return Signed(id=sha256_hex(data), data=data, signature=signature, event=read_event(data))


def make_side(fields: FrozenObject, salt: bytes) -> Side:
    """The side object of `fields`, salted with 32 random bytes so that its digest tells nothing.

    The salt stands inside the bytes: deleting them leaves no way to try out guesses.
    """
    require(len(salt) == 32, f"salt must be 32 bytes, got {len(salt)}")
    data = canonical_object({"fields": fields.thawed(), "salt": salt.hex(), "v": EVENT_VERSION})
    return Side(digest=sha256_hex(data), data=data)


def read_side(side: Side) -> FrozenObject:
    """The fields of a side object; raises ValueError when its bytes do not fit its digest or form."""
    found = sha256_hex(side.data)
    require(found == side.digest, f"the private part must have the digest {side.digest}, found {found}")
    try:
        content = _decode(side.data)
    except (UnicodeDecodeError, RecursionError, json.JSONDecodeError) as error:
        raise ValueError(f"a private part must be JSON in UTF-8: {error}") from error
    require(
        isinstance(content, dict)
        and set(content) == {"fields", "salt", "v"}
        and isinstance(content["fields"], dict),
        "a private part must have fields, salt and v",
    )
    return FrozenObject(content["fields"])


def _keep_body(wanted: type, value: Any) -> Any:
    if wanted is FrozenObject:
        return value if isinstance(value, FrozenObject) else FrozenObject(value)
    raise NotImplementedError(wanted)


def _no_float(text: str) -> Any:
    raise ValueError(f"an event holds whole numbers only, got {text}")


_whole_numbers = json.JSONDecoder(parse_float=_no_float, parse_constant=_no_float)
"""Made once: `json.loads` makes another for each event, which takes as long as reading it."""


def _decode(data: bytes) -> Any:
    return _whole_numbers.decode(data.decode("utf-8"))


def _match(pattern: re.Pattern[str], text: str, name: str, wanted: str) -> None:
    if not pattern.fullmatch(text):
        raise ValueError(f"{name} must be {wanted}, got {text!r}")


def _check_date(day: str) -> None:
    try:
        dt.date.fromisoformat(day)
    except ValueError as error:
        raise ValueError(f"day must be a date of the calendar, got {day!r}") from error


def _within(name: str, value: int, low: int, high: int) -> None:
    if not low <= value <= high:
        raise ValueError(f"{name} must be {low}..{high}, got {value}")


def _check_people(people: tuple[Person, ...]) -> None:
    require(bool(people), "people must name at least the author")
    require(people[0].part is Part.AUTHOR, f"the first of people must be the author, got {people[0].part}")
    require(
        all(person.part is not Part.AUTHOR for person in people[1:]),
        "people must name one author only; a second person has the part second",
    )
    for person in people:
        _match(SUBJECT, person.person, "person", "an id such as person/P012, never a name")
        check_text(person.person, "person")
