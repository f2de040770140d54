"""Sixteen days of one site go through its lines side by side: event-exact, whole milliseconds.

The idea of a line: the departures of a stage, kept in order, serve three times. Row number i is the i-th
earliest moment at which a station is free; the rows are the arrivals of the next stage in their order; and a
new departure is put in from the back, one comparison a station and none that the data decides.

A key is one number: a moment in ms, then the voter's number, then one bit, under the leading bit that makes
it a time (see ``vectors``). So of several voters at one moment the one who came first to the door goes first.
What is rare or differs from lane to lane (who needs an accessible station, which stage binds) is plain code,
lane by lane. `shift` is the number of bits under the moment; it follows from the number of voters.

Compiled code is kept on the disk by this file's date: touch it when ``vectors`` changes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pollstead.plan.lines import vectors as v
from pollstead.plan.lines.kernel_draws import FACTS, SPECIAL

if TYPE_CHECKING:
    Array = Any

LANES = v.LANES
TIME_BITS = 52
FLAG_BITS = 1
_LEADING = 1 << TIME_BITS
_LOW_32 = (1 << 32) - 1

LONGEST, OVER, LAST_OUT, SUM_CHECK_IN, SUM_MARK, SUM_ACCESSIBLE, SUM_CAST, BINDING = range(8)
SUM_CURBSIDE, LEFT = 8, 9
COLUMNS = 10
"""Kept of a day: longest wait, voters over the limit, last voter done, waits by stage, stage that binds.

