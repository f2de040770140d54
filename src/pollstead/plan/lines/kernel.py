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
from pollstead.plan.lines.kernel_draws import AT_CURB, FACTS, FAILED, SPECIAL

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

FROM, LASTS, UNTIL, TAKEN, HIT = range(5)
AWAY = 5
"""Kept of a stage while it is gone through: each lane's next absence (when it falls due, as a key; how long
it lasts, in units of a key; until when, as a key), how many it has had, and what happens in this row."""

CURB_SUM, CURB_LONGEST, CURB_WHO, CURB_OVER, CURB_LAST = range(5)


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
def _leaves(shift: int, low: Any, starts: Any, arrives: Any, takes: Any) -> Any:
    """The voters leave `takes` after `starts`; their number goes with them."""
    leaves = v.plus(v.both(starts, v.unlike(low, v.all_of(-1))), v.up(takes, shift))
    return v.either(leaves, v.both(arrives, low))


@v.inlined
def _join(line: Array, row: int, stations: int, leaves: Any) -> None:
    """Put departures into `line`, where a station of row `row` becomes free."""
    if stations > 0:
        _put_in(line, row, stations, leaves)
    else:
        _put_in_anywhere(line, row, leaves)


@v.inlined
def _starts(line: Array, i: int, stations: int, free: Any, arrives: Any) -> Any:
    """When the voters of row i are taken: on arrival, or when the first station is free."""
    if stations > 0:
        return v.later(arrives, v.load(line, i * LANES))
    return v.later(arrives, free)


@v.inlined
def _next_absence(away: Array, lane: int, absences: Array, first: int, last: int, shift: int) -> None:
    """Make ready the absence of a lane that falls due next; beyond the last one that never does."""
    never = _LEADING | (((1 << (TIME_BITS - shift)) - 1) << shift)
    row = first + away[TAKEN * LANES + lane]
    away[FROM * LANES + lane] = never
    away[LASTS * LANES + lane] = 0
    away[UNTIL * LANES + lane] = _LEADING
    if row < last and absences[row, FROM] + absences[row, LASTS] < (never ^ _LEADING) >> shift:
        away[FROM * LANES + lane] = _LEADING | (absences[row, FROM] << shift)
        away[LASTS * LANES + lane] = absences[row, LASTS] << shift
        away[UNTIL * LANES + lane] = _LEADING | (absences[row, UNTIL] << shift)


@v.inner
def _set_out(is_away: int, away: Array, absences: Array, first: int, last: int, shift: int) -> None:
    """Before the first row of a stage: no absence has been taken."""
    if is_away == 0:
        return
    for lane in range(LANES):
        away[TAKEN * LANES + lane] = 0
        _next_absence(away, lane, absences, first, last, shift)


@v.inner
def _stations_away(
    line: Array, row: int, stations: int, shift: int, arrives: Any, out: Array, out_at: int, lanes: Array,
    away: Array, absences: Array, first: int, last: int,
) -> int:  # fmt: skip
    """What happens to stations before the voters who come next are taken; gives the row that is then first.

    A station that failed comes back later; then an absence that falls due takes the station that is free
    first. Each is one row more: the free moment is taken out and a later one put in, marked as no departure.
    A lane to which nothing happens meanwhile gets its own free moment back.
    """
    leading, zero, one, two = v.all_of(_LEADING), v.all_of(0), v.all_of(1), v.all_of(2)
    low = v.all_of((1 << shift) - 1)
    high = v.unlike(low, v.all_of(-1))
    never = v.all_of(_LEADING | (((1 << (TIME_BITS - shift)) - 1) << shift))
    comes = v.less(arrives, never)
    while True:
        free = v.load(line, row * LANES)
        lasts = zero
        if out_at >= 0:
            voter = v.down(v.both(free, low), FLAG_BITS)
            place = v.plus(v.plus(v.load(lanes, 0), v.all_of(out_at)), v.times(voter, v.all_of(LANES)))
            lasts = v.look_up_narrow(out, place)
            lasts = v.choose(v.less(v.both(free, one), one), lasts, zero)
        due = v.choose(v.less(v.later(arrives, free), v.load(away, FROM * LANES)), zero, one)
        hit = v.choose(v.less(zero, lasts), two, due)
        hit = v.choose(comes, hit, zero)
        if not v.somewhere(v.less(zero, hit)):
            return row
        starts = v.both(v.later(free, v.load(away, FROM * LANES)), high)
        starts = v.choose(v.same(hit, one), starts, leading)
        back = v.later(v.plus(starts, v.load(away, LASTS * LANES)), v.load(away, UNTIL * LANES))
        repaired = v.plus(free, v.up(lasts, shift))
        later = v.choose(v.less(one, hit), repaired, v.choose(v.less(zero, hit), back, free))
        _put_in(line, row, stations, v.either(later, one))
        row += 1
        v.store(away, HIT * LANES, hit)
        for lane in range(LANES):
            if away[HIT * LANES + lane] == 1:
                away[TAKEN * LANES + lane] += 1
                _next_absence(away, lane, absences, first, last, shift)


