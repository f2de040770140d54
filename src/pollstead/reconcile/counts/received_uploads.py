"""What receiving has of a site from the memory devices of its machines, one way of voting at a time.

A memory device holds what its machine's public counter shows. Where that counter carries over from one way
of voting to the next, as a counter of early voting may to election day, what was read at the end holds both:
of the later way it is taken less what the counter held when that way began. Of the earlier way alone nothing
was read then, so nothing is compared.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from pollstead.reconcile.counts.balance import Reading
from pollstead.reconcile.counts.county_shapes import SiteCounts, before_key, uploaded_key
from pollstead.reconcile.counts.quantities import PUBLIC_CLOSE, PUBLIC_OPEN, SiteSum
from pollstead.reconcile.counts.terms import key_of
from pollstead.reconcile.counts.uploads import MachineUploads


def uploads_of_place(
    here: list[SiteCounts], mode: str, shape: SiteSum, machines: tuple[MachineUploads, ...]
) -> tuple[tuple[int, str], ...]:
    """Everything read of the memory devices that hold what a site counted on the days `here` of a mode.

    `shape` is the sum of ballots cast of one of these days: what a counter held counts as its closing does.
    () while nothing was read of them, and where a counting machine was used in another way of voting
    after these days: what was read of it holds that too.
    """
    last = max(day.date for day in here).isoformat()
    counting = {device for day in here for device in _counting(day)}
    known = {one.machine.device: one for one in machines if one.machine.device in counting}
    if any(one.machine.day > last or one.machine.site != here[0].site for one in known.values()):
        return ()
    taken = [upload for one in known.values() for upload in one.taken]
    if not taken:
        return ()
    in_ballots = all(upload.unit == "ballots" for upload in taken)
    times = {key: coefficient for coefficient, key in shape.terms}
    terms = [(-(shape.per_ballot if in_ballots else 1), uploaded_key(device)) for device in sorted(known)]
    held = [
        (times.get(key_of(PUBLIC_CLOSE, device), 1), before_key(device, mode))
        for device in sorted(known)
        if _began(device, here) is not None
    ]
    return (*terms, *held)


def held_before(days: tuple[SiteCounts, ...]) -> Iterable[Reading]:
    """What counters that carry over held when each way of voting began, under keys of their own."""
    modes: dict[tuple[str, str], list[SiteCounts]] = {}
    for day in days:
        modes.setdefault((day.site, day.mode), []).append(day)
    for (_, mode), here in modes.items():
        for device in sorted({device for day in here for device in _counting(day)}):
            first = _began(device, here)
            opening = key_of(PUBLIC_OPEN, device)
            for reading in () if first is None else first.readings:
                if reading.key == opening:
                    yield msgspec.structs.replace(reading, key=before_key(device, mode))


def _counting(day: SiteCounts) -> set[str]:
    lines = () if day.balance is None else day.balance.lines
    return {line.device for line in lines if line.device and line.key == key_of(PUBLIC_CLOSE, line.device)}


def _began(device: str, here: list[SiteCounts]) -> SiteCounts | None:
    """The first of some days on which a machine counted, where its counter held something already."""
    days = sorted((day for day in here if device in _counting(day)), key=lambda day: day.date)
    return days[0] if days and device in days[0].carried else None
