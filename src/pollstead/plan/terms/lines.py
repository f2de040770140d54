"""What sizing takes in and gives back: the voter path, the day, the limit, the numbers of stations."""

from __future__ import annotations

import datetime as dt
import enum
from typing import TYPE_CHECKING, Any

from pollstead.election.values import Value, require, require_unique

if TYPE_CHECKING:
    import numpy as np

SLOT_MS = 15 * 60 * 1000
MOST_VOTERS = 1_000_000
"""A site-day of more voters than this is refused: the arithmetic of the draws is exact up to here."""

WHOLE_PPM = 1_000_000
HOUR_MS = 3_600_000
MOST_DAY_MS = 48 * HOUR_MS

LINES_PAST_CLOSE = 16
"""Quarter hours past closing at which lines are still counted."""


class LawKind(enum.StrEnum):
    """The shape of a law of times; the last two serve comparison with closed formulas too."""

    LOGNORMAL = "lognormal"
    GAMMA = "gamma"
    EMPIRICAL = "empirical"
    EXPONENTIAL = "exponential"
    DETERMINISTIC = "deterministic"


MOST_QUANTILES = 257


class ServiceLaw(Value, frozen=True, kw_only=True):
    """How long something takes (a voter at a station, a repair): mean in ms, spread as deviation over mean.

    `cv_ppm` counts for the lognormal and gamma laws; an exponential law has 1,000,000, a deterministic one 0.
    `quantiles_ms` is the shape of an empirical law: times at equal steps of chance, from the least to the
    greatest, straight lines between them, stretched so that the mean is `mean_ms`.
    """

    kind: LawKind = LawKind.LOGNORMAL
    mean_ms: int
    cv_ppm: int = 0
    quantiles_ms: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        require(1 <= self.mean_ms <= 14_400_000, f"mean_ms must be 1 to 14,400,000, got {self.mean_ms}")
        require(0 <= self.cv_ppm <= 3_000_000, f"cv_ppm must be 0 to 3,000,000, got {self.cv_ppm}")
        knots = self.quantiles_ms
        if self.kind is not LawKind.EMPIRICAL:
            require(not knots, f"quantiles_ms belong to an empirical law, not to a {self.kind.value} one")
            return
        require(2 <= len(knots) <= MOST_QUANTILES, f"an empirical law needs 2 to 257 times, got {len(knots)}")
        require(list(knots) == sorted(knots), "quantiles_ms must go from the least to the greatest")
        require(knots[0] >= 0 and knots[-1] >= 1, "quantiles_ms must be >= 0 and not all 0")


class Stage(enum.StrEnum):
    """The places where a voter may stand in line, in the order of the path; the curb is apart from it."""

    CHECK_IN = "check-in"
    MARK = "mark"
    MARK_ACCESSIBLE = "mark, accessible"
    CAST = "cast"
    CURBSIDE = "curbside"


SIZED = (Stage.CHECK_IN, Stage.MARK, Stage.MARK_ACCESSIBLE, Stage.CAST)
"""The stages inside, whose numbers of stations are sized."""


class StationCounts(Value, frozen=True, kw_only=True):
    """Stations of each stage; 0 means that nobody ever stands in line there."""

    check_in: int
    mark: int
    mark_accessible: int
    cast: int

    def __post_init__(self) -> None:
        for stage, count in zip(SIZED, self.by_stage(), strict=True):
            require(0 <= count <= 500, f"stations of stage {stage.value} must be 0 to 500, got {count}")

    def by_stage(self) -> tuple[int, int, int, int]:
        """The counts in the order of `SIZED`."""
        return (self.check_in, self.mark, self.mark_accessible, self.cast)


NO_STATIONS = StationCounts(check_in=0, mark=0, mark_accessible=0, cast=0)
COST_ONE_EACH = (1, 1, 1, 1)


class StationChoice(Value, frozen=True, kw_only=True):
    """A number for some of the stages, None for the others: a ceiling, or what a person has fixed."""

    check_in: int | None = None
    mark: int | None = None
    mark_accessible: int | None = None
    cast: int | None = None

    def __post_init__(self) -> None:
        for stage, count in zip(SIZED, self.by_stage(), strict=True):
            require(count is None or 1 <= count <= 500, f"{stage.value} must be 1 to 500, got {count}")

    def by_stage(self) -> tuple[int | None, int | None, int | None, int | None]:
        """The numbers in the order of `SIZED`."""
        return (self.check_in, self.mark, self.mark_accessible, self.cast)


