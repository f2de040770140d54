"""The waits of a day as rows of a page: minutes as they are said, a small drawing, what is not known."""

from __future__ import annotations

import datetime as dt
import threading
from typing import TYPE_CHECKING

from pollstead.election.county import Election
from pollstead.election.instants import Instant, OperatingDay
from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.plan.terms.lines import Stage
from pollstead.plan.terms.now import Band, Known, Point
from pollstead.reconcile.lines_told import LineTold
from pollstead.show.waits_words import KNOWN_WORDS, MINUTE_MS, STAGE_WORDS, about_min, band_min, move_words
from pollstead.show.web.asked_day import day_asked, moment_asked, planned_days
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import all_days, county_day
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.ready_view import names_of, present_election

if TYPE_CHECKING:
    from collections.abc import Callable

    from pollstead.work.waits import SiteWait, Waits

WIDE, HIGH, EDGE = 200, 44, 3
LATE_MIN = 180
"""So long after closing an estimate of the last voter says only that what was told cannot go on till then."""
NUMBER_WORDS = (
    ("in_line", N_("In line, all")),
    ("at_check_in", N_("In line, check-in")),
    ("at_mark", N_("In line, voting")),
    ("at_cast", N_("In line, scanner")),
    ("check_ins", N_("Checked in so far")),
    ("open_check_in", N_("Open, check-in")),
    ("open_mark", N_("Open, voting")),
    ("open_cast", N_("Open, scanners")),
    ("wait_min", N_("Wait told, min")),
)


class Minutes(Value, frozen=True, kw_only=True):
    """A wait as it is said: about so many minutes, from low to high."""

    middle: int
    low: int
    high: int


class Spark(Value, frozen=True, kw_only=True):
    """People in line over the day: band and middle as points, dots where somebody counted, now as a line."""

    band: str
    middle: str
    dots: tuple[tuple[int, int], ...]
    now_x: int
    most: int
    most_min: int


class CountLine(Value, frozen=True, kw_only=True):
    """A count that stands: minute, who, how, and its numbers with their words."""

    event: str
    at_min: int
    who: str
    by_phone: bool
    numbers: tuple[tuple[str, int], ...]
    unexpected: bool


class WaitRow(Value, frozen=True, kw_only=True):
    """One site; the estimate's fields are None where nothing is known about now."""

    site: str
    name: str
    area: str
    state: str
    age_min: int | None
    wait: Minutes | None
    line: Band | None
    in_30: Minutes | None
    in_60: Minutes | None
    longest: Minutes | None
    stopped: tuple[str, ...]
    no_accessible: bool
    over_limit: bool
    out_min: tuple[int, int, int] | None
    out_late: bool
    late_apart: bool
    fewer_open: bool
    binding: str
    little_min: int | None
    spark: Spark | None
    counts: tuple[CountLine, ...]


class MoveRow(Value, frozen=True, kw_only=True):
    """One move: its sentence, and the longest wait before and after."""

    site: str
    words: Message
    before: int
    after: int
    sure_pct: int
    none_works: bool


