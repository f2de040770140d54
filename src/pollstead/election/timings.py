"""What an office can tell of lines and service times, already reduced: counts and times, never a voter."""

from __future__ import annotations

import datetime as dt
import enum

from pollstead.election.notice import Notice
from pollstead.election.values import Value, require
from pollstead.election.words import Message

QUARTER_MIN = 15
QUARTERS = 24 * 60 // QUARTER_MIN
UNKNOWN = -1
"""Stands for a count that nobody has."""


class TimingKind(enum.StrEnum):
    """What a file of timings holds."""

    CHECK_IN_TIMES = "check-in times"
    LINE_COUNTS = "line counts"
    SAMPLES = "timed samples"


class Band(Value, frozen=True):
    """A number with its 95 % interval, in the unit that the field's name says."""

    value: int
    low: int
    high: int

    def __post_init__(self) -> None:
        require(
            self.low <= self.value <= self.high,
            f"low <= value <= high must hold, got {self.low}, {self.value}, {self.high}",
        )


class Samples(Value, frozen=True, kw_only=True):
    """Times taken with a stop watch, in milliseconds: to the end, and still going when the watch stopped."""

    done_ms: tuple[int, ...] = ()
    going_ms: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        require(min((*self.done_ms, *self.going_ms), default=1) > 0, "a timed sample must be above 0 ms")

    def __len__(self) -> int:
        return len(self.done_ms) + len(self.going_ms)


class CheckInDay(Value, frozen=True, kw_only=True):
    """Check-ins of one station (or site, where `station` is blank) on one day, by quarter hour from midnight.

    `gap_s` and `gap_squares_s2` are sums over the gaps that ended in a quarter hour, whole seconds; `gaps`
    is how many these are. All four have as many places as the day has quarter hours.
    """

    site: str
    station: str
    date: dt.date
    check_ins: tuple[int, ...]
    gaps: tuple[int, ...]
    gap_s: tuple[int, ...]
    gap_squares_s2: tuple[int, ...]

    def __post_init__(self) -> None:
        for name in ("check_ins", "gaps", "gap_s", "gap_squares_s2"):
            have = len(getattr(self, name))
            require(have == QUARTERS, f"{name} must have {QUARTERS} quarter hours, got {have}")


class GapQuantiles(Value, frozen=True, kw_only=True):
    """The gaps between check-ins of a site (at one station, where stations are told), in whole seconds."""

    site: str
    gaps: int
    p05_s: int
    p25_s: int
    p50_s: int
    p75_s: int
    p95_s: int


class LineReading(Value, frozen=True, kw_only=True):
    """What a site told for one hour: people in line at its start, check-ins in it, stations open then.

    `UNKNOWN` stands for what was left blank.
    """

    site: str
    date: dt.date
    at_min: int
    in_line: int = UNKNOWN
    check_ins: int = UNKNOWN
    stations: int = UNKNOWN


class StepSamples(Value, frozen=True, kw_only=True):
    """The samples of one station type at one site; `site` is blank where the file does not say."""

    station_type: str
    site: str
    samples: Samples
    first: dt.date | None = None
    last: dt.date | None = None


class FaultKind(enum.StrEnum):
    """What a clock or a list can do to timings."""

    SHIFTED = "clock off by an hour"
    OUTSIDE = "outside the hours"
    BATCH = "many at one time"
    BACK = "clock went back"
    MISSING = "hours missing"
    BAD_ROW = "row that cannot be"
    UNSORTED = "not in order of time"


class Answer(enum.StrEnum):
    """What a person says of a fault."""

    AS_READ = "as read"
    SHIFT = "shift"
    UNKNOWN = "unknown"
    LEAVE_OUT = "leave out"


class TimingFault(Value, frozen=True, kw_only=True):
    """A fault of clock or list, with the answers a person may give; nothing is mended without one.

    `site` and `station` as the file writes them; `from_min` to `to_min` is the part of the day it is about,
    `shift_min` what a shift would add. `rows` are rows of the file as people count them, the first ones.
    """

    key: str
    kind: FaultKind
    words: Message
    answers: tuple[Answer, ...]
    site: str = ""
    station: str = ""
    date: dt.date | None = None
    from_min: int = 0
    to_min: int = 0
    shift_min: int = 0
    rows: tuple[int, ...] = ()
    count: int = 0


class TimingsRead(Value, frozen=True, kw_only=True):
    """A file of timings after reading: what it was reduced to, and what a person should know.

    `refused` keep the whole file out; `faults` each want an answer; `remarks` want none. `used` are the
    headings with what each was taken for. `digest` is the file's SHA-256: no row is kept anywhere.
    """

    name: str
    digest: str
    kind: TimingKind
    rows: int = 0
    used: tuple[tuple[str, str], ...] = ()
    days: tuple[CheckInDay, ...] = ()
    gaps: tuple[GapQuantiles, ...] = ()
    lines: tuple[LineReading, ...] = ()
    steps: tuple[StepSamples, ...] = ()
    refused: tuple[Notice, ...] = ()
    faults: tuple[TimingFault, ...] = ()
    remarks: tuple[Notice, ...] = ()

    def places(self) -> tuple[str, ...]:
        """Every site that the file names, as it writes it, in order."""
        named = [
            *(one.site for one in self.days),
            *(one.site for one in self.lines),
            *(one.site for one in self.steps),
        ]
        return tuple(dict.fromkeys(named))