@v.inner
def _close_up(line: Array, first: int, rows: int, keep: int, never: int) -> None:
    """Leave the departures alone of the `rows` rows of `line` from `first` on: `keep` rows, without gaps."""
    for lane in range(LANES):
        into = first
        for row in range(first, first + rows):
            key = line[row * LANES + lane]
            line[into * LANES + lane] = key
            into += 1 - (key & 1)
        for row in range(into, first + keep):
            line[row * LANES + lane] = never


@v.inner
def _curb(
    door: Array, takes: Array, at: int, group: int, totals: Array, stations: int, opens_ms: int,
    limit_ms: int, free: Array,
    waits: Array, told: Array,
) -> None:  # fmt: skip
    """Voters at the curb, lane by lane: `waits` of each (row, lane), and into `told` what `_told` needs.

    `free` holds the moments at which the stations are free, in order.
    """
    for lane in range(LANES):
        for k in range(stations):
            free[k] = opens_ms
        added, longest, who, over, last = 0, 0, -1, 0, 0
        for i in range(totals[group * LANES + lane]):
            whole = -1 - np.int64(takes[(at + i) * LANES + lane])
            waits[i * LANES + lane] = 0
            if whole < 0:
                continue
            arrives = np.int64(door[(at + i) * LANES + lane])
            starts = max(arrives, free[0])
            wait = starts - arrives
            k = 1
            while k < stations and free[k] < starts + whole:
                free[k - 1] = free[k]
                k += 1
            free[k - 1] = starts + whole
            waits[i * LANES + lane] = wait
            added += wait
            over += wait > limit_ms
            last = max(last, starts + whole)
            if wait > longest:
                longest, who = wait, i
        told[CURB_SUM * LANES + lane] = added
        told[CURB_LONGEST * LANES + lane] = longest
        told[CURB_WHO * LANES + lane] = who
        told[CURB_OVER * LANES + lane] = over
        told[CURB_LAST * LANES + lane] = last


@v.inner
def _check_in(
    door: Array, takes: Array, at: int, rows: int, stations: int, opens_ms: int, shift: int,
    line: Array, waits: Array,
    is_curb: int, lanes: Array,
    is_away: int, out: Array, out_at: int, away: Array, absences: Array, first: int, last: int,
) -> int:  # fmt: skip
    """The first stage: from the door into `line`; adds up the waits of each lane into `waits`.

    The row of a voter at the curb changes nothing: the free moment is put back. Gives how many rows there are
    more than voters.
    """
    free = v.all_of(_LEADING | (opens_ms << shift) | 1)
    never = v.all_of(_LEADING | (((1 << (TIME_BITS - shift)) - 1) << shift) | (rows << FLAG_BITS))
    low, zero = v.all_of((1 << shift) - 1), v.all_of(0)
    waited, row = zero, rows - rows
    for i in range(stations):
        v.store(line, i * LANES, free)
    for i in range(rows):
        arrives = v.load_narrow(door, (at + i) * LANES)
        absent = v.less(arrives, zero)
        arrives = v.either(v.up(arrives, shift), v.all_of(_LEADING | (i << FLAG_BITS)))
        arrives = v.choose(absent, never, arrives)
        if is_away > 0:
            row = _stations_away(
                line, row, stations, shift, arrives, out, out_at, lanes, away, absences, first, last
            )
        starts = _starts(line, row, stations, free, arrives)
        here = v.minus(v.down(starts, shift), v.down(arrives, shift))
        taken = v.load_narrow(takes, (at + i) * LANES)
        leaves = _leaves(shift, low, starts, arrives, taken)
        if is_curb > 0:
            outside = v.less(taken, zero)
            here = v.choose(outside, zero, here)
            if stations > 0:
                starts = v.load(line, row * LANES)
            leaves = v.choose(outside, v.either(starts, v.all_of(1)), leaves)
        waited = v.plus(waited, here)
        _join(line, row, stations, leaves)
        row += 1
    v.store(waits, 0, waited)
    return row - rows


