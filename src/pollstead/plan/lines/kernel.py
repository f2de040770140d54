"""Sixteen days of one site go through its lines side by side: event-exact, whole milliseconds.

What a line is stands in ``kernel_lines``, the steps in ``kernel_stages``; here the groups of days and the
candidates go through them. What is rare or differs from lane to lane (the curb, which stage binds) is plain
code, lane by lane.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pollstead.plan.lines import vectors as v
from pollstead.plan.lines.kernel_draws import AT_CURB, FACTS, FAILED, SPECIAL
from pollstead.plan.lines.kernel_lines import AWAY, FLAG_BITS, LANES, LEADING, TIME_BITS, set_out
from pollstead.plan.lines.kernel_stages import casting, check_in, marking

if TYPE_CHECKING:
    Array = Any

LONGEST, OVER, LAST_OUT, SUM_CHECK_IN, SUM_MARK, SUM_ACCESSIBLE, SUM_CAST, BINDING = range(8)
SUM_CURBSIDE, LEFT = 8, 9
COLUMNS = 10
"""Kept of a day: longest wait, voters over the limit, last voter done, waits by stage, stage that binds.

Also waits at the curb, and voters who left the line, which this engine does not do: 0.
"""

CURB_SUM, CURB_LONGEST, CURB_WHO, CURB_OVER, CURB_LAST = range(5)
CURB = 5


@v.inner
def _curb(
    door: Array, takes: Array, at: int, rows: int, stations: int, opens_ms: int,
    limit_ms: int, free: Array,
    waits: Array, told: Array,
) -> None:  # fmt: skip
    """Voters at the curb, lane by lane: `waits` of each (row, lane), and into `told` what `_told` needs.

    `free` holds the moments at which the stations are free, in order (station, lane). Few rows have a voter
    at the curb, so the others are gone past together.
    """
    for k in range(stations * LANES):
        free[k] = opens_ms
    for k in range(CURB * LANES):
        told[k] = 0
    for i in range(rows):
        if not v.somewhere(v.less(v.load_narrow(takes, (at + i) * LANES), v.all_of(0))):
            continue
        for lane in range(LANES):
            whole = -1 - np.int64(takes[(at + i) * LANES + lane])
            if whole < 0:
                continue
            arrives = np.int64(door[(at + i) * LANES + lane])
            starts = max(arrives, free[lane])
            wait = starts - arrives
            k = 1
            while k < stations and free[k * LANES + lane] < starts + whole:
                free[(k - 1) * LANES + lane] = free[k * LANES + lane]
                k += 1
            free[(k - 1) * LANES + lane] = starts + whole
            waits[i * LANES + lane] = wait
            told[CURB_SUM * LANES + lane] += wait
            told[CURB_OVER * LANES + lane] += wait > limit_ms
            told[CURB_LAST * LANES + lane] = max(told[CURB_LAST * LANES + lane], starts + whole)
            if wait > told[CURB_LONGEST * LANES + lane]:
                told[CURB_LONGEST * LANES + lane] = wait
                told[CURB_WHO * LANES + lane] = i


@v.inlined
def _last_out(line: Array, row: int, end: int, lane: int, shift: int, nobody: int) -> Any:
    """When the last voter of a lane leaves; `row` is where that stands if every row before is a departure."""
    last = row
    while row < end and line[row * LANES + lane] < nobody:
        if line[row * LANES + lane] & 1 == 0:
            last = row
        row += 1
    return (line[last * LANES + lane] ^ LEADING) >> shift


@v.inner
def _told(
    group: int, at: int, shift: int, opens_ms: int, closes_ms: int, counts: Array, totals: Array,
    inside: Array, lane_days: Array, door: Array, check_in: Array, mark: Array, checked: Array, out: Array,
    end: int, nobody: int, waits: Array, most: Array, over: Array, is_curb: int, curb: Array, told: Array,
) -> None:  # fmt: skip
    """The rows of one group's days for one candidate into `told` (day in the block, column)."""
    low = (1 << shift) - 1
    for lane in range(LANES):
        n = totals[group * LANES + lane]
        day = lane_days[group * LANES + lane]
        if day < 0:
            continue
        row = told[day]
        for column in range(COLUMNS):
            row[column] = 0
        row[LAST_OUT] = closes_ms
        row[BINDING] = -1
        if n == 0:
            continue
        longest = (most[lane] ^ LEADING) >> shift
        row[LONGEST] = longest
        row[OVER] = over[lane]
        row[LAST_OUT] = 0
        if inside[lane] > 0:
            row[LAST_OUT] = _last_out(out, counts[3] + inside[lane] - 1, end, lane, shift, nobody)
        for stage in range(4):
            row[SUM_CHECK_IN + stage] = waits[stage * LANES + lane]
        who = (low - (most[lane] & low)) >> FLAG_BITS
        if is_curb > 0:
            row[SUM_CURBSIDE] = curb[CURB_SUM * LANES + lane]
            row[OVER] += curb[CURB_OVER * LANES + lane]
            row[LAST_OUT] = max(row[LAST_OUT], curb[CURB_LAST * LANES + lane])
            longest_there = curb[CURB_LONGEST * LANES + lane]
            first_there = longest_there == longest and curb[CURB_WHO * LANES + lane] < who
            if longest_there > longest or (longest_there > 0 and first_there):
                row[LONGEST] = longest_there
                row[BINDING] = 4
                continue
        if longest == 0:
            continue
        arrives = np.int64(door[(at + who) * LANES + lane])
        first = max(np.int64(0), opens_ms - arrives)
        if counts[0] > 0:
            # Nobody but those in service is overtaken, so the search is short.
            place = max(0, who + 1 - counts[0] - (n - inside[lane])) + counts[0]
            while checked[place * LANES + lane] & low != who << FLAG_BITS:
                place += 1
            left = (checked[place * LANES + lane] ^ LEADING) >> shift
            first = left - check_in[(at + who) * LANES + lane] - arrives
        last = most[LANES + lane]
        second = longest - first - last
        row[BINDING] = 0
        greatest = first
        if second > greatest:
            row[BINDING] = 1 + (mark[(at + who) * LANES + lane] & 1)
            greatest = second
        if last > greatest:
            row[BINDING] = 3


