"""I9: memory devices out are memory devices in, one by one, by id; never by their number alone."""

from __future__ import annotations

import enum
from collections import defaultdict

from pollstead.election.values import Value
from pollstead.reconcile.observed import Observation, What


class MemoryState(enum.StrEnum):
    """Where a memory device is, as far as people said."""

    RECEIVED = "received"
    IN_CASE = "in the case"
    TRAVELS_INSIDE = "travels inside"
    TO_FOLLOW = "to follow"
    NOT_FOUND = "not found"
    NOT_SAID = "not said"
    TWO_WORDS = "two words differ"


class MemoryOut(Value, frozen=True, kw_only=True):
    """A machine that went out: its memory devices by id, and how many of them travel apart."""

    device: str
    ids: tuple[str, ...]
    travels: int


class MemoryLine(Value, frozen=True, kw_only=True):
    """One memory device: where it is; `device` is the machine it went out with ("" if none did)."""

    id: str
    device: str
    state: MemoryState
    inside: str = ""
    observations: tuple[Observation, ...] = ()


class MemoryResult(Value, frozen=True, kw_only=True):
    """One machine: ids that must travel and do, how many are short, all its lines.

    `short` counts the memory devices still to be found; 0 when as many travel as must. A machine
    `device` of "" gathers ids that went out with no machine of this site.
    """

    device: str
    must_travel: int
    travelling: int
    short: int
    lines: tuple[MemoryLine, ...]


_ACCOUNTED = (MemoryState.RECEIVED, MemoryState.IN_CASE)


def short_id(subject: str) -> str:
    """The memory device's own id: the last part of the event's subject."""
    return subject.rpartition("/")[2]


def memory_results(
    out: tuple[MemoryOut, ...], observations: tuple[Observation, ...]
) -> tuple[MemoryResult, ...]:
    """Each machine's memory devices against what was packed and received, by id.

    `observations` are those of the site's day; ids that no machine of the site had come out under the
    device "". The order of observations is no matter.
    """
    said: dict[str, list[Observation]] = defaultdict(list)
    known = {i for machine in out for i in machine.ids}
    for seen in observations:
        packed = seen.what is What.MEMORY_DEVICE
        if packed or (seen.what is What.RECEIVED and short_id(seen.subject) in known):
            said[short_id(seen.subject)].append(seen)
    results = [_machine(machine.device, machine.ids, machine.travels, said) for machine in out if machine.ids]
    strangers = tuple(sorted(i for i in said if i not in known))
    if strangers:
        results.append(_machine("", strangers, 0, said))
    return tuple(results)


def _machine(
    device: str, ids: tuple[str, ...], travels: int, said: dict[str, list[Observation]]
) -> MemoryResult:
    lines = tuple(_line(i, device, tuple(said.get(i, ()))) for i in ids)
    travelling = sum(line.state in _ACCOUNTED for line in lines)
    inside = sum(line.state is MemoryState.TRAVELS_INSIDE for line in lines)
    # One that travels inside its machine is not short: people said where it is and the machine is known.
    short = max(0, travels - travelling - max(0, inside - (len(ids) - travels)))
    return MemoryResult(device=device, must_travel=travels, travelling=travelling, short=short, lines=lines)


def _line(memory: str, device: str, seen: tuple[Observation, ...]) -> MemoryLine:
    standing = [o for o in seen if o.stands]
    received = any(o.what is What.RECEIVED and o.state == "received" for o in standing)
    packed = [o for o in standing if o.what is What.MEMORY_DEVICE]
    words = {(o.state, o.value) for o in packed}
    inside = packed[-1].value if packed else ""
    if received:
        state = MemoryState.RECEIVED
    elif not packed:
        state = MemoryState.NOT_SAID
    elif len(words) > 1:
        state = MemoryState.TWO_WORDS
    else:
        state = _OF_EVENT.get(packed[0].state, MemoryState.NOT_SAID)
    return MemoryLine(id=memory, device=device, state=state, inside=inside, observations=seen)


_OF_EVENT = {
    "in_case": MemoryState.IN_CASE,
    "travels_inside": MemoryState.TRAVELS_INSIDE,
    "to_follow": MemoryState.TO_FOLLOW,
    "not_found": MemoryState.NOT_FOUND,
}
