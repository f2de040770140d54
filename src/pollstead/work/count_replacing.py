"""Put a number of the canvass in the place of another by an event that names it; take an import back."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Final

from pollstead.election.values import Value
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.canvass import CanvassTotal, MemoryUploaded, ReceivingTotal
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected, Remark
from pollstead.record.kinds.registry import body_object
from pollstead.record.write import Moment, ToRecord

if TYPE_CHECKING:
    from pollstead.record.event import Person, Signed
    from pollstead.record.facts import Fact, Fold, Reading
    from pollstead.record.kinds.body import Body
    from pollstead.store.desk import Desk

KINDS: Final = (CanvassTotal.kind, ReceivingTotal.kind, MemoryUploaded.kind)


class Imported(Value, frozen=True, kw_only=True):
    """A file whose numbers are in the record: when and by whom; how many things it told, how many stand."""

    digest: str
    utc_ms: int
    person: str
    file: str
    brought: int
    standing: int


class NothingStands(ValueError):
    """No number of the file stands in the record, so there is nothing to take back."""


def said_of(reading: Reading) -> int:
    """The number that a reading says: its count, its total, or what its ballot styles add up to."""
    for name in ("count", "total"):
        value = reading.value.get(name)
        if isinstance(value, int):
            return value
    return sum(count for _, count in styles_said(reading))


def styles_said(reading: Reading) -> tuple[tuple[str, int], ...]:
    """The ballot styles of a reading, each with its number."""
    styles = reading.value.get("styles", ())
    return tuple(
        (str(one["style"]), int(str(one["count"])))
        for one in (styles if isinstance(styles, tuple) else ())
        if isinstance(one, FrozenObject)
    )


def file_of(reading: Reading) -> str:
    """The digest of the file that a number came in; "" for none."""
    return str(reading.value.get("file_digest", ""))


def imports_of(record: Fold) -> tuple[Imported, ...]:
    """Every file that brought numbers, the newest first; the record with private parts names the files."""
    found: dict[str, list[Reading]] = defaultdict(list)
    told: dict[str, int] = defaultdict(int)
    stand: dict[str, int] = defaultdict(int)
    for fact in _facts(record):
        for digest in {file_of(reading) for reading in fact.readings} - {""}:
            told[digest] += 1
            stand[digest] += any(file_of(reading) == digest for reading in fact.current)
        for reading in fact.readings:
            if file_of(reading):
                found[file_of(reading)].append(reading)
    imports = []
    for digest, readings in found.items():
        first = min(readings, key=lambda r: (r.utc_ms, r.event))
        imports.append(
            Imported(
                digest=digest,
                utc_ms=first.utc_ms,
                person=first.people[0].person if first.people else "",
                file=next((name for reading in readings if (name := _name(reading))), ""),
                brought=told[digest],
                standing=stand[digest],
            )
        )
    return tuple(sorted(imports, key=lambda one: (-one.utc_ms, one.digest)))


def _name(reading: Reading) -> str:
    private = reading.private
    text = private.get("remark", "") if private is not None else ""
    return str(text).partition(", row ")[0]


def take_back(
    desk: Desk, digest: str, *, reason: str, people: tuple[Person, ...], moment: Moment
) -> tuple[Signed, ...]:
    """Take the numbers of one file back, all or none: each becomes what stood before the file came.

    A number that was changed since stays as it is. Raises NothingStands where no number of it stands.
    """
    entries = []
    for fact in _facts(desk.fold(private=True)):
        for reading in fact.current:
            if file_of(reading) == digest:
                entries.append(_before(fact, reading, digest, reason))
    if not entries:
        raise NothingStands(f"no number of file {digest[:12]} stands")
    return desk.recorder.record_run(tuple(entries), people=people, moment=moment)


def _before(fact: Fact, reading: Reading, digest: str, reason: str) -> ToRecord:
    """The correction that puts back what stood before this file first spoke, or nothing."""
    by_event = {one.event: one for one in fact.readings}
    chain = [reading]
    while chain[-1].corrects and chain[-1].corrects in by_event:
        chain.append(by_event[chain[-1].corrects])
    chain.reverse()
    first = next(place for place, one in enumerate(chain) if file_of(one) == digest)
    earlier = chain[first - 1] if first else None
    if earlier is None or earlier.withdrawn:
        return _corrected(fact, reading, FrozenObject({}), reason)
    return _corrected(fact, reading, _whole(fact, earlier), reason, earlier.private)


def correction(fact: Fact, reading: Reading, body: Body, reason: str, remark: Remark) -> ToRecord:
    """The event that puts `body` with its remark in the place of a reading."""
    return _corrected(fact, reading, body_object(body), reason, body_object(remark))


def _corrected(
    fact: Fact, reading: Reading, value: FrozenObject, reason: str, private: FrozenObject | None = None
) -> ToRecord:
    return ToRecord(
        body=EntryCorrected(corrects=reading.event, of_kind=fact.name, value=value),
        subject=fact.subject,
        site=fact.subject if fact.subject.startswith("site/") else "",
        day=fact.day,
        after=(reading.event,),
        private=CorrectionPrivate(reason=reason, fields=private),
    )


def _whole(fact: Fact, reading: Reading) -> FrozenObject:
    """The body of a reading as it was written: what it says and the key of its fact."""
    return FrozenObject({**dict(reading.value.items()), **dict(fact.key.items())})


def _facts(record: Fold) -> tuple[Fact, ...]:
    return tuple(fact for kind in KINDS for fact in record.named(kind))