class Failures(Value, frozen=True, kw_only=True):
    """How often a station fails, and for how long it is then out of service.

    At the end of a service the station fails with chance 1 - exp(-service / `mean_use_ms`); the voter goes
    on, the station is back after a time of the law `repair`.
    """

    mean_use_ms: int
    repair: ServiceLaw

    def __post_init__(self) -> None:
        require(
            3_600_000 <= self.mean_use_ms <= 36_000_000_000,
            f"mean_use_ms must be 1 h to 10,000 h of use, got {self.mean_use_ms} ms",
        )


class StageWork(Value, frozen=True, kw_only=True):
    """One step of the voter path: its service law, whether voters can stand in line for it, its failures.

    Not `limited`: the step takes its time but there is always room (as at a ballot box, or where a voter
    may mark at any table); then nothing fails.
    """

    law: ServiceLaw
    limited: bool = True
    failures: Failures | None = None


class Jams(Value, frozen=True, kw_only=True):
    """Ballots that jam while being cast: with this chance casting takes `time` longer.

    The voter and the station both wait for it.
    """

    chance_ppm: int
    time: ServiceLaw

    def __post_init__(self) -> None:
        require(
            0 <= self.chance_ppm <= WHOLE_PPM, f"chance_ppm must be 0 to 1,000,000, got {self.chance_ppm}"
        )


class Curbside(Value, frozen=True, kw_only=True):
    """Voters served at the curb: their share, how many can be served at once, how long one takes in all.

    First come, first served, apart from the lines inside.
    """

    share_ppm: int
    stations: int = 1
    law: ServiceLaw

    def __post_init__(self) -> None:
        require(0 <= self.share_ppm <= WHOLE_PPM, f"share_ppm must be 0 to 1,000,000, got {self.share_ppm}")
        require(1 <= self.stations <= 500, f"curbside stations must be 1 to 500, got {self.stations}")


class SitePath(Value, frozen=True, kw_only=True):
    """The steps of a voter of one site; a step that is not there is None.

    Where marking and casting are one (electronic recording), `cast` is None. `accessible` is marking at
    an accessible voting station, for `accessible_share_ppm` of the voters; those stations serve only them,
    unless `accessible_open`: then one that is idle, and that nobody who needs it waits for, serves the next
    voter of the other line.

    `patience` is how long a voter stays in line for check-in before leaving unserved; None: nobody leaves.
    """

    check_in: StageWork
    mark: StageWork | None = None
    accessible: StageWork | None = None
    accessible_share_ppm: int = 0
    cast: StageWork | None = None
    jams: Jams | None = None
    curbside: Curbside | None = None
    accessible_open: bool = False
    patience: ServiceLaw | None = None

    def __post_init__(self) -> None:
        share = self.accessible_share_ppm
        require(0 <= share <= WHOLE_PPM, f"accessible_share_ppm must be 0 to 1,000,000, got {share}")
        require(self.jams is None or self.cast is not None, "the path has jams but no casting")
        require(
            not self.accessible_open or (self.limited()[1] and self.limited()[2]),
            "accessible stations open to all need voting stations of both kinds, both with a line",
        )
        curb = 0 if self.curbside is None else self.curbside.share_ppm
        require(
            share + curb <= WHOLE_PPM,
            f"accessible and curbside shares must be at most 1,000,000 together, got {share + curb}",
        )
        require(
            self.accessible is not None or share == 0,
            f"accessible_share_ppm is {share} but the path has no accessible voting station",
        )

    def works(self) -> tuple[StageWork | None, StageWork | None, StageWork | None, StageWork | None]:
        """The steps in the order of `SIZED`."""
        return (self.check_in, self.mark, self.accessible, self.cast)

    def limited(self) -> tuple[bool, bool, bool, bool]:
        """Whether there can be a line, in the order of `SIZED`."""
        a, b, c, d = (work is not None and work.limited for work in self.works())
        return (a, b, c, d)


