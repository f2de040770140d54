"""The three steps inside: check-in, marking, casting, each from one line of sixteen days into the next.

A lane reads the line before at a place of its own: it goes past rows that are no departure, and the lanes
differ in how many those are.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pollstead.plan.lines import vectors as v
from pollstead.plan.lines.kernel_lines import (
    FLAG_BITS,
    LANE_BITS,
    LANES,
    LEADING,
    TIME_BITS,
    end,
    join,
    leaves_at,
    may_happen,
    starts_at,
    stations_away,
)

if TYPE_CHECKING:
    Array = Any

_LOW_32 = (1 << 32) - 1


@v.inner
def check_in(
    door: Array, takes: Array, at: int, rows: int, stations: int, opens_ms: int, shift: int,
    line: Array, waits: Array,
    is_curb: int, lanes: Array, spare: int, nobody: int,
    is_away: int, out: Array, out_at: int, away: Array, absences: Array, first: int, last: int,
) -> int:  # fmt: skip
    """The first step: from the door into `line`; adds up the waits of each lane into `waits`.

    The row of a voter at the curb changes nothing: the free moment is put back. Gives how many rows there
    are, beside one a station.
    """
    free = v.all_of(LEADING | (opens_ms << shift) | 1)
    never = v.all_of(nobody)
    low, zero = v.all_of((1 << shift) - 1), v.all_of(0)
    waited, row = zero, rows - rows
    for i in range(stations):
        v.store(line, i * LANES, free)
    for i in range(rows):
        arrives = v.load_narrow(door, (at + i) * LANES)
        absent = v.less(arrives, zero)
        arrives = v.either(v.up(arrives, shift), v.all_of(LEADING | (i << FLAG_BITS)))
        arrives = v.choose(absent, never, arrives)
        if is_away > 0 and may_happen(line, row, low, never, arrives, out, out_at, lanes, away):
            row = stations_away(
                line, row, stations, shift, arrives, out, out_at, lanes, away, absences, first, last
            )
        starts = starts_at(line, row, stations, free, arrives)
        here = v.minus(v.down(starts, shift), v.down(arrives, shift))
        taken = v.load_narrow(takes, (at + i) * LANES)
        leaves = leaves_at(shift, low, starts, arrives, taken)
        if is_curb > 0:
            outside = v.less(taken, zero)
            here = v.choose(outside, zero, here)
            if stations > 0:
                starts = v.load(line, row * LANES)
            leaves = v.choose(outside, v.either(starts, v.all_of(1)), leaves)
        waited = v.plus(waited, here)
        join(line, row, stations, leaves)
        row += 1
    end(line, row + stations, spare, never)
    v.store(waits, 0, waited)
    return row


@v.inlined
def _put_apart(keys: Any, those: Any, apart: Array, heads: Array, work: Array) -> None:
    """Put the keys of `those` (lanes, 1 or 0) into `apart`, each lane's next row as `heads` says."""
    v.store(work, 0, those)
    v.store(work, LANES, keys)
    for lane in range(LANES):
        if work[lane] > 0:
            apart[heads[lane] * LANES + lane] = work[LANES + lane]
            heads[lane] += 1


@v.inner
def marking(
    come: Array, begin: int, rows: int, takes: Array, at: int, lanes: Array, stations: int, shift: int,
    line: Array, waits: Array,
    parts: int, apart: Array, heads: Array, work: Array, spare: int, nobody: int,
    is_away: int, out: Array, out_at: int, away: Array, absences: Array, first: int, last: int,
) -> int:  # fmt: skip
    """Marking: `rows` voters a lane of `come`, which begins at row `begin`, into `line`; adds up the waits.

    With `parts`, who needs an accessible station goes into `apart` and counts for none of the `rows`;
    without, all are served here. Gives how many rows there are, beside one a station.
    """
    free, never = v.all_of(LEADING | 1), v.all_of(nobody)
    low, zero, one = v.all_of((1 << shift) - 1), v.all_of(0), v.all_of(1)
    special, each = v.all_of(parts), v.all_of(LANES)
    mine = v.load(lanes, 0)
    place, spots = v.plus(mine, v.all_of(at * LANES)), v.plus(mine, v.all_of(begin * LANES))
    waited, row = zero, rows - rows
    for i in range(stations):
        v.store(line, i * LANES, free)
    for lane in range(LANES):
        heads[lane] = 0
    # Once more at the end for those who come after the last voter who is served here.
    for i in range(rows + parts):
        while True:
            arrives = v.look_up(come, spots)
            voter = v.up(v.down(v.both(arrives, low), FLAG_BITS), LANE_BITS)
            taken = v.look_up_narrow(takes, v.plus(voter, place))
            gone, needs = v.both(arrives, one), v.both(taken, special)
            past = v.either(gone, needs)
            if not v.somewhere(v.less(zero, past)):
                break
            spots = v.plus(spots, v.up(past, LANE_BITS))
            if parts > 0:
                # The row of a station that comes back has the number of the voter at whom it failed.
                _put_apart(arrives, v.choose(v.less(zero, gone), zero, needs), apart, heads, work)
        if i == rows:
            break
        spots = v.plus(spots, each)
        if is_away > 0 and may_happen(line, row, low, never, arrives, out, out_at, lanes, away):
            row = stations_away(
                line, row, stations, shift, arrives, out, out_at, lanes, away, absences, first, last
            )
        starts = starts_at(line, row, stations, free, arrives)
        waited = v.plus(waited, v.minus(v.down(starts, shift), v.down(arrives, shift)))
        join(line, row, stations, leaves_at(shift, low, starts, arrives, v.down(taken, 1)))
        row += 1
    end(line, row + stations, spare, never)
    v.store(waits, 0, waited)
    return row


