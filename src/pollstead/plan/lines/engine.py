"""The fast engine: sixteen days of a site side by side, whole milliseconds, one thread a call.

It equals ``draws`` and ``reference`` to the millisecond; tests hold it to that. The days' voters are the same
for all candidates, so they are drawn once, and candidates in sorted order share the stages in which they do
not differ from the one before. Which days share a vector changes no number; days with about as many voters
share one, so that few lanes idle.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pollstead.plan.lines import kernel, kernel_draws, kernel_lines
from pollstead.plan.lines.beside import Absences, no_absences
from pollstead.plan.lines.kernel import (
    BINDING,
    COLUMNS,
    LAST_OUT,
    LEFT,
    LONGEST,
    OVER,
    SUM_ACCESSIBLE,
    SUM_CAST,
    SUM_CHECK_IN,
    SUM_CURBSIDE,
    SUM_MARK,
)
from pollstead.plan.lines.kernel_draws import (
    CHANCES,
    FACTS,
    KNOTS,
    LAW_JAM,
    LAW_OUT_CHECK_IN,
    LAWS,
    OUT,
    RATE_CAST,
    WORK_CAST,
    WORK_CHECK_IN,
    WORK_MARK,
)
from pollstead.plan.lines.kernel_lines import LANES
from pollstead.plan.lines.refused import LARGEST_KNOT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

__all__ = [
    "BINDING",
    "COLUMNS",
    "LAST_OUT",
    "LEFT",
    "LONGEST",
    "OVER",
    "SUM_ACCESSIBLE",
    "SUM_CAST",
    "SUM_CHECK_IN",
    "SUM_CURBSIDE",
    "SUM_MARK",
    "DrawnDays",
    "draw_days",
    "knots_fit",
    "pass_days",
    "simulate_days",
    "trace_days",
]

MOST_ROWS = 1 << 21
"""Voters of a day, at most."""

PACKED_KNOT = (1 << 32) - 1
"""A law all of whose knots are below this, 4 h 39 min, is drawn the fast way."""


def knots_fit(tables: Ints) -> bool:
    """Whether all knots of law tables are small enough to be drawn here."""
    return bool(tables.min() >= 0 and tables.max() <= LARGEST_KNOT)


def _packed(tables: Ints) -> Ints:
    """Knots with the step to the next in the high half: int64, flat; each table's last has no step.

    Where a knot is beyond `PACKED_KNOT` the packed table is not used.
    """
    steps = np.zeros_like(tables)
    # Where a part of the table ends and the next begins the step may be negative; it is never drawn.
    steps[:, :-1] = np.maximum(np.diff(tables, axis=1), 0)
    packed: Ints = (steps.view(np.uint64) << np.uint64(32) | tables.view(np.uint64)).view(np.int64)
    return packed.reshape(-1)


class DrawnDays:
    """The voters of some days, drawn: when they come and how long they take, the same for all candidates.

    `totals`: int64, shape (days,). Days stand in groups of ``LANES``; `lane_days`: int64, flat, the day of
    each lane or -1; `lane_totals` its voters; `rows` the most of a group. `door`, `check_in`, `mark` (int32)
    and `ends` (int64): flat, see ``kernel_draws``; `facts`: int64, flat, (group, fact, lane). `out` (int32):
    how long the station is out after each step of each voter, or a single number where nothing fails.
    `longest_ms`: no service takes longer; `longest_out_ms`: no station is out for longer.
    """

    __slots__ = (
        "begins",
        "check_in",
        "closes_ms",
        "door",
        "ends",
        "facts",
        "lane_days",
        "lane_totals",
        "longest_ms",
        "longest_out_ms",
        "mark",
        "out",
        "rows",
        "totals",
    )

    def __init__(self, totals: Ints, closes_ms: int, longest_ms: int, longest_out_ms: int) -> None:
        self.totals = totals
        self.closes_ms = closes_ms
        self.longest_ms, self.longest_out_ms = longest_ms, longest_out_ms
        groups = -(-len(totals) // LANES)
        self.lane_days = np.full(groups * LANES, -1, np.int64)
        self.lane_days[: len(totals)] = np.argsort(-totals, kind="stable")
        self.lane_totals = np.where(self.lane_days < 0, 0, totals[self.lane_days])
        self.rows = self.lane_totals.reshape(groups, LANES).max(axis=1)
        self.begins = np.cumsum(self.rows + 1) - (self.rows + 1)
        room = int((self.rows + 1).sum()) * LANES
        self.door, self.check_in, self.mark = (np.empty(room, np.int32) for _ in range(3))
        self.ends = np.empty(room, np.int64)
        self.out = np.empty(3 * room if longest_out_ms > 0 else 1, np.int32)
        self.facts = np.zeros(groups * FACTS * LANES, np.int64)

    @property
    def size(self) -> int:
        """Bytes that the drawn days take."""
        return self.door.nbytes * 3 + self.ends.nbytes + self.out.nbytes

    def latest_ms(self, opens_ms: int, counts: Ints, absences: Absences | None = None) -> int:
        """No voter inside is done, and no station is back, later than this with so many stations, in ms.

        From the last arrival at a line on until the last of it is taken, no station is idle: it serves, is
        out or is away. So the line is through by its last arrival, plus all that over its stations, plus one
        service. A station can be back later than that by one repair or absence.
        """
        facts = self.facts.reshape(-1, FACTS, LANES).max(axis=(0, 2))
        latest = max(opens_ms, self.closes_ms)
        # Marking is two lines that share the work: the sum of both bounds holds for each.
        for work, step, stage in (
            (WORK_CHECK_IN, 0, 0),
            (WORK_MARK, 1, 1),
            (WORK_MARK, 1, 2),
            (WORK_CAST, 2, 3),
        ):
            least = int(counts[:, stage].min())
            latest += self.longest_ms
            if least > 0:
                away, longest = (0, 0) if absences is None else absences.lengths_ms(stage)
                busy = int(facts[work]) + int(facts[OUT + step]) + away
                latest += busy // least + 1 + self.longest_out_ms + longest
        return latest if absences is None else max(latest, absences.latest_until_ms())

    def has_room(self, opens_ms: int, counts: Ints, absences: Absences | None = None) -> bool:
        """Whether every moment of the days has room in a key, beside the voter's number.

        With 16,000 voters a day there is room for years, with 1,000,000 for twelve days.
        """
        if len(self.rows) == 0:
            return True
        bits = kernel_lines.TIME_BITS - kernel_lines.FLAG_BITS - (int(self.rows.max()) + 1).bit_length()
        return self.latest_ms(opens_ms, counts, absences) < (1 << bits) - 1


def draw_days(
    key: int,
    first_day: int,
    totals: Ints,
    waiting: Ints,
    edges: Ints,
    cumulative: Ints,
    tables: Ints,
    threshold: int,
    chances: Ints | None = None,
) -> DrawnDays:
    """Draw the voters of days `first_day` on; arguments as in `simulate_days`. Releases the lock.

    `tables` and `chances` as ``beside`` makes them; without chances the tables of gaps and steps are enough.

    Raises ValueError for days and laws beyond the engine's limits.
    """
    # Copies are writable: a read-only array would make numba compile everything a second time.
    totals, waiting, edges, cumulative, tables = (
        np.array(a, np.int64) for a in (totals, waiting, edges, cumulative, tables)
    )
    if len(totals) > 0 and not 0 <= int(totals.min()) <= int(totals.max()) < MOST_ROWS:
        raise ValueError(
            f"a day must have 0 to {MOST_ROWS - 1:,} voters, got {totals.min()} to {totals.max()}"
        )
    wanted = 5 if chances is None else LAWS
    if not knots_fit(tables) or tables.shape != (wanted, KNOTS):
        raise ValueError(
            f"knots must be 0 to {LARGEST_KNOT:,}, shape ({wanted}, {KNOTS}), got {tables.shape}"
        )
    chances = np.zeros(CHANCES, np.int64) if chances is None else np.array(chances, np.int64)
    longest_ms = (int(tables[1:5].max()) >> 8) + 1
    longest_out_ms = 0
    if chances.any():
        longest_ms += (int(tables[LAW_JAM].max()) >> 8) + 1
    if chances[: RATE_CAST + 1].any():
        longest_out_ms = (int(tables[LAW_OUT_CHECK_IN:].max()) >> 8) + 1
    drawn = DrawnDays(totals, int(edges[-1]), longest_ms, longest_out_ms)
    lanes = drawn.lane_days
    most = tables[:5].max(axis=1)
    kinds = np.where(most > PACKED_KNOT, kernel_draws.LONG, np.where(most > 0, kernel_draws.FITS, 0))
    lane_waiting = np.where(lanes < 0, 0, waiting[lanes])
    signed = int(np.uint64(key).view(np.int64))
    kernel_draws.draw(
        signed, first_day + lanes, drawn.rows, drawn.begins, drawn.lane_totals, lane_waiting, edges,
        cumulative,
        _packed(tables[:5]), tables.reshape(-1), kinds, threshold, chances, drawn.door, drawn.check_in,
        drawn.mark, drawn.ends, drawn.out, drawn.facts,
        np.empty((int(drawn.rows.max(initial=0)) + 2) * LANES, np.int64), np.empty(LANES, np.float64),
        np.empty(kernel_draws.SLOTS * LANES, np.int64),
    )  # fmt: skip
    return drawn


def pass_days(
    drawn: DrawnDays,
    opens_ms: int,
    candidates: Ints,
    limit_ms: int,
    trace_voters: int = 0,
    absences: Absences | None = None,
    curb_stations: int = 1,
) -> tuple[Ints, Ints]:
    """Send the voters of drawn days through the stations of each row of `candidates`.

    The doors open at `opens_ms`. Returns what `simulate_days` does. Releases the interpreter lock.
    Raises ValueError where `DrawnDays.has_room` says no.
    """
    candidates = np.array(candidates, np.int64).reshape(-1, 4)
    told = np.zeros((len(candidates), len(drawn.totals), COLUMNS), np.int64)
    if told.size == 0:
        return told, np.zeros((TRACED, trace_voters), np.int64)
    keys = _passed(drawn, opens_ms, candidates, limit_ms, absences, curb_stations, told, trace_voters > 0)
    return told, _voters_of(drawn, keys, 0, trace_voters)


def trace_days(
    drawn: DrawnDays,
    opens_ms: int,
    counts: Ints,
    limit_ms: int,
    absences: Absences | None = None,
    curb_stations: int = 1,
) -> list[Ints]:
    """The voters of each of up to ``LANES`` drawn days with one set of numbers, as `simulate_days` has them.

    Raises ValueError for more days, and where `DrawnDays.has_room` says no.
    """
    if len(drawn.rows) > 1:
        raise ValueError(f"1 to {LANES} days can be traced at once, got {len(drawn.totals)}")
    told = np.zeros((1, len(drawn.totals), COLUMNS), np.int64)
    if told.size == 0:
        return []
    keys = _passed(drawn, opens_ms, counts.reshape(1, 4), limit_ms, absences, curb_stations, told, True)
    lanes = np.argsort(drawn.lane_days[: len(drawn.totals)])
    return [
        _voters_of(drawn, keys, lane, voters)
        for lane, voters in zip(lanes.tolist(), drawn.totals.tolist(), strict=True)
    ]


def _passed(
    drawn: DrawnDays,
    opens_ms: int,
    candidates: Ints,
    limit_ms: int,
    absences: Absences | None,
    curb_stations: int,
    told: Ints,
    traced: bool,
) -> Ints:
    """Fill `told`; the keys of the last group and candidate, four of each voter, where they are `traced`."""
    if not drawn.has_room(opens_ms, candidates, absences):
        raise ValueError(
            f"a day may take until {drawn.latest_ms(opens_ms, candidates, absences):,} ms, too long for a key"
        )
    away = no_absences(len(candidates)) if absences is None else absences
    keys = np.zeros((4 if traced else 0, int(drawn.rows[-1]) * LANES if traced else 0), np.int64)
    keys[:3] = (1 << kernel_lines.TIME_BITS) | (int(drawn.rows[-1]) << kernel_lines.FLAG_BITS)
    lines, small = kernel.room(drawn.rows, drawn.facts, candidates, away.spans)
    # Copies are writable and whole, see `draw_days`.
    kernel.pass_through(
        drawn.lane_days, drawn.rows, drawn.begins, drawn.lane_totals, drawn.door, drawn.check_in, drawn.mark,
        drawn.ends, drawn.out, drawn.facts, opens_ms, drawn.closes_ms, candidates.copy(), away.rows.copy(),
        away.spans.copy(), curb_stations, limit_ms, told, keys,
        lines, (*small, np.empty(curb_stations * LANES, np.int64)),
        np.zeros(int(drawn.rows.max()) * LANES, np.int64),
    )  # fmt: skip
    return keys


TRACED = 7
"""Told of each voter: see `simulate_days`."""


def _voters_of(drawn: DrawnDays, keys: Ints, lane: int, most: int) -> Ints:
    """Each voter of one lane of the last group, from the keys with which voters left each step."""
    trace = np.zeros((TRACED, most), np.int64)
    n = min(most, int(drawn.lane_totals[lane - LANES])) if most > 0 else 0
    if n == 0:
        return trace
    spots = (int(drawn.begins[-1]) + np.arange(n)) * LANES + lane
    shift = kernel_lines.FLAG_BITS + (int(drawn.rows[-1]) + 1).bit_length()
    done = np.zeros((3, int(drawn.rows[-1]) + 1), np.int64)
    for step in range(3):
        mine = keys[step, lane::LANES]
        voter = (mine & ((1 << shift) - 1)) >> kernel_lines.FLAG_BITS
        done[step, voter] = (mine ^ (1 << kernel_lines.TIME_BITS)) >> shift
    marking, first = drawn.mark[spots].astype(np.int64), drawn.check_in[spots].astype(np.int64)
    curb = first < 0
    done = done[:, :n]
    trace[0, :n] = drawn.door[spots]
    trace[4, :n] = np.where(marking & 1, -1 - (marking >> 1), marking >> 1)
    trace[5, :n] = np.where(curb, -1 - first, first)
    trace[6, :n] = curb
    trace[1, :n] = np.where(curb, keys[3, lane::LANES][:n], done[0] - first - trace[0, :n])
    trace[2, :n] = np.where(curb, 0, done[1] - done[0] - (marking >> 1))
    trace[3, :n] = np.where(curb, 0, done[2] - done[1] - (drawn.ends[spots] & 0xFFFFFFFF))
    return trace


def simulate_days(
    key: int,
    first_day: int,
    totals: Ints,
    waiting: Ints,
    opens_ms: int,
    edges: Ints,
    cumulative: Ints,
    tables: Ints,
    threshold: int,
    candidates: Ints,
    limit_ms: int,
    trace_voters: int = 0,
    chances: Ints | None = None,
    absences: Absences | None = None,
    curb_stations: int = 1,
) -> tuple[Ints, Ints]:
    """Simulate days `first_day` on for each row of `candidates`.

    `candidates`: int64, shape (candidates, 4), stations in the order of ``Stage``, 0: always room.
    `totals`, `waiting`: int64, shape (days,); `edges`, `cumulative`: int64, shape (slots + 1,), see
    ``draws``; `tables`: int64, gap and service laws, with `chances` also the others: see ``beside``. Returns
    the days' rows, int64 of shape (candidates, days, COLUMNS), and, for tests, the voters of one day (with a
    single day: of it) and the last candidate, int64 of shape (TRACED, trace_voters): arrival, wait at
    check-in or the curb, marking, casting, marking time (-1 - time: accessible), check-in time or the whole
    time at the curb, 1 for a voter at the curb.
    """
    drawn = draw_days(key, first_day, totals, waiting, edges, cumulative, tables, threshold, chances)
    return pass_days(drawn, opens_ms, candidates, limit_ms, trace_voters, absences, curb_stations)
