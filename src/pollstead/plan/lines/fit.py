"""From reduced timings to what the model needs: when voters come, the line at opening, service times.

Check-in times tell when voters left the check-in line, not when they came. Where hourly line counts are
known, arrivals are check-ins plus what the line grew by; where not, the shape says so.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import defaultdict
from itertools import pairwise

from pollstead.election.timings import (
    QUARTER_MIN,
    QUARTERS,
    UNKNOWN,
    CheckInDay,
    LineReading,
    Samples,
    StepSamples,
)
from pollstead.election.values import Value
from pollstead.plan.lines.fit_flow import (
    BusyStretch,
    FlowFit,
    OpeningCount,
    OpeningFit,
    fit_flow,
    fit_opening,
)
from pollstead.plan.lines.fit_laws import WHOLE_PPM, ServiceFit, fit_service
from pollstead.plan.lines.fit_likelihood import FittedLaw
from pollstead.plan.lines.fit_shape import CountedDay, ShapeFit, fit_shape
from pollstead.plan.lines.fit_sites import AcrossSites, fit_sites

HOUR_MIN = 60
NEAR_HOUR_MIN = 10
"""A reading so near the full hour counts as made at it: our choice."""
BUSY_LINE = 3
"""A stretch is busy where so many voters a station wait at both its ends. With one voter a station the line
runs dry in between often enough to add 3 to 6 % to the mean on days of the model; with three it adds about
1 %. Our choice."""
FEWEST_GAPS = 50
"""Below so many gaps of busy stations the spread is not told from them: our choice."""

Key = tuple[str, dt.date]


class OpenHours(Value, frozen=True, kw_only=True):
    """Hours of one site on one day, and parts of it in which nobody counted, in minutes of the day."""

    site: str
    date: dt.date
    opens_min: int
    closes_min: int
    unknown: tuple[tuple[int, int], ...] = ()


class CheckInTypes(Value, frozen=True, kw_only=True):
    """Which station type checks voters in at a site, and the spread of its service as it stands."""

    site: str
    station_type: str
    cv_ppm: int


class FitGiven(Value, frozen=True, kw_only=True):
    """Reduced timings, sites and station types by id; `present_ppm` is the county's table by hour."""

    days: tuple[CheckInDay, ...] = ()
    lines: tuple[LineReading, ...] = ()
    steps: tuple[StepSamples, ...] = ()
    hours: tuple[OpenHours, ...] = ()
    check_in: tuple[CheckInTypes, ...] = ()
    present_ppm: tuple[tuple[int, int], ...] = ()


class StepFit(Value, frozen=True, kw_only=True):
    """One station type: what its samples say, over all sites and across them; the days they were taken."""

    station_type: str
    service: ServiceFit
    across: AcrossSites | None
    sites: int
    first: dt.date | None
    last: dt.date | None


class FlowOfType(Value, frozen=True, kw_only=True):
    """The check-in time of one station type from busy stretches; `cv_ppm` what its interval was made with."""

    station_type: str
    flow: FlowFit
    cv_ppm: int
    spread_counted: bool


class TimingsFit(Value, frozen=True, kw_only=True):
    """All that the timings say. `line_known` says whether the shape knows how the lines grew and shrank."""

    steps: tuple[StepFit, ...] = ()
    flows: tuple[FlowOfType, ...] = ()
    shape: ShapeFit | None = None
    line_known: bool = False
    opening: OpeningFit | None = None
    first: dt.date | None = None
    last: dt.date | None = None


def fit_timings(given: FitGiven) -> TimingsFit:
    """Fit all that can be told; deterministic, no seed."""
    by_hour = {(one.site, one.date): one for one in given.hours}
    check_ins = _by_site(given.days)
    lines: dict[Key, list[LineReading]] = defaultdict(list)
    for reading in sorted(given.lines, key=lambda one: (one.site, one.date, one.at_min)):
        lines[reading.site, reading.date].append(reading)
    counted, known = [], []
    for key in sorted(set(check_ins) | set(lines)):
        day, line_known = _arrivals(key, by_hour.get(key), check_ins.get(key), lines.get(key, []))
        if day is not None:
            counted.append(day)
            known.append(line_known)
    dates = [key[1] for key in (*check_ins, *lines)]
    return TimingsFit(
        steps=_steps(given.steps),
        flows=_flows(given, check_ins, lines),
        shape=fit_shape(tuple(counted), dict(given.present_ppm) or None),
        line_known=bool(known) and all(known),
        opening=fit_opening(_openings(by_hour, check_ins, lines)),
        first=min(dates, default=None),
        last=max(dates, default=None),
    )


