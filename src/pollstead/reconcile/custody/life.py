"""The whole life of one thing as the record tells it: every entry about it, corrected ones too.

A device's life is in several places: its own id, its closures, its memory devices, the cart that it was
packed into, the part of a station at which its serial was read. Nothing is chosen and nothing is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import msgspec

from pollstead.election.county import Device, Election
from pollstead.election.values import Value
from pollstead.reconcile.custody.inventory import Book, tidy
from pollstead.reconcile.custody.legs import thing_key
from pollstead.reconcile.observed import short_site
from pollstead.record.event import Part, Person
from pollstead.record.facts import Fact, Fold, Reading
from pollstead.record.frozen_json import FrozenObject

EXPECTED = "expected"
NAMING = ("old", "new", "thing", "inside", "into", "device")
"""Fields of a body in which a thing is named that is not the subject."""


class Entry(Value, frozen=True, kw_only=True):
    """One entry about the thing. `said` are the fields of its body as text; `number` a seal's number.

    `number` is empty where there is none or it is not given here; `reason` are the private words of a
    correction or a void seal. `replaced_by` are the entries that corrected it or came after it knowingly.
    `expected` says that it is what a list in force then expected, not what was seen.
    """

    event: str
    kind: str
    subject: str
    utc_ms: int
    uncertainty_ms: int = 0
    site: str = ""
    day: str = ""
    people: tuple[Person, ...] = ()
    said: tuple[tuple[str, str], ...] = ()
    number: str = ""
    reason: str = ""
    private_digest: str = ""
    corrects: str = ""
    replaced_by: tuple[str, ...] = ()
    withdrawn: bool = False
    expected: bool = False

    @property
    def stands(self) -> bool:
        """Whether nothing corrected, replaced or withdrew it."""
        return not self.replaced_by and not self.withdrawn

    def said_of(self, name: str) -> str:
        """One field of its body as text; "" where it has none."""
        return next((text for field, text in self.said if field == name), "")

    def who(self, *parts: Part) -> tuple[str, ...]:
        """The ids of the people who had one of these parts; of all where none is named."""
        return tuple(dict.fromkeys(p.person for p in self.people if not parts or p.part in parts))


class Life(Value, frozen=True, kw_only=True):
    """Everything that the record says of one thing, in its order: by cause, then by clock."""

    thing: str
    subjects: tuple[str, ...]
    entries: tuple[Entry, ...]

    @property
    def corrections(self) -> tuple[str, ...]:
        """The digests of the private parts of its corrections."""
        return tuple(e.private_digest for e in self.entries if e.corrects and e.private_digest)

    def of(self, *kinds: str) -> tuple[Entry, ...]:
        """The entries of some kinds."""
        return tuple(entry for entry in self.entries if entry.kind in kinds)


def with_reasons(life: Life, fields: Mapping[str, FrozenObject]) -> Life:
    """The life with the reason of each correction; `fields` are private parts by digest.

    A fold keeps of a correction what it says, not why; `corrections` names the digests to look up.
    """

    def told(entry: Entry) -> Entry:
        found = fields.get(entry.private_digest) if entry.corrects else None
        return entry if found is None else msgspec.structs.replace(entry, reason=_text(found.get("reason")))

    return msgspec.structs.replace(life, entries=tuple(map(told, life.entries)))


class About(Value, frozen=True, kw_only=True):
    """A thing by all ids under which the record speaks of it; `serials` are read at stations."""

    thing: str
    subjects: frozenset[str]
    prefixes: tuple[str, ...] = ()
    serials: frozenset[str] = frozenset()

    def is_about(self, subject: str) -> bool:
        """Whether a subject is this thing or a part of it."""
        return subject in self.subjects or subject.startswith(self.prefixes)


def has_life(code: str) -> bool:
    """Whether a code may mean one thing; a site or the plan as a whole is none."""
    return bool(code) and not code.startswith(("site/", "plan", "facts", "person/", "task/"))


def about(election: Election, code: str) -> About:
    """The thing that a code, serial, tag or id means; an unknown code is taken as an id itself."""
    text = code.strip()
    named = Book(election.devices).named(text)
    device = named[0] if len(named) == 1 else next((d for d in election.devices if d.id == text), None)
    if device is not None:
        return _about_device(device)
    for one in election.devices:
        for memory in one.memory_devices:
            if tidy(text.rpartition("/")[2]) == tidy(memory):
                return About(
                    thing=f"memory/{memory}",
                    subjects=frozenset((f"memory/{memory}", f"memory-device/{memory}")),
                    serials=frozenset((tidy(memory),)),
                )
    cart = next(
        (c for c in election.carts if tidy(text).removeprefix("CART/") in (tidy(c.id), tidy(c.tag))), None
    )
    if cart is not None:
        return About(thing=f"cart/{cart.id}", subjects=frozenset((f"cart/{cart.id}",)))
    return About(thing=text, subjects=frozenset((text, thing_key(text))), prefixes=(f"{text}/",))


def _about_device(device: Device) -> About:
    tail = device.id.removeprefix("device/")
    memories = [
        f"{word}/{memory}" for memory in device.memory_devices for word in ("memory", "memory-device")
    ]
    return About(
        thing=device.id,
        subjects=frozenset((device.id, *memories)),
        prefixes=(f"{device.id}/", f"closure/{tail}/"),
        serials=frozenset(tidy(code) for code in (device.serial, device.tag, *device.memory_devices) if code),
    )


def life_of(folded: Fold, what: About) -> Life:
    """Its life; `folded` made with private parts, else numbers and reasons are empty."""
    mine = [entry for fact in folded.facts for entry in _entries(fact, what)]
    inside = {f"cart/{e.said_of('into')}" for e in mine if e.kind == "thing.packed" and e.said_of("into")}
    for cart in sorted(inside - what.subjects):
        mine += [_entry(fact, r) for fact in folded.of_subject(cart) for r in fact.readings]
    place = {event: index for index, event in enumerate(folded.order)}
    ordered = sorted(
        {(e.event, e.subject, e.number): e for e in mine}.values(),
        key=lambda e: (place.get(e.event, len(place)), e.subject),
    )
    return Life(
        thing=what.thing,
        subjects=tuple(sorted({entry.subject for entry in ordered})),
        entries=tuple(ordered),
    )


def _entries(fact: Fact, what: About) -> Iterator[Entry]:
    if fact.name == EXPECTED:
        for reading in fact.readings:
            yield from _expected(fact, reading, what)
        return
    mine = what.is_about(fact.subject)
    for reading in fact.readings:
        if mine or _names(fact, reading, what):
            yield _entry(fact, reading)


def _names(fact: Fact, reading: Reading, what: About) -> bool:
    """Whether an entry about something else names the thing, or tells its serial."""
    for source in (fact.key, reading.value):
        for name in NAMING:
            found = source.get(name)
            if isinstance(found, str) and found and found in what.subjects:
                return True
        for name in ("serial", "code"):
            found = source.get(name)
            if isinstance(found, str) and found and tidy(found) in what.serials:
                return True
    return False


def _entry(fact: Fact, reading: Reading) -> Entry:
    fields = {**fact.key.thawed(), **reading.value.thawed()}
    private = {} if reading.private is None else reading.private.thawed()
    return Entry(
        event=reading.event,
        kind=reading.kind,
        subject=fact.subject,
        utc_ms=reading.utc_ms,
        uncertainty_ms=reading.uncertainty_ms,
        site=short_site(reading.site),
        day=fact.day,
        people=reading.people,
        said=(*_texts(fields.items()), *_texts([("sheet", f"{reading.sheet} {reading.line}".strip())])),
        number=_text(private.get("number")),
        reason=_text(private.get("reason")) or _text(private.get("remark")),
        private_digest=reading.private_digest,
        corrects=reading.corrects,
        replaced_by=reading.replaced_by,
        withdrawn=reading.withdrawn,
    )


def _texts(items: Iterable[tuple[str, object]]) -> Iterator[tuple[str, str]]:
    for name, value in items:
        if name != "event" and value not in ("", None, (), []):
            yield name, _text(value)


def _text(value: object) -> str:
    if isinstance(value, (list, tuple)):
        return ", ".join(map(str, value))
    return "" if value is None else str(value)


def _expected(fact: Fact, reading: Reading, what: About) -> Iterator[Entry]:
    """What a list that was issued or amended expected of the thing's seals and serial, one entry each."""
    lines = () if reading.private is None else reading.private.get("lines", ())
    told: dict[tuple[str, str], None] = {}
    for line in lines:
        subject, value = _text(line.get("subject")), _text(line.get("value"))
        sort = _text(line.get("what"))
        if sort == "seal":
            mine = what.is_about(subject)
        else:
            mine = sort in ("serial", "memory device") and tidy(value) in what.serials
        if mine and value:
            told[(subject, value)] = None
    for subject, value in told:
        secret = subject.startswith("closure/")
        yield Entry(
            event=reading.event,
            kind=reading.kind,
            subject=subject,
            utc_ms=reading.utc_ms,
            uncertainty_ms=reading.uncertainty_ms,
            site=short_site(reading.site) or short_site(fact.subject),
            day=fact.day,
            people=reading.people,
            said=() if secret else (("serial", value),),
            number=value if secret else "",
            replaced_by=reading.replaced_by,
            withdrawn=reading.withdrawn,
            expected=True,
        )
