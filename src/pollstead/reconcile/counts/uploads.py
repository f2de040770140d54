"""Memory devices read at the central place: each machine once and only once, by memory-device id and count.

A machine may hold two memory devices with the same count; reading both counts it twice as surely as reading
one twice. What was taken out again counts no longer; what was refused never did.
"""

from __future__ import annotations

import enum
from collections import defaultdict
from collections.abc import Iterable

from pollstead.election.values import Value
from pollstead.reconcile.counts.balance import Origin
from pollstead.reconcile.counts.memory import short_id
from pollstead.reconcile.observed import short_site
from pollstead.record.event import Part
from pollstead.record.facts import Fact, Fold, Reading


class Upload(Value, frozen=True, kw_only=True):
    """One reading of a memory device at the central place, as it stands now.

    `state` is taken, refused or taken_out; `unit` what it counts; `styles` its parts by ballot style.
    """

    memory: str
    count: int
    unit: str
    state: str
    machine: str
    site: str
    mode: str
    origin: Origin
    styles: tuple[tuple[str, int], ...] = ()

    @property
    def event(self) -> str:
        """The event that says so."""
        return self.origin.event


class MachineOut(Value, frozen=True, kw_only=True):
    """A machine whose count is to be read once: where and when it counted last, its memory devices by id."""

    site: str
    mode: str
    day: str
    device: str
    memory: tuple[str, ...]


class UploadState(enum.StrEnum):
    """How often a machine's count was taken."""

    ONCE = "taken once"
    NOT_YET = "not taken yet"
    TWICE = "taken more than once"


class MachineUploads(Value, frozen=True, kw_only=True):
    """One machine with everything read of it: `taken` counts, in the order of time; `refused` does not.

    Where it was taken more than once the first of `taken` is the reference of the others. A machine of ""
    gathers memory devices that went out with no machine of any list.
    """

    machine: MachineOut
    taken: tuple[Upload, ...]
    refused: tuple[Upload, ...] = ()

    @property
    def state(self) -> UploadState:
        """How often it was taken."""
        if not self.taken:
            return UploadState.NOT_YET
        return UploadState.ONCE if len(self.taken) == 1 else UploadState.TWICE

    @property
    def count(self) -> int | None:
        """What the central place has of it, everything taken together; None while nothing was taken."""
        return sum(upload.count for upload in self.taken) if self.taken else None


def uploads_of(folded: Fold) -> tuple[Upload, ...]:
    """Every standing word about an upload, in the order of time."""
    found = [
        (folded.moment(reading.event, reading.utc_ms), _upload(fact, reading))
        for fact in folded.named("memory.uploaded")
        for reading in fact.current
    ]
    return tuple(upload for _, upload in sorted(found, key=lambda pair: (pair[0], pair[1].event)))


def machine_uploads(
    out: tuple[MachineOut, ...], uploads: tuple[Upload, ...]
) -> tuple[tuple[MachineUploads, ...], tuple[Upload, ...]]:
    """Each machine with what was read of its memory devices, and the uploads of ids that no list has."""
    owner = {memory: machine.device for machine in out for memory in machine.memory}
    by_machine: dict[str, list[Upload]] = defaultdict(list)
    strangers = []
    for upload in uploads:
        device = owner.get(upload.memory)
        if device is None:
            strangers.append(upload)
        else:
            by_machine[device].append(upload)
    return (
        tuple(_machine(machine, by_machine.get(machine.device, [])) for machine in out),
        tuple(strangers),
    )


def repeats(uploads: tuple[Upload, ...], memory: str, count: int) -> Upload | None:
    """The first upload that a further one of this memory device would repeat; None where there is none."""
    standing = standing_uploads([one for one in uploads if one.memory == memory])
    return next((one for one in standing if one.count == count), standing[0] if standing else None)


def _machine(machine: MachineOut, uploads: list[Upload]) -> MachineUploads:
    return MachineUploads(
        machine=machine,
        taken=tuple(standing_uploads(uploads)),
        refused=tuple(one for one in uploads if one.state == "refused"),
    )


def standing_uploads(uploads: Iterable[Upload]) -> list[Upload]:
    """What was taken and not taken out again: each taking out ends the latest of the same id and count."""
    standing: list[Upload] = []
    for upload in uploads:
        if upload.state == "taken":
            standing.append(upload)
        elif upload.state == "taken_out":
            same = [one for one in standing if (one.memory, one.count) == (upload.memory, upload.count)]
            if same:
                standing.remove(same[-1])
    return standing


def _upload(fact: Fact, reading: Reading) -> Upload:
    value = reading.value.thawed()
    parts = value.get("styles", [])
    return Upload(
        memory=short_id(fact.subject),
        count=int(value["count"]),
        unit=str(value.get("unit", "ballots")),
        state=str(value.get("state", "taken")),
        machine=str(value.get("machine", "")),
        site=short_site(reading.site),
        mode=str(value.get("mode", "")),
        styles=tuple((str(part["style"]), int(part["count"])) for part in parts),
        origin=origin_of_reading(reading, str(value.get("source", "screen"))),
    )


def origin_of_reading(reading: Reading, source: str) -> Origin:
    """Where a reading of the record came from: from what, by whom, when, on which paper."""
    return Origin(
        event=reading.event,
        source=source,
        people=tuple(p.person for p in reading.people if p.part in (Part.AUTHOR, Part.SECOND)),
        utc_ms=reading.utc_ms,
        sheet=reading.sheet,
        line=reading.line,
        by_phone=reading.by_phone,
    )
