"""Waiting lines as pages see them: the plan's lines once a version, each day by the hour, drawings of it."""

from __future__ import annotations

import datetime as dt
import threading
from typing import TYPE_CHECKING

from pollstead.election.instants import MS_PER_MINUTE
from pollstead.election.values import Value
from pollstead.plan.lines.trials import FRESH_FROM, Counts, Trials
from pollstead.plan.lines.what_if import day_key, fresh_figures
from pollstead.plan.planned_lines import PlannedLines, planned_lines
from pollstead.plan.terms.lines import ByHour, WaitFigures
from pollstead.plan.terms.part import NoWatch
from pollstead.work.county_folder import told_of

if TYPE_CHECKING:
    from pollstead.show.web.open_folder import OpenFolder

HOUR_DAYS = 64
"""Computed days behind each hour of the pages."""

WIDTH, HEIGHT = 480, 220
LEFT, RIGHT, TOP, BOTTOM = 44, 8, 16, 28
MOST_KEPT = 4_000
LEVELS_MIN = (5, 15, 30, 60)
"""Where a longer wait gets a darker cell; the limit of the county is marked apart from it."""


class KeptLines:
    """The lines of one plan version, made when first asked for; another version empties it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._digest = ""
        self._sites: dict[str, PlannedLines] = {}
        self._hours: dict[tuple[str, dt.date], ByHour] = {}
        self._figures: dict[tuple[str, dt.date, int], WaitFigures] = {}

    def sites(self, folder: OpenFolder, digest: str) -> dict[str, PlannedLines]:
        """The sites of a version that have lines, by id, in the version's order."""
        with self._lock:
            if self._digest != digest:
                version = folder.version(digest)
                told = told_of(folder.store, version)
                made = planned_lines(folder.snapshot(version.snapshot), version, told, NoWatch())
                self._sites = {one.lines.site: one for one in made}
                self._hours = {}
                self._figures = {}
                self._digest = digest
            return self._sites

    def by_hour(self, folder: OpenFolder, digest: str, site: str, date: dt.date) -> ByHour | None:
        """The planned numbers' day by the hour; None where the site has no lines that day."""
        found = self._hours.get((site, date)) if self._digest == digest else None
        if found is None:
            made = self._trials(folder, digest, site, date)
            if made is None:
                return None
            trials, counts = made
            found = trials.by_hour(counts, FRESH_FROM, HOUR_DAYS)
            with self._lock:
                if self._digest == digest and len(self._hours) < MOST_KEPT:
                    self._hours[site, date] = found
        return found

    def figures(
        self, folder: OpenFolder, digest: str, site: str, date: dt.date, days: int
    ) -> WaitFigures | None:
        """The planned numbers on the first `days` fresh days; None where the site has no lines that day."""
        key = (site, date, days)
        found = self._figures.get(key) if self._digest == digest else None
        if found is None:
            made = self._trials(folder, digest, site, date)
            if made is None:
                return None
            trials, counts = made
            found = fresh_figures(trials, counts, days)
            with self._lock:
                if self._digest == digest and len(self._figures) < MOST_KEPT:
                    self._figures[key] = found
        return found

    def _trials(
        self, folder: OpenFolder, digest: str, site: str, date: dt.date
    ) -> tuple[Trials, Counts] | None:
        one = self.sites(folder, digest).get(site)
        day = None if one is None else next((d for d in one.lines.days if d.date == date), None)
        if one is None or day is None:
            return None
        key = day_key(folder.version(digest).seed, one.lines, day)
        return Trials(one.lines.path, day, one.lines.limit, key, kept_bytes=0), one.counts


def level(wait_ms: int) -> int:
    """How dark a cell is: 0 for the shortest waits to 4 for an hour and more."""
    return sum(wait_ms >= minutes * MS_PER_MINUTE for minutes in LEVELS_MIN)


class Bar(Value, frozen=True, kw_only=True):
    """One hour of the drawing: where it begins, how wide, tops of P90 and P50."""

    x: int
    width: int
    y90: int
    y50: int


class Mark(Value, frozen=True, kw_only=True):
    """A labelled place on an axis."""

    at: int
    value: int


class HourChart(Value, frozen=True, kw_only=True):
    """What the template draws of a day by the hour: longest wait of each hour, and the county's limit."""

    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM
    bars: tuple[Bar, ...]
    limit_at: int
    hours: tuple[Mark, ...]
    minutes: tuple[Mark, ...]


def hour_chart(by_hour: ByHour, limit_ms: int, most_ms: int = 0) -> HourChart:
    """The drawing of one day; `most_ms` makes two drawings share their scale."""
    hours = by_hour.hours
    longest = max(most_ms, limit_ms, *(hour.p90_longest_ms for hour in hours))
    step = _step(longest // MS_PER_MINUTE + 1)
    top_min = step * -(-(longest // MS_PER_MINUTE + 1) // step)
    each = (WIDTH - LEFT - RIGHT) // len(hours)

    def y(wait_ms: int) -> int:
        return HEIGHT - BOTTOM - round((HEIGHT - TOP - BOTTOM) * wait_ms / (top_min * MS_PER_MINUTE))

    return HourChart(
        bars=tuple(
            Bar(
                x=LEFT + k * each + 3,
                width=each - 6,
                y90=y(hour.p90_longest_ms),
                y50=y(hour.p50_longest_ms),
            )
            for k, hour in enumerate(hours)
        ),
        limit_at=y(limit_ms),
        hours=tuple(
            Mark(at=LEFT + k * each, value=hour.from_ms // MS_PER_MINUTE)
            for k, hour in enumerate(hours)
            if k % 2 == 0
        ),
        minutes=tuple(Mark(at=y(m * MS_PER_MINUTE), value=m) for m in range(0, top_min + 1, step)),
    )


def _step(most: int) -> int:
    """A step of 5, 10, 15, 30 minutes or whole hours that gives at most five lines."""
    for step in (5, 10, 15, 30):
        if most <= 5 * step:
            return step
    return 60 * -(-most // 300)


def whole_hours(by_hour: ByHour) -> tuple[int, ...]:
    """The minutes of the day at which the hours begin."""
    return tuple(hour.from_ms // MS_PER_MINUTE for hour in by_hour.hours)


def worst_hour(by_hour: ByHour) -> int:
    """The hour, by its place, whose longest wait is the longest on 90 of 100 days."""
    hours = by_hour.hours
    return max(range(len(hours)), key=lambda k: (hours[k].p90_longest_ms, -k))
