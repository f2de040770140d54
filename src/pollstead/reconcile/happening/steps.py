"""What a day brings to the balance of a site: steps its kind does not name, devices that were swapped in."""

from __future__ import annotations

import datetime as dt

import msgspec

from pollstead.reconcile.counts.balance import Reading
from pollstead.reconcile.counts.equations import CountingDevice
from pollstead.reconcile.counts.readings import origin_of
from pollstead.reconcile.counts.rows import Step
from pollstead.reconcile.counts.terms import key_of
from pollstead.reconcile.happening.orders import apart_steps, orders_of
from pollstead.reconcile.observed import Observation, What
from pollstead.record.facts import Fold

IN_BIN = "auxiliary_bin"


def steps_of_day(
    folded: Fold, site: str, date: dt.date, observations: tuple[Observation, ...]
) -> frozenset[Step]:
    """The steps that happened at a site: an order with a class of ballots, a bin used, a swap, more ballots.

    A term appears on the closing statement as soon as anybody told that it may not be zero.
    """
    found = set(apart_steps(orders_of(folded, date), site))
    for seen in observations:
        if not seen.stands:
            continue
        if seen.what is What.SWAPPED and seen.state != "none":
            found.add(Step.HELD_APART)
        if seen.kind == "bin.used" or (seen.kind == "ballot.jam" and seen.detail == IN_BIN):
            found.add(Step.AUXILIARY)
        if seen.what is What.RECEIVED and seen.state == "received" and seen.subject.startswith("supply/"):
            found.add(Step.RESUPPLY)
    return frozenset(found)


def with_swapped(
    devices: tuple[CountingDevice, ...], observations: tuple[Observation, ...]
) -> tuple[CountingDevice, ...]:
    """The counting devices with both of each swap, also where no list names the new one yet."""
    found = list(devices)
    for seen in observations:
        if seen.what is not What.SWAPPED or not seen.stands:
            continue
        at = next((d for d in found if d.id == seen.detail or d.station == seen.subject), None)
        for device in (seen.detail, seen.value):
            if at is not None and device and all(d.id != device for d in found):
                found.append(CountingDevice(id=device, station=at.station, station_type=at.station_type))
    return tuple(found)


def counters_at_swap(
    readings: tuple[Reading, ...], wanted: frozenset[str], observations: tuple[Observation, ...]
) -> tuple[Reading, ...]:
    """The closing counters of devices taken out that nobody has read since: as read at the swap.

    A device that no longer starts cannot be read at closing; the number that two people took down when it was
    taken out then stands for it. Where it was read again, that reading stands and this one only beside it.
    """
    read = {reading.key for reading in readings}
    found = []
    for seen in observations:
        if seen.what is not What.SWAPPED or not seen.stands or seen.other_number is None:
            continue
        key = key_of("public_counter_close", seen.detail)
        if key in wanted and key not in read:
            found.append(
                Reading(
                    key=key,
                    value=seen.other_number,
                    event=seen.event,
                    people=seen.entered_by,
                    utc_ms=seen.utc_ms,
                    origins=(msgspec.structs.replace(origin_of(seen), source="screen"),),
                )
            )
    return tuple(found)
