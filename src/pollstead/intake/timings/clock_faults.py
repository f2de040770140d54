"""What the hours of a site tell of the clock behind a list: an hour off, outside the hours, hours missing.

Nothing is mended here: each fault says what it is about, and a person answers it.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping

import msgspec

from pollstead.election.instants import format_clock
from pollstead.election.timings import (
    QUARTER_MIN,
    QUARTERS,
    UNKNOWN,
    Answer,
    CheckInDay,
    FaultKind,
    LineReading,
    TimingFault,
)
from pollstead.election.words import N_, Message, message

HOUR_MIN = 60
HOUR = HOUR_MIN // QUARTER_MIN
OUTSIDE_LEAST, OUTSIDE_PER_HUNDRED = 3, 1
"""Check-ins outside the hours count as a fault from 3 on, and from 1 % of the day's on: our choice."""
LATE_QUARTERS = 4
"""Voters in line at closing still check in: so many quarter hours after it are no fault. Our choice."""
EXPECTED_LEAST = 8
"""An hour without check-ins is a fault where about so many are expected: chance alone gives none once in
3,000 (e**-8)."""

_LATER = N_("{place} on {date}: {count} check-ins outside {hours}; an hour later they would be inside")
_EARLIER = N_("{place} on {date}: {count} check-ins outside {hours}; an hour earlier they would be inside")

Hours = Mapping[tuple[str, dt.date], tuple[int, int]]


def clock_faults(
    days: tuple[CheckInDay, ...], lines: tuple[LineReading, ...], hours: Hours
) -> tuple[TimingFault, ...]:
    """Faults of check-in days and line readings, sites by id; those without hours are passed over."""
    found = []
    for day in days:
        found += list(_shifted(day, hours.get((day.site, day.date))))
    shifted = {(one.site, one.station, one.date) for one in found if one.kind is FaultKind.SHIFTED}
    sites = _by_site(day for day in days if (day.site, day.station, day.date) not in shifted)
    # A list of which one clock is an hour off tells nothing of hours without check-ins.
    touched = {(site, date) for site, _, date in shifted}
    for key, counts in sorted(sites.items()):
        if key in hours and key not in touched:
            found += list(_missing(key, counts, sites, hours[key]))
    return (*found, *_lines_shifted(lines, hours))