@v.inner
def _marking(
    come: Array, begin: int, rows: int, takes: Array, at: int, lanes: Array, stations: int, shift: int,
    line: Array, waits: Array,
    is_away: int, out: Array, out_at: int, away: Array, absences: Array, first: int, last: int,
) -> int:  # fmt: skip
    """Marking: the rows of `come` from `begin` on into `line`; adds up the waits of each lane.

    Gives how many rows there are more than voters.
    """
    free = v.all_of(_LEADING | 1)
    low, zero = v.all_of((1 << shift) - 1), v.all_of(0)
    place = v.plus(v.load(lanes, 0), v.all_of(at * LANES))
    waited, row = zero, rows - rows
    for i in range(stations):
        v.store(line, i * LANES, free)
    for i in range(rows):
        arrives = v.load(come, (begin + i) * LANES)
        if is_away > 0:
            row = _stations_away(
                line, row, stations, shift, arrives, out, out_at, lanes, away, absences, first, last
            )
        starts = _starts(line, row, stations, free, arrives)
        waited = v.plus(waited, v.minus(v.down(starts, shift), v.down(arrives, shift)))
        voter = v.down(v.both(arrives, low), FLAG_BITS)
        taken = v.down(v.look_up_narrow(takes, v.plus(v.times(voter, v.all_of(LANES)), place)), 1)
        _join(line, row, stations, _leaves(shift, low, starts, arrives, taken))
        row += 1
    v.store(waits, 0, waited)
    return row - rows


@v.inner
def _casting(
    come: Array, begin: int, rows: int, ends: Array, at: int, lanes: Array, stations: int,
    shift: int, limit_ms: int,
    line: Array, waits: Array, most: Array, over: Array,
    is_away: int, out: Array, out_at: int, away: Array, absences: Array, first: int, last: int,
) -> int:  # fmt: skip
    """The last stage: from `come` into `line`; each lane's longest wait, whose, and how many over the limit.

    `most` gets the longest wait as a key with the voter's number taken from the highest, so that of equal
    waits the first at the door counts; then that voter's wait here. `over` gets the voters over the limit.
    Gives how many rows there are more than voters.
    """
    free = v.all_of(_LEADING | 1)
    never = v.all_of(((1 << (TIME_BITS + 1 - shift)) - 1) << shift)
    low, zero, one = v.all_of((1 << shift) - 1), v.all_of(0), v.all_of(1)
    leading, limit = v.all_of(_LEADING), v.all_of(limit_ms)
    none = v.all_of(_LEADING >> shift)
    place = v.plus(v.load(lanes, 0), v.all_of(at * LANES))
    waited, beyond, longest, at_last, row = zero, zero, leading, zero, rows - rows
    for i in range(stations):
        v.store(line, i * LANES, free)
    for i in range(rows):
        arrives = v.load(come, (begin + i) * LANES)
        voter = v.both(arrives, low)
        end = v.look_up(ends, v.plus(v.times(v.down(voter, FLAG_BITS), v.all_of(LANES)), place))
        if is_away > 0:
            row = _stations_away(
                line, row, stations, shift, arrives, out, out_at, lanes, away, absences, first, last
            )
        starts = _starts(line, row, stations, free, arrives)
        begun = v.down(starts, shift)
        here = v.minus(begun, v.down(arrives, shift))
        waited = v.plus(waited, here)
        wait = v.minus(v.minus(begun, none), v.down(end, 32))
        wait = v.choose(v.less(arrives, never), wait, zero)
        beyond = v.plus(beyond, v.choose(v.less(limit, wait), one, zero))
        mine = v.either(v.up(wait, shift), v.either(v.minus(low, voter), leading))
        at_last = v.choose(v.less(longest, mine), here, at_last)
        longest = v.later(longest, mine)
        _join(line, row, stations, _leaves(shift, low, starts, arrives, v.both(end, v.all_of(_LOW_32))))
        row += 1
    v.store(waits, 0, waited)
    v.store(most, 0, longest)
    v.store(most, LANES, at_last)
    v.store(over, 0, beyond)
    return row - rows


