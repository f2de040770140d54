"""From observations of a site and day to the readings that the balance is evaluated on."""

from __future__ import annotations

from collections import defaultdict

from pollstead.reconcile.counts.balance import Origin, Reading
from pollstead.reconcile.counts.equations import Balance
from pollstead.reconcile.counts.terms import key_of, term_of
from pollstead.reconcile.observed import Observation, What


def key_of_count(seen: Observation, devices: frozenset[str]) -> str:
    """The key that a ``count.read`` observation is a reading of.

    A count whose subject is a counter of a device (``device/…/public``) is that device's.
    """
    subject = seen.subject
    if subject not in devices and subject.rpartition("/")[0] in devices:
        subject = subject.rpartition("/")[0]
    return key_of(term_of(seen.detail, seen.source), subject)


def origin_of(seen: Observation) -> Origin:
    """Where the number of an observation was read, by whom and when."""
    return Origin(
        event=seen.event,
        source=seen.source,
        people=seen.entered_by,
        utc_ms=seen.utc_ms,
        sheet=seen.sheet,
        line=seen.line,
        by_phone=seen.by_phone,
    )


def readings_of(
    balance: Balance, observations: tuple[Observation, ...]
) -> tuple[tuple[Reading, ...], tuple[Observation, ...]]:
    """The standing readings by key, and the counts that no equation of the site asks for.

    People who read the same number become one reading with all their names; a different number of the
    same key stays a reading of its own. `times` of each is how often its key was counted, by anyone,
    corrected readings too.
    """
    devices = frozenset(line.device for line in balance.lines if line.device)
    wanted = {line.key for line in balance.lines}
    groups: dict[tuple[str, int], list[Observation]] = defaultdict(list)
    often: dict[str, int] = defaultdict(int)
    other: list[Observation] = []
    for seen in observations:
        if seen.what is not What.COUNT:
            continue
        key = key_of_count(seen, devices)
        if key not in wanted:
            other.append(seen)
            continue
        often[key] += len(seen.entered_by)
        if seen.stands and seen.number is not None:
            groups[(key, seen.number)].append(seen)
    readings = [
        Reading(
            key=key,
            value=value,
            event=group[-1].event,
            people=tuple(dict.fromkeys(p for seen in group for p in seen.entered_by)),
            utc_ms=group[-1].utc_ms,
            times=often[key],
            origins=tuple(origin_of(seen) for seen in group),
        )
        for (key, value), group in sorted(groups.items())
    ]
    return tuple(readings), tuple(other)