def room(rows: Array, drawn_facts: Array, candidates: Array, spans: Array) -> tuple[Any, Any]:
    """Arrays for the work of `pass_through`: the lines, and what is kept beside them.

    A line has a row for each voter and station, one for each station that fails or absence that begins,
    which may come to each lane at another time, and those that `pass_through` puts at its end.
    """
    facts = drawn_facts.reshape(len(rows), FACTS, LANES)
    failed = facts[:, FAILED : FAILED + 3].sum(axis=(1, 2))
    spare = (facts[:, SPECIAL] + facts[:, AT_CURB]).max(axis=1) + 1
    away = (spans[:, :, 1] - spans[:, :, 0]).max() * LANES
    most = int((rows + failed + spare).max() + away + candidates.max() + 2) * LANES
    lines = tuple(np.empty(most, np.int64) for _ in range(5))
    sizes = (4 * LANES, 2 * LANES, LANES, LANES, AWAY * LANES, CURB * LANES, LANES, 2 * LANES, 4, 4, 3)
    return lines, (*(np.zeros(size, np.int64) for size in sizes), np.arange(LANES))


@v.inner
def _traced(line: Array, rows: int, shift: int, nobody: int, into: Array) -> None:
    """Each voter's key among the `rows` rows of `line` into `into` (voter, lane)."""
    low = (1 << shift) - 1
    for row in range(rows):
        for lane in range(LANES):
            key = line[row * LANES + lane]
            if key & 1 == 0 and key < nobody:
                into[((key & low) >> FLAG_BITS) * LANES + lane] = key