@v.inner
def _parted(
    come: Array, first: int, rows: int, mark: Array, at: int, shift: int, inside: Array, special: Array,
    group: int, never: int,
    general: Array, apart: Array, ends_at: Array,
) -> tuple[int, int]:  # fmt: skip
    """Part the rows of `come` into those for general and those for accessible stations, each without gaps.

    Returns how many rows each has; a lane's rows after its last voter are never reached.
    """
    low = (1 << shift) - 1
    most, most_apart = 0, 0
    for lane in range(LANES):
        apart_here = special[group * FACTS * LANES + SPECIAL * LANES + lane]
        most = max(most, inside[lane] - apart_here)
        most_apart = max(most_apart, apart_here)
        ends_at[lane] = 0
        ends_at[LANES + lane] = 0
    for i in range(rows):
        for lane in range(LANES):
            if i < inside[lane]:
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
    rows: int, never: int,
    into: Array, heads: Array,
) -> None:  # fmt: skip
    """Two lists in order into one, lane by lane."""
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
    group: int, at: int, shift: int, opens_ms: int, closes_ms: int, counts: Array, totals: Array,
    inside: Array, lane_days: Array, door: Array, check_in: Array, mark: Array, checked: Array, out: Array,
    waits: Array, most: Array, over: Array, is_curb: int, curb: Array, told: Array,
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
        row[LAST_OUT] = 0
        if inside[lane] > 0:
            row[LAST_OUT] = (out[(counts[3] + inside[lane] - 1) * LANES + lane] ^ _LEADING) >> shift
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


def room(rows: Array, drawn_facts: Array, candidates: Array, spans: Array) -> tuple[Any, Any]:
    """Arrays for the work of `pass_through`: the lines, and what is kept beside them.

    A line has a row for each voter and station, and one for each station that fails or absence that begins,
    which may come to each lane at another time.
    """
    facts = drawn_facts.reshape(len(rows), FACTS, LANES)
    failed = facts[:, FAILED : FAILED + 3].sum(axis=(1, 2))
    away = (spans[:, :, 1] - spans[:, :, 0]).max() * LANES
    most = int((rows + failed).max() + away + candidates.max() + 2) * LANES
    lines = tuple(np.empty(most, np.int64) for _ in range(7))
    sizes = (4 * LANES, 2 * LANES, LANES, LANES, AWAY * LANES, 5 * LANES, 2 * LANES, 4, 4, 3)
    return lines, (*(np.zeros(size, np.int64) for size in sizes), np.arange(LANES))


