"""What the central place read of a machine's memory device, as a reading of the machine's balance.

It stands beside what people typed of the same memory device and takes the place of nothing: an equal number
has both origins, another number is a second value of its own. Only what is taken and was not taken out again
counts.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import NamedTuple

import msgspec

from pollstead.election.station_type import CountUnit
from pollstead.reconcile.counts.balance import Origin, Reading
from pollstead.reconcile.counts.equations import Balance
from pollstead.reconcile.counts.memory import MemoryOut
from pollstead.reconcile.counts.terms import key_of
from pollstead.reconcile.counts.uploads import Upload, standing_uploads

MEMORY_CLOSE = "memory_count_close"
UPLOAD = "upload"
"""The source of an origin that is an upload."""


def standing_by_memory(uploads: Iterable[Upload]) -> Mapping[str, tuple[Upload, ...]]:
    """The uploads that count, by memory-device id, in the order of time."""
    found: dict[str, list[Upload]] = defaultdict(list)
    for upload in uploads:
        found[upload.memory].append(upload)
    return {memory: tuple(standing_uploads(of)) for memory, of in found.items()}


class TakenIn(NamedTuple):
    """A site's machines with the memory devices that went out with them, and what was read of each by id."""

    out: tuple[MemoryOut, ...]
    uploads: Mapping[str, tuple[Upload, ...]]


def with_uploads(readings: tuple[Reading, ...], balance: Balance, taken: TakenIn) -> tuple[Reading, ...]:
    """The readings of a site's day with those of its machines' memory devices that travel after it.

    An upload in ballots of a counter of sheets is turned into sheets where every ballot has the same number
    of them; where it cannot be turned, it is no reading of the balance.
    """
    units = {line.key: line.unit for line in balance.lines}
    found = {(reading.key, reading.value): reading for reading in readings}
    for machine in taken.out:
        key = key_of(MEMORY_CLOSE, machine.device)
        if not machine.travels or key not in units:
            continue
        for upload in (one for memory in machine.ids for one in taken.uploads.get(memory, ())):
            value = _in_unit(upload, units[key], balance)
            if value is not None:
                found[key, value] = _beside(found.get((key, value)), key, value, upload)
    return tuple(found.values())


def _in_unit(upload: Upload, unit: str, balance: Balance) -> int | None:
    if upload.unit == unit or (balance.sheets_per_ballot == 1 and not balance.styles.mixed):
        return upload.count
    if unit == CountUnit.SHEETS and not balance.styles.mixed:
        return upload.count * balance.sheets_per_ballot
    return None


def _beside(before: Reading | None, key: str, value: int, upload: Upload) -> Reading:
    origin = msgspec.structs.replace(upload.origin, source=UPLOAD)
    if before is None:
        return _reading(key, value, (origin,), times=1)
    origins: tuple[Origin, ...] = tuple(
        sorted((*before.origins, origin), key=lambda one: (one.utc_ms, one.event))
    )
    return _reading(key, value, origins, times=before.times)


def _reading(key: str, value: int, origins: tuple[Origin, ...], *, times: int) -> Reading:
    last = origins[-1]
    people = tuple(dict.fromkeys(person for origin in origins for person in origin.people))
    return Reading(
        key=key,
        value=value,
        event=last.event,
        people=people,
        utc_ms=last.utc_ms,
        times=times,
        origins=origins,
    )