def _shifted(day: CheckInDay, hours: tuple[int, int] | None) -> Iterator[TimingFault]:
    if hours is None:
        return
    opens, closes = hours[0] // QUARTER_MIN, -(-hours[1] // QUARTER_MIN)
    total = sum(day.check_ins)
    before, after = _outside(day.check_ins, opens, closes)
    least = max(OUTSIDE_LEAST, -(-total * OUTSIDE_PER_HUNDRED // 100))
    if before + after < least:
        return
    place = " ".join(dict.fromkeys(filter(None, (day.site, day.station))))
    for quarters in (HOUR, -HOUR):
        moved = moved_by(day.check_ins, quarters)
        if sum(_outside(moved, opens, closes)) < least and _fills(moved, day.check_ins, opens, quarters):
            yield _fault(
                FaultKind.SHIFTED,
                "shift",
                day,
                message(
                    _LATER if quarters > 0 else _EARLIER,
                    place=place,
                    date=day.date.isoformat(),
                    count=before + after,
                    hours=_span(hours),
                ),
                (Answer.SHIFT, Answer.AS_READ, Answer.LEAVE_OUT),
                before + after,
                quarters * QUARTER_MIN,
            )
            return
    yield _fault(
        FaultKind.OUTSIDE,
        "outside",
        day,
        message(
            N_("{place} on {date}: {before} check-ins before {opens}, {after} over an hour after closing"),
            place=place,
            date=day.date.isoformat(),
            before=before,
            after=after,
            opens=format_clock(hours[0]),
        ),
        (Answer.AS_READ, Answer.LEAVE_OUT),
        before + after,
        0,
    )


def _outside(counts: tuple[int, ...], opens: int, closes: int) -> tuple[int, int]:
    return sum(counts[:opens]), sum(counts[closes + LATE_QUARTERS :])


def _fills(moved: tuple[int, ...], counts: tuple[int, ...], opens: int, quarters: int) -> bool:
    """Whether the shift also explains the other end: the first hour is not emptied, or was empty."""
    if quarters > 0:
        return sum(moved[opens : opens + HOUR]) > 0
    return sum(counts[opens : opens + HOUR]) == 0


def moved_by(counts: tuple[int, ...], quarters: int) -> tuple[int, ...]:
    """Counts so many quarter hours later (earlier below 0); what leaves the day stays at its end."""
    result = [0] * len(counts)
    for place, count in enumerate(counts):
        result[min(len(counts) - 1, max(0, place + quarters))] += count
    return tuple(result)


def _missing(
    key: tuple[str, dt.date],
    counts: tuple[int, ...],
    sites: Mapping[tuple[str, dt.date], tuple[int, ...]],
    hours: tuple[int, int],
) -> Iterator[TimingFault]:
    """Hours without a check-in while other site-days, at the same times, have many."""
    opens, closes = -(-hours[0] // QUARTER_MIN), hours[1] // QUARTER_MIN
    if not any(counts[opens:closes]):
        return
    others = [sum(own[q] for other, own in sites.items() if other != key) for q in range(QUARTERS)]
    shape = others if sum(others[opens:closes]) > sum(counts) else [1] * QUARTERS
    start = opens
    while start < closes:
        end = start
        while end < closes and counts[end] == 0:
            end += 1
        known = sum(shape[q] for q in range(opens, closes) if counts[q] or not start <= q < end)
        expected = sum(counts[opens:closes]) * sum(shape[start:end]) // max(1, known)
        if end - start >= HOUR and expected >= EXPECTED_LEAST:
            site, date = key
            span = (start * QUARTER_MIN, end * QUARTER_MIN)
            yield TimingFault(
                key=f"missing:{site}:{date.isoformat()}:{format_clock(span[0])}",
                kind=FaultKind.MISSING,
                words=message(
                    N_("{place} on {date}: no check-in {hours}, where about {count} are expected"),
                    place=site,
                    date=date.isoformat(),
                    hours=_span(span),
                    count=expected,
                ),
                answers=(Answer.UNKNOWN, Answer.AS_READ, Answer.LEAVE_OUT),
                site=site,
                date=date,
                from_min=span[0],
                to_min=span[1],
                count=expected,
            )
        start = end + 1


def _lines_shifted(lines: tuple[LineReading, ...], hours: Hours) -> Iterator[TimingFault]:
    """Line readings of a site that all begin and end an hour before, or after, its hours."""
    by_day: dict[tuple[str, dt.date], list[LineReading]] = defaultdict(list)
    for reading in lines:
        by_day[reading.site, reading.date].append(reading)
    for (site, date), own in sorted(by_day.items()):
        if (site, date) not in hours or len(own) < 3:
            continue
        opens, closes = hours[site, date]
        counted = [one.at_min for one in own if one.check_ins not in (0, UNKNOWN)]
        if not counted:
            continue
        early = min(counted) <= opens - HOUR_MIN and max(counted) <= closes - 2 * HOUR_MIN
        late = min(counted) >= opens + HOUR_MIN and max(counted) >= closes
        if early or late:
            yield TimingFault(
                key=f"shift:{site}:{date.isoformat()}",
                kind=FaultKind.SHIFTED,
                words=message(
                    N_("{place} on {date}: counts {first} to {last}, open {hours}: a clock an hour off?"),
                    place=site,
                    date=date.isoformat(),
                    first=format_clock(min(counted)),
                    last=format_clock(max(counted)),
                    hours=_span((opens, closes)),
                ),
                answers=(Answer.SHIFT, Answer.AS_READ, Answer.LEAVE_OUT),
                site=site,
                date=date,
                shift_min=HOUR_MIN if early else -HOUR_MIN,
                count=len(counted),
            )


def _by_site(days: Iterator[CheckInDay]) -> dict[tuple[str, dt.date], tuple[int, ...]]:
    found: dict[tuple[str, dt.date], list[int]] = {}
    for day in days:
        own = found.setdefault((day.site, day.date), [0] * QUARTERS)
        for quarter, count in enumerate(day.check_ins):
            own[quarter] += count
    return {key: tuple(counts) for key, counts in found.items()}


def _span(minutes: tuple[int, int]) -> str:
    return f"{format_clock(minutes[0])}-{format_clock(minutes[1])}"


def _fault(
    kind: FaultKind,
    name: str,
    day: CheckInDay,
    words: Message,
    answers: tuple[Answer, ...],
    count: int,
    shift_min: int,
) -> TimingFault:
    return TimingFault(
        key=":".join((name, *dict.fromkeys(filter(None, (day.site, day.station))), day.date.isoformat())),
        kind=kind,
        words=words,
        answers=answers,
        site=day.site,
        station=day.station,
        date=day.date,
        shift_min=shift_min,
        count=count,
    )


def answered(
    read_days: tuple[CheckInDay, ...],
    lines: tuple[LineReading, ...],
    faults: tuple[TimingFault, ...],
    answers: Mapping[str, Answer],
) -> tuple[tuple[CheckInDay, ...], tuple[LineReading, ...], dict[tuple[str, dt.date], list[tuple[int, int]]]]:
    """Days and readings as the answers say, and the parts of a site's day that are not known."""
    days, readings = list(read_days), list(lines)
    unknown: dict[tuple[str, dt.date], list[tuple[int, int]]] = defaultdict(list)
    for fault in faults:
        answer = answers.get(fault.key)
        about = (fault.site, fault.date)
        if answer is Answer.LEAVE_OUT and fault.date is not None:
            # One station's list left out makes the site's day too small: the whole day goes.
            days = [day for day in days if (day.site, day.date) != about]
            readings = [one for one in readings if (one.site, one.date) != about]
        elif answer is Answer.SHIFT:
            days = [_moved(day, fault) for day in days]
            readings = [
                msgspec.structs.replace(one, at_min=max(0, one.at_min + fault.shift_min))
                if (one.site, one.date) == about and not fault.station
                else one
                for one in readings
            ]
        elif answer is Answer.UNKNOWN and fault.date is not None:
            unknown[fault.site, fault.date].append((fault.from_min, fault.to_min))
    return tuple(days), tuple(readings), dict(unknown)


def _moved(day: CheckInDay, fault: TimingFault) -> CheckInDay:
    if (day.site, day.station, day.date) != (fault.site, fault.station, fault.date):
        return day
    quarters = fault.shift_min // QUARTER_MIN
    return msgspec.structs.replace(
        day,
        **{
            name: moved_by(getattr(day, name), quarters)
            for name in ("check_ins", "gaps", "gap_s", "gap_squares_s2")
        },
    )