@v.compiled
def pass_through(
    lane_days: Array, rows: Array, begins: Array, totals: Array, door: Array, takes: Array, mark: Array,
    ends: Array, out: Array, facts: Array, opens_ms: int, closes_ms: int, candidates: Array,
    absences: Array, spans: Array, curb_stations: int, limit_ms: int, told: Array, trace: Array,
    lines: Array, small: Array, curb_waits: Array,
) -> None:  # fmt: skip
    """All groups for all candidates into `told` (candidate, day, column).

    `lane_days`: the day's place in `told` of each lane, -1 for none. Neighbours in `candidates` share the
    stages in which they do not differ. `absences`: when an absence falls due, how long it lasts, until when,
    in ms; `spans` (candidate, stage, 2): which rows of it are a stage's, in order of time. A stage with the
    same number of stations has the same absences. The other arrays as drawn by ``kernel_draws``.

    `trace`, unless it has no row, gets the keys of the last group and candidate as voters leave check-in,
    marking and casting, one row each, by voter, then the waits at the curb (voter, lane).

    For work: `lines` and `small` as `room` makes them; `curb_waits`, int64, as many as the longest group has,
    if any voter is at the curb.
    """
    checked, marked, marked_apart, apart, left = lines
    waits, most, over, inside, away, curb, heads, work, is_away, out_at, fails, lanes, curb_free = small
    for group in range(len(rows)):
        at, n = begins[group], rows[group]
        shift = FLAG_BITS
        while (n + 1) >> (shift - FLAG_BITS):
            shift += 1
        nobody = LEADING | (((1 << (TIME_BITS - shift)) - 1) << shift) | (n << FLAG_BITS)
        # All numbers are of one type, or the parts are compiled twice.
        none = n - n
        is_curb, n_in, n_general, n_apart, spare = none, none, none, none, none + 1
        for step in range(3):
            fails[step] = 0
        for lane in range(LANES):
            spot = group * FACTS * LANES + lane
            special, outside = facts[spot + SPECIAL * LANES], facts[spot + AT_CURB * LANES]
            is_curb += outside
            inside[lane] = totals[group * LANES + lane] - outside
            n_in, n_apart = max(n_in, inside[lane]), max(n_apart, special)
            n_general, spare = max(n_general, inside[lane] - special), max(spare, special + outside + 1)
            for step in range(3):
                fails[step] += facts[spot + (FAILED + step) * LANES]
        parts = none if n_apart == 0 else none + 1
        if is_curb > 0:
            _curb(
                door, takes, at, n, curb_stations, opens_ms, limit_ms, curb_free, curb_waits,
                curb,
            )  # fmt: skip
        rows_checked, rows_marked, rows_apart, rows_left = none, none, none, none
        for c in range(len(candidates)):
            counts, before = candidates[c], candidates[max(0, c - 1)]
            again = c > 0
            new_check_in = not again or counts[0] != before[0]
            new_mark = new_check_in or counts[1] != before[1]
            new_apart = new_check_in or counts[2] != before[2]
            for stage in range(4):
                step = min(stage, 1) + stage // 3  # marking is one step of two stages
                out_at[stage] = step * len(door) + at * LANES if fails[step] > 0 else -1
                is_away[stage] = 0
                if counts[stage] > 0 and (fails[step] > 0 or spans[c, stage, 0] < spans[c, stage, 1]):
                    is_away[stage] = 1
            if new_check_in:
                set_out(is_away[0], away, absences, spans[c, 0, 0], spans[c, 0, 1], shift)
                rows_checked = check_in(
                    door, takes, at, n, counts[0], opens_ms, shift, checked, waits[:LANES],
                    is_curb, lanes, spare, nobody,
                    is_away[0], out, out_at[0], away, absences, spans[c, 0, 0], spans[c, 0, 1],
                )  # fmt: skip
            if new_mark:
                # Nobody at all, beyond the last voter of a lane.
                for k in range(n_apart * LANES):
                    apart[k] = nobody
                set_out(is_away[1], away, absences, spans[c, 1, 0], spans[c, 1, 1], shift)
                rows_marked = marking(
                    checked, counts[0], n_general, mark, at, lanes, counts[1], shift, marked,
                    waits[LANES : 2 * LANES], parts, apart, heads, work, spare, nobody,
                    is_away[1], out, out_at[1], away, absences, spans[c, 1, 0], spans[c, 1, 1],
                )  # fmt: skip
            if parts == 0:
                for lane in range(LANES):
                    waits[2 * LANES + lane] = 0
            elif new_apart:
                set_out(is_away[2], away, absences, spans[c, 2, 0], spans[c, 2, 1], shift)
                rows_apart = marking(
                    apart, none, n_apart, mark, at, lanes, counts[2], shift, marked_apart,
                    waits[2 * LANES : 3 * LANES], none, apart, heads, work, spare, nobody,
                    is_away[2], out, out_at[2], away, absences, spans[c, 2, 0], spans[c, 2, 1],
                )  # fmt: skip
            set_out(is_away[3], away, absences, spans[c, 3, 0], spans[c, 3, 1], shift)
            rows_left = casting(
                marked, counts[1], n_in, ends, at, lanes, counts[3], shift, limit_ms, left,
                waits[3 * LANES :], most, over, parts, marked_apart, counts[2], heads, work,
                is_away[3], out, out_at[3], away, absences, spans[c, 3, 0], spans[c, 3, 1],
            )  # fmt: skip
            _told(
                group, at, shift, opens_ms, closes_ms, counts, totals, inside, lane_days, door, takes,
                mark, checked, left, counts[3] + rows_left, nobody, waits, most, over, is_curb, curb, told[c],
            )  # fmt: skip
    # The last group and candidate as they went: what `voters_of` reads.
    if len(trace) > 0:
        _traced(checked, counts[0] + rows_checked, shift, nobody, trace[0])
        _traced(marked, counts[1] + rows_marked, shift, nobody, trace[1])
        if parts > 0:
            _traced(marked_apart, counts[2] + rows_apart, shift, nobody, trace[1])
        _traced(left, counts[3] + rows_left, shift, nobody, trace[2])
        if is_curb > 0:
            for k in range(n * LANES):
                trace[3, k] = curb_waits[k]
