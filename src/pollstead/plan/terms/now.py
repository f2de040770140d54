"""What the estimate of the wait now takes in and gives back: reports of a site's lines, moves, intervals."""

from __future__ import annotations

import enum

from pollstead.election.values import Value, require
from pollstead.plan.terms.lines import ArrivalDay, SitePath, Stage, StationCounts

MOST_IN_LINE = 5_000
"""More people than this are in no line of a site; a report that says so is refused where it is typed."""


class LineReport(Value, frozen=True, kw_only=True):
    """What somebody counted at a site at `at_ms` since the operating day began; None where nobody said.

    `in_line` are all in line at the site, `by_stage` those at check-in, marking and casting; neither counts
    who is being served. `check_ins` are those of the day so far. `open_stations` are stations in use for
    check-in, marking and casting. `wait_ms` is a wait that was timed or posted. `event` names the source.
    """

    at_ms: int
    in_line: int | None = None
    by_stage: tuple[int | None, int | None, int | None] = (None, None, None)
    check_ins: int | None = None
    open_stations: tuple[int | None, int | None, int | None] = (None, None, None)
    wait_ms: int | None = None
    event: str = ""

    @property
    def counts_a_line(self) -> bool:
        """Whether it says how many stand in line, or how long they wait; a counter alone does not."""
        return self.in_line is not None or self.by_stage[0] is not None or self.wait_ms is not None


class StationChange(Value, frozen=True, kw_only=True):
    """A station of a stage that stops (`by` -1) or comes back (1) at a moment of the day."""

    stage: Stage
    at_ms: int
    by: int

    def __post_init__(self) -> None:
        require(self.by in (-1, 1), f"by must be -1 or 1, got {self.by}")


class NowSite(Value, frozen=True, kw_only=True):
    """One site at a moment: its model as planned, and what was told so far.

    `counts` are the planned stations. `floor` is the least number of each that rules ask for, `most` what
    stands there (planned stations that are not out of service now), `changes` when stations went out of
    service or came back. `opened_ms` is when the doors opened (None:
    nobody said, the set hour is taken), `closed_ms` when the last voter was done. `doubt_ppm` is how far the
    day's voters may be from the plan beyond its draws, as a share of standard deviation.
    """

    site: str
    seed_key: str
    path: SitePath
    day: ArrivalDay
    counts: StationCounts
    floor: StationCounts
    most: StationCounts
    reports: tuple[LineReport, ...] = ()
    changes: tuple[StationChange, ...] = ()
    opened_ms: int | None = None
    closed_ms: int | None = None
    doubt_ppm: int = 100_000


class Travel(Value, frozen=True, kw_only=True):
    """Minutes on the way from one site (or ``office``) to another."""

    start: str
    end: str
    minutes: int

    def __post_init__(self) -> None:
        require(self.minutes >= 0, f"minutes must be >= 0, got {self.minutes}")


class NowGiven(Value, frozen=True, kw_only=True):
    """All sites at `now_ms` since the operating day began; a report older than `stale_ms` says nothing now.

    `set_up_ms` is what it takes to put a station to work where it stands. `spares` are station devices held
    back, by stage (general and accessible marking, check-in, casting in the order of `Stage`). `travel` are
    known ways; another way takes `usual_travel_ms`. A wait beyond `limit_ms` is one that moves are for.
    """

    sites: tuple[NowSite, ...]
    now_ms: int
    stale_ms: int
    limit_ms: int
    set_up_ms: int
    usual_travel_ms: int
    spares: tuple[int, int, int, int] = (0, 0, 0, 0)
    travel: tuple[Travel, ...] = ()


class Band(Value, frozen=True, kw_only=True):
    """The middle and the 80 % interval of an estimate; in the unit of what it estimates."""

    low: int
    middle: int
    high: int


class Known(enum.StrEnum):
    """Whether there is an estimate for now, and if not, why."""

    ESTIMATED = "estimated"
    NEVER_TOLD = "never told"
    STALE = "stale"
    NOT_OPEN = "not open yet"
    CLOSED = "closed"


class Point(Value, frozen=True, kw_only=True):
    """The line at a moment of the day; `wait_ms` only from now on."""

    at_ms: int
    in_line: Band
    wait_ms: Band | None = None


class LittleCheck(Value, frozen=True, kw_only=True):
    """Number in line over the check-ins of the last stretch: wait = line / throughput (Little 1961).

    `check_ins` came between `from_ms` and `at_ms`, when `in_line` were counted.
    """

    in_line: int
    check_ins: int
    from_ms: int
    at_ms: int

    @property
    def wait_ms(self) -> int:
        """The wait by Little's law, rounded to the millisecond."""
        return round(self.in_line * (self.at_ms - self.from_ms) / self.check_ins)


class WaitNow(Value, frozen=True, kw_only=True):
    """The estimate for one site. Bands are None unless `known` is ``estimated``.

    `age_ms` is how long ago a line was last counted there (None: never). `wait` is what somebody who joins
    now spends in all lines; `in_30`, `in_60` for those who join later; `longest` the longest wait of those
    in line now or still to come, from now on; `last_out` when the last voter is done. `binding` is the stage
    that makes most of the wait now. `odd_reports` are events of reports far from what was expected.
    `longest_others` is `longest` of those who need no accessible station. At the stages in `stopped` there
    can be a line and no station works: who stands there waits until one does, and no figure says how long.
    """

    site: str
    known: Known
    age_ms: int | None
    wait: Band | None = None
    in_line: Band | None = None
    in_30: Band | None = None
    in_60: Band | None = None
    longest: Band | None = None
    longest_others: Band | None = None
    stopped: tuple[Stage, ...] = ()
    last_out: Band | None = None
    binding: Stage | None = None
    open_stations: StationCounts | None = None
    points: tuple[Point, ...] = ()
    little: LittleCheck | None = None
    odd_reports: tuple[str, ...] = ()


class MoveKind(enum.StrEnum):
    """What can be done about a line."""

    OPEN_STATION = "open a station"
    MOVE_STEP = "move a worker to another step"
    SEND_SPARE = "send a spare"
    MOVE_WORKER = "move a worker from another site"


class Move(Value, frozen=True, kw_only=True):
    """One move and what it saves, in voter-minutes of all sites together, from now to the last voter.

    `giver` is the site (or stage of the same site, as `from_stage`) that has one station fewer, with
    `cost` in voter-minutes there. `after_min` is how long until the station works, `effort_min` the minutes
    of people's time. `saves_ppm` is the share of possible states in which it saves anything. `saved`, `cost`
    and the longest waits, in minutes, have the mean as their middle: a few bad days make most of the waiting.
    """

    site: str
    kind: MoveKind
    stage: Stage
    giver: str = ""
    from_stage: Stage | None = None
    after_min: int
    effort_min: int
    saved: Band
    saves_ppm: int
    cost: Band | None = None
    longest_before: Band
    longest_after: Band

    @property
    def per_minute(self) -> float:
        """Voter-minutes saved for a minute of effort; the order of the list."""
        return self.saved.middle / max(1, self.effort_min)


class NowAnswer(Value, frozen=True, kw_only=True):
    """Every site in the order given, and the moves, the most saved for a minute of effort first."""

    sites: tuple[WaitNow, ...]
    moves: tuple[Move, ...]