class KeptWaits:
    """The last estimate of a folder, so that several people looking in one minute ask for one."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.key: tuple[object, ...] = ()
        self.waits: Waits | None = None

    def get(self, key: tuple[object, ...], make: Callable[[], Waits]) -> Waits:
        """What is kept under the key, else what `make` gives; one at a time."""
        with self.lock:
            if self.waits is None or self.key != key:
                self.waits, self.key = make(), key
            return self.waits


class WaitsOfDay:
    """The estimate of one day as of now or of the moment asked for. Raises `Trouble` before a plan."""

    def __init__(self, ask: Ask, *, estimate: bool = True) -> None:
        self.ask = ask
        self.days = planned_days(ask)
        self.election: Election = present_election(ask, self.days)
        self.dates = all_days(self.days.version, self.election)
        clock = ask.folder.clock()
        self.date: dt.date = day_asked(ask, self.dates) or county_day(
            self.days, self.days.version, self.election, clock
        )
        self.at, self.now_ms = moment_asked(ask, self.election, "/waits")
        self.day = OperatingDay(date=self.date, zone_name=self.election.zone_name)
        self.names = names_of(ask, self.election)
        if estimate:
            self.found = self._found()

    def _found(self) -> Waits:
        from pollstead.work.waits import waits_at

        # Within a minute nothing moves that anybody could tell.
        moment = self.now_ms // MINUTE_MS
        order = self.days.folded.order
        last = order[-1] if order else ""
        key = (self.days.digest, len(order), last, self.date, moment)
        self.ask.folder.ahead.wait()
        return self.ask.folder.kept_waits.get(
            key,
            lambda: waits_at(
                self.election,
                self.days.version,
                self.days.folded,
                self.date,
                self.now_ms,
                observations=self.days.observations(),
                workers=2,
            ),
        )

    def rows(self, area: str) -> tuple[WaitRow, ...]:
        """The sites of an area, the longest wait first, then by id."""
        made = [self.row(one) for one in self.found.sites if area in ("", one.area)]
        return tuple(sorted(made, key=lambda row: (-(row.wait.middle if row.wait else -1), row.site)))

    def row(self, one: SiteWait) -> WaitRow:
        """One site as a row."""
        wait = one.wait
        no_accessible = Stage.MARK_ACCESSIBLE in wait.stopped
        out = (
            None
            if wait.last_out is None
            else (
                self.minute(wait.last_out.middle),
                self.minute(wait.last_out.low),
                self.minute(wait.last_out.high),
            )
        )
        return WaitRow(
            site=one.site,
            name=one.name,
            area=one.area,
            state=KNOWN_WORDS[wait.known],
            age_min=None if wait.age_ms is None else wait.age_ms // MINUTE_MS,
            wait=_minutes(wait.wait),
            line=wait.in_line,
            in_30=_minutes(wait.in_30),
            in_60=_minutes(wait.in_60),
            longest=_minutes(wait.longest_others if no_accessible else wait.longest),
            stopped=tuple(STAGE_WORDS[stage] for stage in wait.stopped if stage is not Stage.MARK_ACCESSIBLE),
            no_accessible=no_accessible,
            over_limit=wait.longest is not None and wait.longest.middle > self.found.limit_ms,
            out_min=out,
            out_late=out is not None and out[0] >= one.closes_min + LATE_MIN,
            late_apart=no_accessible
            and wait.longest_others is not None
            and wait.longest_others.high < LATE_MIN * MINUTE_MS,
            fewer_open=wait.open_stations is not None
            and any(
                now < planned
                for now, planned in zip(wait.open_stations.by_stage(), one.planned.by_stage(), strict=True)
            ),
            binding="" if wait.binding is None else STAGE_WORDS[wait.binding],
            little_min=None if wait.little is None else about_min(wait.little.wait_ms),
            spark=self.spark(one),
            counts=tuple(self._count(told, wait.odd_reports) for told in reversed(one.told)),
        )

    def moves(self, area: str) -> tuple[MoveRow, ...]:
        """The moves for the sites of an area."""
        areas = {one.site: one.area for one in self.found.sites}
        stopped = {one.site: one.wait.stopped for one in self.found.sites}
        return tuple(
            MoveRow(
                site=move.site,
                words=move_words(move, self.ask.speak.plain, stopped[move.site]),
                before=move.longest_before.middle,
                after=move.longest_after.middle,
                sure_pct=move.saves_ppm // 10_000,
                none_works=move.stage in stopped[move.site],
            )
            for move in self.found.moves
            if area in ("", areas[move.site])
        )

    def minute(self, at_ms: int) -> int:
        """A moment of the day as a minute of its wall clock."""
        return self.day.wall_clock_of(Instant(utc_ms=self.found.starts_ms + at_ms))

    def spark(self, one: SiteWait) -> Spark | None:
        """The small drawing of a site with an estimate; None for another."""
        points = one.wait.points
        if one.wait.known is not Known.ESTIMATED or len(points) < 2:
            return None
        lines = [(told.at_ms, told.number("in_line")) for told in one.told]
        dots = [(at, number) for at, number in lines if number is not None]
        most = max(1, *(point.in_line.high for point in points), *(number for _, number in dots))
        first, last = points[0].at_ms, points[-1].at_ms

        def x(at_ms: int) -> int:
            return EDGE + (WIDE - 2 * EDGE) * (min(max(at_ms, first), last) - first) // max(1, last - first)

        def y(number: int) -> int:
            return HIGH - EDGE - (HIGH - 2 * EDGE) * number // most

        def path(chosen: list[tuple[int, int]]) -> str:
            return " ".join(f"{x(at)},{y(number)}" for at, number in chosen)

        low = [(point.at_ms, point.in_line.low) for point in points]
        high = [(point.at_ms, point.in_line.high) for point in points]
        peak: Point = max(points, key=lambda point: point.in_line.middle)
        return Spark(
            band=path([*high, *reversed(low)]),
            middle=path([(point.at_ms, point.in_line.middle) for point in points]),
            dots=tuple((x(at), y(number)) for at, number in dots),
            now_x=x(self.now_ms - self.found.starts_ms),
            most=peak.in_line.middle,
            most_min=self.minute(peak.at_ms),
        )

    def _count(self, told: LineTold, odd: tuple[str, ...]) -> CountLine:
        person = (told.giver or told.author).rpartition("/")[2]
        sees = self.ask.may(Capability.SEE_PEOPLE)
        return CountLine(
            event=told.event,
            at_min=told.at_min,
            who=self.names.get(person, person) if sees else "",
            by_phone=told.by_phone,
            numbers=tuple(
                (words, number) for name, words in NUMBER_WORDS if (number := told.number(name)) is not None
            ),
            unexpected=told.event in odd,
        )


def _minutes(band: Band | None) -> Minutes | None:
    if band is None:
        return None
    middle, low, high = band_min(band)
    return Minutes(middle=middle, low=low, high=high)