def _by_site(days: tuple[CheckInDay, ...]) -> dict[Key, list[int]]:
    found: dict[Key, list[int]] = {}
    for day in days:
        own = found.setdefault((day.site, day.date), [0] * QUARTERS)
        for quarter, count in enumerate(day.check_ins):
            own[quarter] += count
    return found


def _arrivals(
    key: Key, hours: OpenHours | None, quarters: list[int] | None, lines: list[LineReading]
) -> tuple[CountedDay | None, bool]:
    """Arrivals of one site-day, and whether they know the line."""
    if hours is None:
        return None, False
    opens, closes = hours.opens_min, hours.closes_min
    if quarters is not None:
        quarters = _inside(quarters, hours)
    line = {_hour_min(one.at_min, opens): one.in_line for one in lines if one.in_line != UNKNOWN}
    told = {_hour_min(one.at_min, opens): one.check_ins for one in lines if one.check_ins != UNKNOWN}
    first = opens // HOUR_MIN * HOUR_MIN
    steps = range(first, -(-closes // HOUR_MIN) * HOUR_MIN, HOUR_MIN)
    known = [max(start, opens) in line and min(start + HOUR_MIN, closes) in line for start in steps]
    if quarters is not None and not any(known):
        start = opens // QUARTER_MIN
        counts = quarters[start : -(-closes // QUARTER_MIN)]
        _take_opening_line(counts, line.get(opens, 0))
        return _day(key, start * QUARTER_MIN, QUARTER_MIN, counts), False
    counts = []
    for start, has_line in zip(steps, known, strict=True):
        begins, ends = max(start, opens), min(start + HOUR_MIN, closes)
        count = told.get(begins, UNKNOWN)
        if quarters is not None:
            part = quarters[start // QUARTER_MIN : (start + HOUR_MIN) // QUARTER_MIN]
            count = UNKNOWN if UNKNOWN in part else sum(part)
        if count != UNKNOWN and has_line:
            count = max(0, count + line[ends] - line[begins])
        counts.append(count)
    return _day(key, first, HOUR_MIN, counts), all(known)


def _day(key: Key, first_min: int, step_min: int, counts: list[int]) -> CountedDay:
    return CountedDay(site=key[0], date=key[1], first_min=first_min, step_min=step_min, counts=tuple(counts))


def _inside(quarters: list[int], hours: OpenHours) -> list[int]:
    """Check-ins after closing belong to the last quarter hour: these voters stood in line before it."""
    last = -(-hours.closes_min // QUARTER_MIN) - 1
    result = [*quarters[:last], sum(quarters[last:]), *(0 for _ in quarters[last + 1 :])]
    for start, end in hours.unknown:
        for quarter in range(start // QUARTER_MIN, -(-end // QUARTER_MIN)):
            result[quarter] = UNKNOWN
    return result


def _take_opening_line(counts: list[int], line: int) -> None:
    """Take out the first check-ins, those of the line at opening: the model has them apart."""
    for place, count in enumerate(counts):
        if line <= 0 or count == UNKNOWN:
            return
        counts[place], line = count - min(count, line), line - min(count, line)


def _hour_min(at_min: int, opens: int) -> int:
    """The full hour that a reading was made at, or the opening."""
    if abs(at_min - opens) <= NEAR_HOUR_MIN:
        return opens
    full = (at_min + HOUR_MIN // 2) // HOUR_MIN * HOUR_MIN
    return full if abs(at_min - full) <= NEAR_HOUR_MIN else at_min


def _openings(
    hours: dict[Key, OpenHours], check_ins: dict[Key, list[int]], lines: dict[Key, list[LineReading]]
) -> tuple[OpeningCount, ...]:
    """Site-days with a line count at opening and all their voters known."""
    found = []
    for key, readings in lines.items():
        if key not in hours:
            continue
        opens, closes = hours[key].opens_min, hours[key].closes_min
        at_opening = [
            r.in_line for r in readings if _hour_min(r.at_min, opens) == opens and r.in_line != UNKNOWN
        ]
        told = [r.check_ins for r in readings if opens - NEAR_HOUR_MIN <= r.at_min < closes]
        voters = sum(check_ins[key]) if key in check_ins and not hours[key].unknown else 0
        if (
            not voters
            and told
            and UNKNOWN not in told
            and len(told) * HOUR_MIN >= closes - opens - HOUR_MIN // 2
        ):
            voters = sum(told)
        if at_opening and voters:
            found.append(OpeningCount(site=key[0], date=key[1], in_line=at_opening[0], voters=voters))
    return tuple(found)


def _flows(
    given: FitGiven, check_ins: dict[Key, list[int]], lines: dict[Key, list[LineReading]]
) -> tuple[FlowOfType, ...]:
    types = {one.site: one for one in given.check_in}
    stretches: dict[str, list[BusyStretch]] = defaultdict(list)
    for key, readings in lines.items():
        if key[0] in types:
            stretches[types[key[0]].station_type] += _busy(key, readings, check_ins.get(key))
    result = []
    for station_type, own in sorted(stretches.items()):
        spread = _spread(given.days, own)
        cv_ppm = spread or next(t.cv_ppm for t in given.check_in if t.station_type == station_type)
        flow = fit_flow(tuple(own), cv_ppm)
        if flow is not None:
            result.append(
                FlowOfType(station_type=station_type, flow=flow, cv_ppm=cv_ppm, spread_counted=bool(spread))
            )
    return tuple(result)


def _busy(key: Key, readings: list[LineReading], quarters: list[int] | None) -> list[BusyStretch]:
    """Times between two readings at which `BUSY_LINE` voters waited for each open station."""
    found = []
    for before, after in pairwise(readings):
        stations, lasts = before.stations, after.at_min - before.at_min
        if stations < 1 or after.stations not in (stations, UNKNOWN) or not 15 <= lasts <= 120:
            continue
        if min(before.in_line, after.in_line) < BUSY_LINE * stations:
            continue
        count = before.check_ins if abs(lasts - HOUR_MIN) <= NEAR_HOUR_MIN else UNKNOWN
        if quarters is not None and before.at_min % QUARTER_MIN == after.at_min % QUARTER_MIN == 0:
            count = sum(quarters[before.at_min // QUARTER_MIN : after.at_min // QUARTER_MIN])
        if count != UNKNOWN:
            found.append(
                BusyStretch(
                    site=key[0],
                    date=key[1],
                    from_min=before.at_min,
                    lasts_min=lasts,
                    stations=stations,
                    check_ins=count,
                )
            )
    return found


def _spread(days: tuple[CheckInDay, ...], stretches: list[BusyStretch]) -> int:
    """Spread of the gaps at single stations in busy stretches, ppm; 0 where too few are known.

    At a busy station the gap between two check-ins is one voter's service time.
    """
    times = total = squares = 0
    for stretch in stretches:
        low, high = stretch.from_min // QUARTER_MIN, (stretch.from_min + stretch.lasts_min) // QUARTER_MIN
        own = [d for d in days if (d.site, d.date) == (stretch.site, stretch.date) and d.station]
        if len({day.station for day in own}) < max(2, stretch.stations):
            continue
        for day in own:
            times += sum(day.gaps[low:high])
            total += sum(day.gap_s[low:high])
            squares += sum(day.gap_squares_s2[low:high])
    if times < FEWEST_GAPS or total == 0:
        return 0
    mean = total / times
    return max(1, round(WHOLE_PPM * math.sqrt(max(0.0, squares / times - mean * mean)) / mean))


def _steps(steps: tuple[StepSamples, ...]) -> tuple[StepFit, ...]:
    result = []
    for station_type in dict.fromkeys(one.station_type for one in steps):
        own = [one for one in steps if one.station_type == station_type]
        service = fit_service(_together([one.samples for one in own]))
        by_site = {
            site: _together([one.samples for one in own if one.site == site])
            for site in dict.fromkeys(one.site for one in own)
            if site
        }
        law = service.chosen
        across = fit_sites(by_site, law or FittedLaw.LOGNORMAL) if law is not None else None
        days = [day for one in own for day in (one.first, one.last) if day is not None]
        result.append(
            StepFit(
                station_type=station_type,
                service=service,
                across=across,
                sites=len(by_site),
                first=min(days, default=None),
                last=max(days, default=None),
            )
        )
    return tuple(result)


def _together(samples: list[Samples]) -> Samples:
    return Samples(
        done_ms=tuple(sorted(ms for one in samples for ms in one.done_ms)),
        going_ms=tuple(sorted(ms for one in samples for ms in one.going_ms)),
    )