@v.compiled
def pass_through(
    lane_days: Array, rows: Array, begins: Array, totals: Array, door: Array, check_in: Array, mark: Array,
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
    marking and casting, one row each, then the waits at the curb (voter, lane).

    For work: `lines` and `small` as `room` makes them; `curb_waits`, int64, as many as the longest group has,
    if any voter is at the curb.
    """
    checked, marked, marked_apart, general, apart, merged, left = lines
    waits, most, over, inside, away, curb, heads, is_away, out_at, fails, lanes, curb_free = small
    for group in range(len(rows)):
        at, n = begins[group], rows[group]
        shift = FLAG_BITS
        while (n + 1) >> (shift - FLAG_BITS):
            shift += 1
        never = _LEADING | (((1 << (TIME_BITS - shift)) - 1) << shift) | (n << FLAG_BITS)
        # All numbers are of one type, or the parts are compiled twice.
        special, is_curb, n_in = n - n, n - n, n - n
        for step in range(3):
            fails[step] = 0
        for lane in range(LANES):
            spot = group * FACTS * LANES + lane
            special += facts[spot + SPECIAL * LANES]
            is_curb += facts[spot + AT_CURB * LANES]
            inside[lane] = totals[group * LANES + lane] - facts[spot + AT_CURB * LANES]
            n_in = max(n_in, inside[lane])
            for step in range(3):
                fails[step] += facts[spot + (FAILED + step) * LANES]
        if is_curb > 0:
            _curb(
                door, check_in, at, group, totals, curb_stations, opens_ms, limit_ms, curb_free, curb_waits,
                curb,
            )  # fmt: skip
        most_general, most_apart, top = n, n - n, n - n
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
                _set_out(is_away[0], away, absences, spans[c, 0, 0], spans[c, 0, 1], shift)
                more = _check_in(
                    door, check_in, at, n, counts[0], opens_ms, shift, checked, waits[:LANES], is_curb, lanes,
                    is_away[0], out, out_at[0], away, absences, spans[c, 0, 0], spans[c, 0, 1],
                )  # fmt: skip
                if is_curb > 0 or is_away[0] > 0:
                    _close_up(checked, counts[0], n + more, n_in, never)
            come, begin, at_mark = checked, counts[0], n_in
            if special > 0:
                if new_check_in:
                    most_general, most_apart = _parted(
                        checked, counts[0], n_in, mark, at, shift, inside, facts, group, never, general,
                        apart, heads,
                    )  # fmt: skip
                come, begin, at_mark = general, top, most_general
            if new_mark:
                _set_out(is_away[1], away, absences, spans[c, 1, 0], spans[c, 1, 1], shift)
                more = _marking(
                    come, begin, at_mark, mark, at, lanes, counts[1], shift, marked, waits[LANES : 2 * LANES],
                    is_away[1], out, out_at[1], away, absences, spans[c, 1, 0], spans[c, 1, 1],
                )  # fmt: skip
                if is_away[1] > 0:
                    _close_up(marked, counts[1], at_mark + more, at_mark, never)
            come, begin = marked, counts[1]
            if special == 0:
                for lane in range(LANES):
                    waits[2 * LANES + lane] = 0
            else:
                if new_apart:
                    _set_out(is_away[2], away, absences, spans[c, 2, 0], spans[c, 2, 1], shift)
                    more = _marking(
                        apart, top, most_apart, mark, at, lanes, counts[2], shift, marked_apart,
                        waits[2 * LANES : 3 * LANES],
                        is_away[2], out, out_at[2], away, absences, spans[c, 2, 0], spans[c, 2, 1],
                    )  # fmt: skip
                    if is_away[2] > 0:
                        _close_up(marked_apart, counts[2], most_apart + more, most_apart, never)
                if new_mark or new_apart:
                    _merged(
                        marked, counts[1], most_general, marked_apart, counts[2], most_apart, n_in, never,
                        merged, heads,
                    )  # fmt: skip
                come, begin = merged, top
            _set_out(is_away[3], away, absences, spans[c, 3, 0], spans[c, 3, 1], shift)
            more = _casting(
                come, begin, n_in, ends, at, lanes, counts[3], shift, limit_ms, left, waits[3 * LANES :],
                most, over,
                is_away[3], out, out_at[3], away, absences, spans[c, 3, 0], spans[c, 3, 1],
            )  # fmt: skip
            if is_away[3] > 0:
                _close_up(left, counts[3], n_in + more, n_in, never)
            _told(
                group, at, shift, opens_ms, closes_ms, counts, totals, inside, lane_days, door, check_in,
                mark, checked, left, waits, most, over, is_curb, curb, told[c],
            )  # fmt: skip
    # The last group and candidate as they went: what `voters_of` reads.
    if len(trace) > 0:
        for k in range(n_in * LANES):
            trace[0, k] = checked[counts[0] * LANES + k]
            trace[1, k] = come[begin * LANES + k]
            trace[2, k] = left[counts[3] * LANES + k]
        if is_curb > 0:
            for k in range(n * LANES):
                trace[3, k] = curb_waits[k]