Also waits at the curb, and voters who left the line, which this engine does not do: 0.
"""

DOOR, GENERAL, APART, MERGED = range(4)
_CHECKED, _MARKED, _MARKED_APART, _OUT = range(4)


@v.inlined
def _put_in(line: Array, row: int, stations: int, leaves: Any) -> None:
    """Put departures into `line`, whose rows from `row + 1` on have `stations` - 1 in order."""
    at = row + stations
    while at > row + 1:
        below = v.load(line, (at - 1) * LANES)
        if at & 7 == 0 and not v.somewhere(v.less(leaves, below)):
            break
        v.store(line, at * LANES, v.later(below, leaves))
        leaves = v.sooner(below, leaves)
        at -= 1
    v.store(line, at * LANES, leaves)


@v.inlined
def _put_in_anywhere(line: Array, row: int, leaves: Any) -> None:
    """Put departures into `line`, whose rows before `row` are in order: there is always room."""
    at = row
    while at > 0:
        below = v.load(line, (at - 1) * LANES)
        if at & 3 == 0 and not v.somewhere(v.less(leaves, below)):
            break
        v.store(line, at * LANES, v.later(below, leaves))
        leaves = v.sooner(below, leaves)
        at -= 1
    v.store(line, at * LANES, leaves)


@v.inlined
def _leave(
    line: Array, i: int, stations: int, shift: int, low: Any, starts: Any, arrives: Any, takes: Any
) -> None:
    """The voters of row i leave `takes` after `starts`; their number goes with them."""
    leaves = v.plus(v.both(starts, v.unlike(low, v.all_of(-1))), v.up(takes, shift))
    leaves = v.either(leaves, v.both(arrives, low))
    if stations > 0:
        _put_in(line, i, stations, leaves)
    else:
        _put_in_anywhere(line, i, leaves)


@v.inlined
def _starts(line: Array, i: int, stations: int, free: Any, arrives: Any) -> Any:
    """When the voters of row i are taken: on arrival, or when the first station is free."""
    if stations > 0:
        return v.later(arrives, v.load(line, i * LANES))
    return v.later(arrives, free)


@v.inner
def _check_in(
    door: Array,
    takes: Array,
    at: int,
    rows: int,
    stations: int,
    opens_ms: int,
    shift: int,
    line: Array,
    waits: Array,
) -> None:
    """The first stage: from the door into `line`; adds up the waits of each lane into `waits`."""
    free = v.all_of(_LEADING | (opens_ms << shift))
    never = v.all_of(_LEADING | (((1 << (TIME_BITS - shift)) - 1) << shift) | (rows << FLAG_BITS))
    low, zero = v.all_of((1 << shift) - 1), v.all_of(0)
    waited = zero
    for i in range(stations):
        v.store(line, i * LANES, free)
    for i in range(rows):
        arrives = v.load_narrow(door, (at + i) * LANES)
        absent = v.less(arrives, zero)
        arrives = v.either(v.up(arrives, shift), v.all_of(_LEADING | (i << FLAG_BITS)))
        arrives = v.choose(absent, never, arrives)
        starts = _starts(line, i, stations, free, arrives)
        waited = v.plus(waited, v.minus(v.down(starts, shift), v.down(arrives, shift)))
        _leave(line, i, stations, shift, low, starts, arrives, v.load_narrow(takes, (at + i) * LANES))
    v.store(waits, 0, waited)


@v.inner
def _marking(
    come: Array, first: int, rows: int, takes: Array, at: int, lanes: Array, stations: int, shift: int,
    line: Array,
    waits: Array,
) -> None:  # fmt: skip
    """Marking: the rows of `come` from `first` on into `line`; adds up the waits of each lane."""
    free = v.all_of(_LEADING)
    low, zero = v.all_of((1 << shift) - 1), v.all_of(0)
    place = v.plus(v.load(lanes, 0), v.all_of(at * LANES))
    waited = zero
    for i in range(stations):
        v.store(line, i * LANES, free)
    for i in range(rows):
        arrives = v.load(come, (first + i) * LANES)
        starts = _starts(line, i, stations, free, arrives)
        waited = v.plus(waited, v.minus(v.down(starts, shift), v.down(arrives, shift)))
        voter = v.down(v.both(arrives, low), FLAG_BITS)
        taken = v.down(v.look_up_narrow(takes, v.plus(v.times(voter, v.all_of(LANES)), place)), 1)
        _leave(line, i, stations, shift, low, starts, arrives, taken)
    v.store(waits, 0, waited)


@v.inner
def _casting(
    come: Array, first: int, rows: int, ends: Array, at: int, lanes: Array, stations: int,
    shift: int, limit_ms: int,
    line: Array, waits: Array, most: Array, over: Array,
) -> None:  # fmt: skip
    """The last stage: from `come` into `line`; each lane's longest wait, whose, and how many over the limit.

    `most` gets the longest wait as a key with the voter's number taken from the highest, so that of equal
    waits the first at the door counts; then that voter's wait here. `over` gets the voters over the limit.
    """
    free = v.all_of(_LEADING)
    never = v.all_of(((1 << (TIME_BITS + 1 - shift)) - 1) << shift)
    low, zero, one = v.all_of((1 << shift) - 1), v.all_of(0), v.all_of(1)
    leading, limit = v.all_of(_LEADING), v.all_of(limit_ms)
    none = v.all_of(_LEADING >> shift)
    place = v.plus(v.load(lanes, 0), v.all_of(at * LANES))
    waited, beyond, longest, at_last = zero, zero, leading, zero
    for i in range(stations):
        v.store(line, i * LANES, free)
    for i in range(rows):
        arrives = v.load(come, (first + i) * LANES)
        voter = v.both(arrives, low)
        end = v.look_up(ends, v.plus(v.times(v.down(voter, FLAG_BITS), v.all_of(LANES)), place))
        starts = _starts(line, i, stations, free, arrives)
        begun = v.down(starts, shift)
        here = v.minus(begun, v.down(arrives, shift))
        waited = v.plus(waited, here)
        wait = v.minus(v.minus(begun, none), v.down(end, 32))
        wait = v.choose(v.less(arrives, never), wait, zero)
        beyond = v.plus(beyond, v.choose(v.less(limit, wait), one, zero))
        mine = v.either(v.up(wait, shift), v.either(v.minus(low, voter), leading))
        at_last = v.choose(v.less(longest, mine), here, at_last)
        longest = v.later(longest, mine)
        _leave(line, i, stations, shift, low, starts, arrives, v.both(end, v.all_of(_LOW_32)))
    v.store(waits, 0, waited)
    v.store(most, 0, longest)
    v.store(most, LANES, at_last)
    v.store(over, 0, beyond)


@v.inner
def _parted(
    come: Array, first: int, rows: int, mark: Array, at: int, shift: int, totals: Array, special: Array,
    group: int,
    general: Array, apart: Array, ends_at: Array,
) -> tuple[int, int]:  # fmt: skip
    """Part the rows of `come` into those for general and those for accessible stations, each without gaps.

    Returns how many rows each has; a lane's rows after its last voter are never reached.
    """
    never = _LEADING | (((1 << (TIME_BITS - shift)) - 1) << shift) | (rows << FLAG_BITS)
    low = (1 << shift) - 1
    most, most_apart = 0, 0
    for lane in range(LANES):
        apart_here = special[group * FACTS * LANES + SPECIAL * LANES + lane]
        most = max(most, totals[group * LANES + lane] - apart_here)
        most_apart = max(most_apart, apart_here)
        ends_at[lane] = 0
        ends_at[LANES + lane] = 0
    for i in range(rows):
        for lane in range(LANES):
            if i < totals[group * LANES + lane]:
                key = come[(first + i) * LANES + lane]
                voter = (key & low) >> FLAG_BITS
                if mark[(at + voter) * LANES + lane] & 1:
                    row = ends_at[LANES + lane]
                    apart[row * LANES + lane] = key
                    ends_at[LANES + lane] = row + 1
                else:
                    row = ends_at[lane]
                    general[row * LANES + lane] = key
                    ends_at[lane] = row + 1
    for lane in range(LANES):
        for row in range(ends_at[lane], most):
            general[row * LANES + lane] = never
        for row in range(ends_at[LANES + lane], most_apart):
            apart[row * LANES + lane] = never
    return most, most_apart


@v.inner
def _merged(
    left: Array, first_left: int, rows_left: int, right: Array, first_right: int, rows_right: int,
    rows: int, shift: int,
    into: Array, heads: Array,
) -> None:  # fmt: skip
    """Two lists in order into one, lane by lane."""
    never = _LEADING | (((1 << (TIME_BITS - shift)) - 1) << shift) | (rows << FLAG_BITS)
    for lane in range(LANES):
        heads[lane] = first_left
        heads[LANES + lane] = first_right
    end_left, end_right = first_left + rows_left, first_right + rows_right
    for row in range(rows):
        for lane in range(LANES):
            a, b = heads[lane], heads[LANES + lane]
            one = left[a * LANES + lane] if a < end_left else never
            other = right[b * LANES + lane] if b < end_right else never
            if other < one:
                into[row * LANES + lane] = other
                heads[LANES + lane] = b + 1
            else:
                into[row * LANES + lane] = one
                heads[lane] = a + 1


@v.inner
def _told(
    group: int, at: int, rows: int, shift: int, opens_ms: int, closes_ms: int, counts: Array, totals: Array,
    lane_days: Array, door: Array, check_in: Array, mark: Array, checked: Array, out: Array, waits: Array,
    most: Array,
    over: Array, told: Array,
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
        longest = (most[lane] ^ _LEADING) >> shift
        row[LONGEST] = longest
        row[OVER] = over[lane]
        row[LAST_OUT] = (out[(counts[3] + n - 1) * LANES + lane] ^ _LEADING) >> shift
        for stage in range(4):
            row[SUM_CHECK_IN + stage] = waits[stage * LANES + lane]
        if longest == 0:
            continue
        who = (low - (most[lane] & low)) >> FLAG_BITS
        arrives = np.int64(door[(at + who) * LANES + lane])
        first = max(np.int64(0), opens_ms - arrives)
        if counts[0] > 0:
            # Nobody but those in service is overtaken, so the search is short.
            place = max(0, who + 1 - counts[0]) + counts[0]
            while (checked[place * LANES + lane] & low) >> FLAG_BITS != who:
                place += 1
            left = (checked[place * LANES + lane] ^ _LEADING) >> shift
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


@v.compiled
def pass_through(
    lane_days: Array, rows: Array, begins: Array, totals: Array, door: Array, check_in: Array, mark: Array,
    ends: Array, facts: Array, opens_ms: int, closes_ms: int, candidates: Array, limit_ms: int, out: Array,
    trace: Array,
) -> None:  # fmt: skip
    """All groups for all candidates into `out` (candidate, day, column).

    `trace`, unless it has no row, gets the keys of the last group and candidate as voters leave check-in,
    marking and casting, one row each.

    `lane_days`: the day's place in `out` of each lane, -1 for none. Neighbours in `candidates` share the
    stages in which they do not differ. The other arrays as drawn by ``kernel_draws``.
    """
    room = (rows.max() + candidates.max() + 2) * LANES
    checked, marked, marked_apart = (
        np.empty(room, np.int64),
        np.empty(room, np.int64),
        np.empty(room, np.int64),
    )
    general, apart = np.empty(room, np.int64), np.empty(room, np.int64)
    merged, left = np.empty(room, np.int64), np.empty(room, np.int64)
    lanes, heads = np.arange(LANES), np.empty(2 * LANES, np.int64)
    waits, most, over = (
        np.zeros(4 * LANES, np.int64),
        np.empty(2 * LANES, np.int64),
        np.empty(LANES, np.int64),
    )
    for group in range(len(rows)):
        at, n = begins[group], rows[group]
        shift = FLAG_BITS
        while (n + 1) >> (shift - FLAG_BITS):
            shift += 1
        special = 0
        for lane in range(LANES):
            special += facts[group * FACTS * LANES + SPECIAL * LANES + lane]
        most_general, most_apart, top = n, n - n, n - n  # of one type, or all is compiled twice
        for c in range(len(candidates)):
            counts, before = candidates[c], candidates[max(0, c - 1)]
            again = c > 0
            new_check_in = not again or counts[0] != before[0]
            new_mark = new_check_in or counts[1] != before[1]
            new_apart = new_check_in or counts[2] != before[2]
            if new_check_in:
                _check_in(door, check_in, at, n, counts[0], opens_ms, shift, checked, waits[:LANES])
            if special == 0:
                if new_mark:
                    _marking(
                        checked,
                        counts[0],
                        n,
                        mark,
                        at,
                        lanes,
                        counts[1],
                        shift,
                        marked,
                        waits[LANES : 2 * LANES],
                    )
                come, first = marked, counts[1]
                for lane in range(LANES):
                    waits[2 * LANES + lane] = 0
            else:
                if new_check_in:
                    most_general, most_apart = _parted(
                        checked, counts[0], n, mark, at, shift, totals, facts, group, general, apart, heads
                    )
                if new_mark:
                    _marking(
                        general, top, most_general, mark, at, lanes, counts[1], shift, marked,
                        waits[LANES : 2 * LANES],
                    )  # fmt: skip
                if new_apart:
                    _marking(
                        apart, top, most_apart, mark, at, lanes, counts[2], shift, marked_apart,
                        waits[2 * LANES : 3 * LANES],
                    )  # fmt: skip
                if new_mark or new_apart:
                    _merged(
                        marked,
                        counts[1],
                        most_general,
                        marked_apart,
                        counts[2],
                        most_apart,
                        n,
                        shift,
                        merged,
                        heads,
                    )
                come, first = merged, top
            _casting(
                come,
                first,
                n,
                ends,
                at,
                lanes,
                counts[3],
                shift,
                limit_ms,
                left,
                waits[3 * LANES :],
                most,
                over,
            )
            _told(
                group, at, n, shift, opens_ms, closes_ms, counts, totals, lane_days, door, check_in, mark,
                checked,
                left, waits, most, over, out[c],
            )  # fmt: skip
    # The last group and candidate as they went: what `voters_of` reads.
    if len(trace) > 0:
        for k in range(n * LANES):
            trace[0, k] = checked[counts[0] * LANES + k]
            trace[1, k] = come[first * LANES + k]
            trace[2, k] = left[counts[3] * LANES + k]