@v.inner
def _next_apart(line: Array, heads: Array, lane: int, ahead: Array) -> None:
    """The next departure of a lane's accessible stations into `ahead`."""
    row = heads[lane]
    while line[row * LANES + lane] & 1:
        row += 1
    ahead[lane] = line[row * LANES + lane]
    heads[lane] = row + 1


@v.inner
def casting(
    come: Array, begin: int, rows: int, ends: Array, at: int, lanes: Array, stations: int,
    shift: int, limit_ms: int,
    line: Array, waits: Array, most: Array, over: Array,
    parts: int, apart: Array, begin_apart: int, heads: Array, work: Array,
    is_away: int, out: Array, out_at: int, away: Array, absences: Array, first: int, last: int,
) -> int:  # fmt: skip
    """The last step: from `come` into `line`; each lane's longest wait, whose, and how many over the limit.

    With `parts`, departures of `apart` come in between. `most` gets the longest wait as a key with the
    voter's number taken from the highest, so that of equal waits the first at the door counts; then that
    voter's wait here. `over` gets the voters over the limit. Gives how many rows there are, beside one a
    station.
    """
    free = v.all_of(LEADING | 1)
    never = v.all_of(((1 << (TIME_BITS + 1 - shift)) - 1) << shift)
    low, zero, one = v.all_of((1 << shift) - 1), v.all_of(0), v.all_of(1)
    leading, limit = v.all_of(LEADING), v.all_of(limit_ms)
    none, each = v.all_of(LEADING >> shift), v.all_of(LANES)
    mine = v.load(lanes, 0)
    place, spots = v.plus(mine, v.all_of(at * LANES)), v.plus(mine, v.all_of(begin * LANES))
    waited, beyond, longest, at_last, row = zero, zero, leading, zero, rows - rows
    for i in range(stations):
        v.store(line, i * LANES, free)
    if parts > 0:
        for lane in range(LANES):
            heads[lane] = begin_apart
            _next_apart(apart, heads, lane, work)
    for _ in range(rows):
        while True:
            arrives = v.look_up(come, spots)
            gone = v.both(arrives, one)
            if not v.somewhere(v.less(zero, gone)):
                break
            spots = v.plus(spots, v.up(gone, LANE_BITS))
        spots = v.plus(spots, each)
        if parts > 0:
            ahead = v.load(work, 0)
            sooner = v.less(ahead, arrives)
            if v.somewhere(sooner):
                spots = v.minus(spots, v.choose(sooner, each, zero))
                arrives = v.sooner(ahead, arrives)
                v.store(work, LANES, v.choose(sooner, one, zero))
                for lane in range(LANES):
                    if work[LANES + lane] > 0:
                        _next_apart(apart, heads, lane, work)
        voter = v.both(arrives, low)
        end_of = v.look_up(ends, v.plus(v.up(v.down(voter, FLAG_BITS), LANE_BITS), place))
        if is_away > 0 and may_happen(line, row, low, never, arrives, out, out_at, lanes, away):
            row = stations_away(
                line, row, stations, shift, arrives, out, out_at, lanes, away, absences, first, last
            )
        starts = starts_at(line, row, stations, free, arrives)
        begun = v.down(starts, shift)
        here = v.minus(begun, v.down(arrives, shift))
        waited = v.plus(waited, here)
        wait = v.minus(v.minus(begun, none), v.down(end_of, 32))
        wait = v.choose(v.less(arrives, never), wait, zero)
        beyond = v.plus(beyond, v.choose(v.less(limit, wait), one, zero))
        key = v.either(v.up(wait, shift), v.either(v.minus(low, voter), leading))
        at_last = v.choose(v.less(longest, key), here, at_last)
        longest = v.later(longest, key)
        join(line, row, stations, leaves_at(shift, low, starts, arrives, v.both(end_of, v.all_of(_LOW_32))))
        row += 1
    v.store(waits, 0, waited)
    v.store(most, 0, longest)
    v.store(most, LANES, at_last)
    v.store(over, 0, beyond)
    return row
