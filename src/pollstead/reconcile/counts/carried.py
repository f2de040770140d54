"""I10: what a site of several days begins with is what it ended with the day before.

The closing numbers of the earlier day enter under a key with that day before it
(``2028-11-02/public_counter_close@device/…``), so that the rows stay plain sums.
"""

from __future__ import annotations

import datetime as dt

import msgspec

from pollstead.election.station_type import CountUnit, Moment, OpeningValue, StationType
from pollstead.election.words import N_
from pollstead.reconcile.counts.balance import Reading
from pollstead.reconcile.counts.equations import Balance, CountingDevice, Equation
from pollstead.reconcile.counts.rows import Step
from pollstead.reconcile.counts.terms import counter_term, key_of


def day_key(date: dt.date, key: str) -> str:
    """The key of a number of an earlier day."""
    return f"{date.isoformat()}/{key}"


def carried_equations(
    balance: Balance,
    devices: tuple[CountingDevice, ...],
    types: tuple[StationType, ...],
    previous: dt.date,
) -> tuple[Equation, ...]:
    """Opening number of today minus closing number of `previous`, for each counter that carries over.

    A counter that begins each day at zero is no part of it; a lifetime counter always is. The stock of
    blank ballots is one more row where the site has paper.
    """
    known = {t.id: t for t in types}
    found: list[Equation] = []
    for device in devices:
        for counter in known[device.station_type].counters:
            if counter.opening is OpeningValue.ZERO or counter.unit is CountUnit.CHECK_INS:
                continue
            opening = key_of(counter_term(counter.id, Moment.OPENING), device.id)
            closing = key_of(counter_term(counter.id, Moment.CLOSING), device.id)
            found.append(
                Equation(
                    id=f"I10-{counter.id}",
                    words=N_("The counter at opening is the counter of the last closing"),
                    subject=device.id,
                    unit=counter.unit,
                    terms=((1, opening), (-1, day_key(previous, closing))),
                )
            )
        public = known[device.station_type].counter("public")
        if public is not None and public.opening is not OpeningValue.ZERO:
            found += _styles(balance, device.id, public.unit, previous)
    if Step.PAPER in balance.steps:
        found.append(
            Equation(
                id="I10-ballots",
                words=N_("The blank ballots at opening are those left at the last closing"),
                subject=f"site/{balance.site}",
                unit=CountUnit.BALLOTS,
                terms=((1, "ballots_received"), (-1, day_key(previous, "ballots_unused"))),
            )
        )
    return tuple(found)


def _styles(balance: Balance, device: str, unit: CountUnit, previous: dt.date) -> list[Equation]:
    """Each style's count on a device's report at opening is that of the last closing."""
    keys = {line.key for line in balance.lines}
    return [
        Equation(
            id="I10-style",
            words=N_("The count of a style at opening is that of the last closing"),
            subject=f"{device}/style/{style}",
            unit=unit,
            terms=((1, opening), (-1, day_key(previous, key_of("style_count_close", device, style)))),
        )
        for style, _ in balance.styles.sheets
        if (opening := key_of("style_count_open", device, style)) in keys
    ]


def readings_of_day(date: dt.date, readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """The readings of an earlier day under that day's keys."""
    return tuple(msgspec.structs.replace(reading, key=day_key(date, reading.key)) for reading in readings)