class Absence(Value, frozen=True, kw_only=True):
    """One station of a stage takes no voter for a while: a break, a shift that begins late or ends early.

    It takes the first station of the stage that is free at or after `from_ms`, before any voter in line (at
    equal moments the absence first), and holds it until start + `lasts_ms` or `until_ms`, whichever is later.
    It is there only where the stage has more than `only_above` stations.
    """

    stage: Stage
    from_ms: int
    until_ms: int = 0
    lasts_ms: int = 0
    only_above: int = 0

    def __post_init__(self) -> None:
        require(self.from_ms >= 0, f"from_ms must be >= 0, got {self.from_ms}")
        require(0 <= self.lasts_ms <= MOST_DAY_MS, f"lasts_ms must be 0 to 48 h, got {self.lasts_ms}")
        require(self.until_ms <= MOST_DAY_MS, f"until_ms must be at most 48 h, got {self.until_ms}")
        require(
            self.lasts_ms > 0 or self.until_ms > self.from_ms,
            f"an absence must last: lasts_ms {self.lasts_ms}, from {self.from_ms} until {self.until_ms}",
        )


class Breaks(Value, frozen=True, kw_only=True):
    """Each station of a stage is away once for `lasts_ms`, one after the other between two moments.

    With c stations the breaks fall due at `from_ms` + k / c of the time until `until_ms` - `lasts_ms`.
    """

    stage: Stage
    lasts_ms: int
    from_ms: int
    until_ms: int

    def __post_init__(self) -> None:
        require(self.lasts_ms >= 1, f"a break must last, got {self.lasts_ms} ms")
        require(
            self.from_ms >= 0 and self.from_ms + self.lasts_ms <= self.until_ms <= MOST_DAY_MS,
            f"a break of {self.lasts_ms} ms must fit between {self.from_ms} and {self.until_ms} ms",
        )

    def absences(self, stations: int) -> tuple[Absence, ...]:
        """The breaks of so many stations, in order of time."""
        room = self.until_ms - self.lasts_ms - self.from_ms
        return tuple(
            Absence(stage=self.stage, from_ms=self.from_ms + room * k // stations, lasts_ms=self.lasts_ms)
            for k in range(stations)
        )


class ArrivalDay(Value, frozen=True, kw_only=True):
    """When voters come on one site-day, in milliseconds since the operating day began.

    `slot_weights`: int64, shape (slots,), weights >= 0 of the quarter hours from opening; a last slot may be
    shorter; weights past closing are 0. `totals`: int64, shape (draws,), voters of the day in each demand
    draw. `opening_line_share_ppm` of them stand in line when the doors are set to open. `breaks` and
    `absences` say when stations take no voter.
    """

    date: dt.date
    open_ms: int
    close_ms: int
    slot_weights: np.ndarray[Any, Any]
    totals: np.ndarray[Any, Any]
    opening_line_share_ppm: int = 0
    breaks: tuple[Breaks, ...] = ()
    absences: tuple[Absence, ...] = ()

    def __post_init__(self) -> None:
        require(
            0 <= self.open_ms < self.close_ms <= MOST_DAY_MS,
            f"opening must come before closing, within 48 h, got {self.open_ms} and {self.close_ms} ms",
        )
        for name, array in (("slot_weights", self.slot_weights), ("totals", self.totals)):
            require(not array.flags.writeable, f"{name} must be read-only, see frozen_array")
            require(array.ndim == 1 and array.dtype == "int64", f"{name} must be int64, shape (n,)")
            require(len(array) > 0, f"{name} must not be empty")
            require(int(array.min()) >= 0, f"{name} must be >= 0, got {int(array.min())}")
        slots = self.slots
        require(len(self.slot_weights) >= slots, f"slot_weights must cover {slots} slots")
        require(int(self.slot_weights[:slots].sum()) > 0, "slot_weights must have a sum > 0")
        require(int(self.slot_weights.max()) < 1 << 40, "slot_weights must be below 2**40")
        require(int(self.slot_weights[slots:].sum()) == 0, "slot_weights past closing must be 0")
        most = int(self.totals.max())
        require(most <= MOST_VOTERS, f"totals must be at most {MOST_VOTERS:,} voters a day, got {most:,}")
        share = self.opening_line_share_ppm
        require(0 <= share <= WHOLE_PPM, f"opening_line_share_ppm must be 0 to 1,000,000, got {share}")

    @property
    def slots(self) -> int:
        """Quarter hours between opening and closing, a part counted as one."""
        return -(-(self.close_ms - self.open_ms) // SLOT_MS)

    @property
    def hours(self) -> int:
        """Hours between opening and closing, counted from opening, a part counted as one."""
        return -(-(self.close_ms - self.open_ms) // HOUR_MS)

    def moments_ms(self) -> tuple[int, ...]:
        """When lines are counted: each quarter hour from opening on, `LINES_PAST_CLOSE` past closing."""
        return tuple(self.open_ms + k * SLOT_MS for k in range(self.slots + LINES_PAST_CLOSE + 1))

    def absences_of(self, counts: tuple[int, int, int, int]) -> tuple[tuple[Absence, ...], ...]:
        """For each stage of `SIZED` its absences with so many stations, in the order in which they fall due.

        Of two that fall due together the one given first goes first, breaks before other absences. A stage
        without stations (always room) has none.
        """
        return tuple(
            tuple(
                sorted(
                    (
                        *(a for b in self.breaks if b.stage is stage for a in b.absences(count)),
                        *(a for a in self.absences if a.stage is stage and count > a.only_above),
                    ),
                    key=lambda absence: absence.from_ms,
                )
            )
            if count > 0
            else ()
            for stage, count in zip(SIZED, counts, strict=True)
        )


class WaitLimit(Value, frozen=True, kw_only=True):
    """The longest wait that a voter should have, and the chance accepted that a day's longest passes it.

    A wait is a voter's time in all lines together, service excluded, from arrival or the set opening hour,
    whichever is later.
    """

    limit_ms: int
    risk_ppm: int

    def __post_init__(self) -> None:
        require(self.limit_ms >= 0, f"limit_ms must be >= 0, got {self.limit_ms}")
        require(0 <= self.risk_ppm < WHOLE_PPM, f"risk_ppm must be 0 to 999,999, got {self.risk_ppm}")


class SiteLines(Value, frozen=True, kw_only=True):
    """What sizing needs to know of one site.

    `floor` are the least numbers that rules ask for, `ceiling` the most that the room or the fleet allows,
    `fixed` what a person has set (it wins over both). `costs` of one station, in the order of `SIZED`.
    `long_ballot_percent`: marking and casting of a long ballot, of their usual time; 100: nobody asks.
    """

    site: str
    seed_key: str
    path: SitePath
    days: tuple[ArrivalDay, ...]
    limit: WaitLimit
    floor: StationCounts = NO_STATIONS
    ceiling: StationChoice = StationChoice()
    fixed: StationChoice = StationChoice()
    costs: tuple[int, int, int, int] = COST_ONE_EACH
    long_ballot_percent: int = 100

    def __post_init__(self) -> None:
        require(len(self.days) > 0, f"{self.site}: sizing needs at least one day")
        require_unique(tuple(day.date.isoformat() for day in self.days), f"{self.site}: dates of days")
        percent = self.long_ballot_percent
        require(100 <= percent <= 500, f"{self.site}: long_ballot_percent must be 100 to 500, got {percent}")
        require(min(self.costs) >= 0, f"{self.site}: costs must be >= 0, got {self.costs}")


class LinesGiven(Value, frozen=True, kw_only=True):
    """The sites to be sized."""

    sites: tuple[SiteLines, ...]


class RiskEstimate(Value, frozen=True, kw_only=True):
    """Days on which the longest wait passed the limit, of all days simulated, with its 95 % interval."""

    over: int
    days: int
    low_ppm: int
    high_ppm: int

    @property
    def risk_ppm(self) -> int:
        """The share of days over the limit, rounded to the nearest part per million."""
        return (self.over * WHOLE_PPM * 2 + self.days) // (2 * self.days)

    def meets(self, risk_ppm: int) -> bool:
        """Whether the share of days over the limit is at most `risk_ppm`; exact."""
        return self.over * WHOLE_PPM <= risk_ppm * self.days

    def decides(self, risk_ppm: int) -> bool:
        """Whether the interval lies on one side of `risk_ppm`: more days would hardly change the answer."""
        return not self.low_ppm <= risk_ppm < self.high_ppm


class WaitFigures(Value, frozen=True, kw_only=True):
    """What the simulation says of one site-day with one set of numbers; times in milliseconds.

    The percentiles are of the day's longest wait over the days (nearest rank). `over_limit_ppm` is the
    share of voters who wait longer than the limit. `last_out_ms` is the median of when the last voter is
    done, since the operating day began. `mean_by_stage_ms` follows `SIZED`; it and `mean_curbside_ms` are
    spread over all voters, so that they add up to the mean wait. `left_ppm` is the share of voters who leave
    the line. `binding` is the stage that makes most of the longest wait on most days; None where nobody
    waits. `waits_ms` are all voters' waits of all days together.
    """

    counts: StationCounts
    risk: RiskEstimate
    mean_wait_ms: int
    mean_by_stage_ms: tuple[int, int, int, int]
    mean_curbside_ms: int = 0
    p50_longest_ms: int
    p90_longest_ms: int
    p95_longest_ms: int
    over_limit_ppm: int
    left_ppm: int = 0
    last_out_ms: int
    binding: Stage | None
    waits_ms: int = 0

    @property
    def voter_minutes_a_day(self) -> int:
        """Waiting of all voters of a day together, in minutes, the mean of the days, rounded to nearest."""
        each = 60_000 * self.risk.days
        return (2 * self.waits_ms + each) // (2 * each)


class HourFigures(Value, frozen=True, kw_only=True):
    """What the days say of the voters who come in one hour, counted from the set opening hour.

    `from_ms` since the operating day began; a wait counts to the hour of arrival (of opening, for the line
    at the door). `voters` of all days together; `over_limit_ppm` is the share of them who wait longer than
    the limit. The percentiles are of the hour's longest wait over the days (nearest rank).
    """

    from_ms: int
    voters: int
    over_limit_ppm: int
    p50_longest_ms: int
    p90_longest_ms: int


class LineFigures(Value, frozen=True, kw_only=True):
    """Mean number of voters in line at one moment over the days, in thousandths, in the order of `Stage`."""

    at_ms: int
    in_line_milli: tuple[int, int, int, int, int]


class ByHour(Value, frozen=True, kw_only=True):
    """A day told by hour of arrival, and its lines at each quarter hour."""

    days: int
    hours: tuple[HourFigures, ...]
    lines: tuple[LineFigures, ...]


class Change(enum.StrEnum):
    """The kinds of what-if."""

    ONE_MORE = "one more"
    ONE_FEWER = "one fewer"
    ONE_DOWN = "one out of service all day"
    LATE = "doors open 60 minutes late"
    TURNOUT = "20 % more voters"
    LONG_BALLOT = "a long ballot"


class LineWhatIf(Value, frozen=True, kw_only=True):
    """One change, the stage that it concerns, and what the same days then look like.

    `percent`: how much longer a long ballot takes.

    Its words: `pollstead.plan.lines.words.change_words`.
    """

    change: Change
    stage: Stage | None = None
    figures: WaitFigures
    percent: int | None = None


class SizingAnswer(Value, frozen=True, kw_only=True):
    """The least-cost numbers found for one site, with what supports them.

    `date` is the worst day, to which `figures` belong; `per_day` has all days in the order given. The
    figures come from fresh days, which the search never saw: as many as `search_days`, or more where that
    many left the accepted risk inside the interval; `undecided` says that it still is, on one of the days.
    `compared` are the plan's own figures on the days of the what-ifs, the first `search_days` of the fresh
    ones; `hours` are of the first `hour_days` of them. `refused` says why days were told event by event, in
    words, empty where they were not; `fast_ppm` is the share of simulated days that were not; `distrusted`
    that the compiled engine failed its test here.
    `meets_limit` is on every day. `least` says that no single station can be taken away by the same rule of
    acceptance (`what_ifs` shows each). `complete` is False when the search ended at its bound of work:
    cheaper numbers may exist.
    """

    site: str
    date: dt.date
    counts: StationCounts
    limit: WaitLimit
    figures: WaitFigures
    per_day: tuple[WaitFigures, ...]
    what_ifs: tuple[LineWhatIf, ...]
    floor: StationCounts
    ceiling: StationChoice
    fixed: StationChoice
    meets_limit: bool
    least: bool
    search_days: int
    complete: bool
    undecided: bool = False
    compared: WaitFigures | None = None
    refused: str = ""
    fast_ppm: int = WHOLE_PPM
    distrusted: bool = False
    hours: tuple[HourFigures, ...] = ()
    hour_days: int = 0
