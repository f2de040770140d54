"""From one moment of a site's day to another, for many possible states at once: compiled, event by event.

A state is: how many stand in line at each stage, when each station is free again, how many are checked in.
Stage after stage is gone through, as in a whole day; what has not begun by the end of the stretch stands in
line at the end of it. `plan.lines.reference` tells the same day; a test holds both to the millisecond.

A probe is a voter who takes no station's time: its wait is what somebody who joined then would have waited.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pollstead.plan.lines import draws, laws
from pollstead.plan.lines.vectors import compiled

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

CHECK_IN, MARK, ACCESSIBLE, CAST = range(4)
STAGES = 4
VOTER_BITS = draws.VOTER_BITS
VOTER_MASK = (1 << VOTER_BITS) - 1
PROBE = 1 << (VOTER_BITS - 1)
"""Ids from here on are probes."""
LEAVE, OTHER, SPARE = STAGES, STAGES + 1, STAGES + 2
"""Rows of work lists after those of the stages."""
FAR_MS = 1 << 38
"""Later than any day."""
_PURPOSES = np.array([draws.CHECK_IN, draws.MARK, draws.MARK, draws.CAST], np.int64)
_REPAIRS = np.array([draws.REPAIR[0], draws.REPAIR[1], draws.REPAIR[1], draws.REPAIR[2]], np.int64)
_JAM_TIME, _OTHER_KEY = draws.JAM_TIME, np.uint64(draws.OTHER_KEY)
_CHANCE_BITS, _CHANCE = draws.CHANCE_BITS, np.uint64((1 << draws.CHANCE_BITS) - 1)
_GAP, _CLASS, _PURPOSE_BITS = draws.GAP, draws.CLASS, draws.PURPOSE_BITS
_LOW_TAIL, _HIGH_TAIL = laws.LOW_TAIL, laws.HIGH_TAIL
_GAP_UNIT = float(laws.GAP_MEAN)
_GOLDEN, _MIX_1, _MIX_2 = np.uint64(draws.GOLDEN), np.uint64(draws.MIX_1), np.uint64(draws.MIX_2)
_S2, _S24, _S27, _S30, _S31, _S48, _S56 = (np.uint64(n) for n in (2, 24, 27, 30, 31, 48, 56))
_BYTE, _PART = np.uint64(255), np.uint64(0xFFFFFF)

CAME, SUM_WAIT, LONGEST, LAST_OUT, LONGEST_OTHERS = range(5)
SUMS = 5
"""Kept of a stretch: voters who came, their and the waiting voters' time in line, longest, last one done; the
longest of those who need no accessible station."""


@compiled
def _word(key: Any, day: int, voter: int, purpose: int) -> Any:
    counter = (((day << VOTER_BITS) | voter) << _PURPOSE_BITS) | purpose
    z = key + _GOLDEN * np.uint64(counter)
    z = (z ^ (z >> _S30)) * _MIX_1
    z = (z ^ (z >> _S27)) * _MIX_2
    return z ^ (z >> _S31)


@compiled
def _quantile(table: Ints, bits: Any) -> int:
    at = np.int64(bits >> _S56)
    if at == 0:
        at = _LOW_TAIL + np.int64((bits >> _S48) & _BYTE)
    elif at == 255:
        at = _HIGH_TAIL + np.int64((bits >> _S48) & _BYTE)
    low = table[at]
    part = np.int64((bits >> _S24) & _PART)
    drawn: int = (low + (((table[at + 1] - low) * part) >> 24) + 128) >> 8
    return drawn


@compiled
def _fails(bits: Any, takes: int, rate: int) -> Any:
    """``draws.fails``: whether the station fails at the end of this service."""
    x = min((takes * rate) >> _CHANCE_BITS, 1 << _CHANCE_BITS)
    drawn = np.int64(bits & _CHANCE)
    square = (x * x) >> _CHANCE_BITS
    failing: Any = drawn < x - (square >> 1) + ((square * x) >> _CHANCE_BITS) // 6
    return failing


@compiled
def _put(sorted_list: Ints, size: int, value: int) -> None:
    """Put a value into a sorted list from the back, where it nearly belongs."""
    at = size
    while at > 0 and sorted_list[at - 1] > value:
        sorted_list[at] = sorted_list[at - 1]
        at -= 1
    sorted_list[at] = value


@compiled
def _arrive(
    key: Any,
    slot: int,
    first: int,
    from_ms: int,
    until_ms: int,
    edges: Ints,
    rates: Floats,
    gaps: Ints,
    out: Ints,
) -> int:
    """Voters of a Poisson process with a rate (voters a millisecond) for each quarter hour; how many came."""
    came, quarter = 0, 0
    while quarter < len(rates) and edges[quarter + 1] <= from_ms:
        quarter += 1
    at = float(from_ms)
    left = float(_quantile(gaps, _word(key, slot, first, _GAP))) / _GAP_UNIT
    while quarter < len(rates) and edges[quarter] < until_ms:
        room = (float(edges[quarter + 1]) - at) * rates[quarter]
        if left >= room:
            left -= room
            quarter += 1
            if quarter < len(rates):
                at = float(edges[quarter])
            continue
        at += left / rates[quarter]
        if at >= until_ms or came + 1 >= len(out):
            break
        out[came] = (np.int64(at) << VOTER_BITS) | (first + came)
        came += 1
        left = float(_quantile(gaps, _word(key, slot, first + came, _GAP))) / _GAP_UNIT
    return came


@compiled
def _merged(one: Ints, n: int, other: Ints, m: int, out: Ints) -> int:
    i, j = 0, 0
    while i < n or j < m:
        if j >= m or (i < n and one[i] < other[j]):
            out[i + j] = one[i]
            i += 1
        else:
            out[i + j] = other[j]
            j += 1
    return n + m


@compiled
def _copy(values: Ints, n: int, out: Ints, at: int) -> None:
    for i in range(n):
        out[at + i] = values[i]


@compiled
def _serve(
    key: Any,
    slot: int,
    purpose: int,
    table: Ints,
    factor: float,
    rate: int,
    repair: int,
    repairs: Ints,
    jams: int,
    jam_table: Ints,
    line: bool,
    reach: Ints,
    n: int,
    until_ms: int,
    free: Ints,
    stations: int,
    steps: Ints,
    leaving: Ints,
    left: int,
    waited: Ints,
    grid: Ints,
    inline: Ints,
) -> tuple[int, int, int]:
    """First come, first served; stations come and go at the steps. Gives leavers, stations, still in line.

    `leaving` holds `left` sorted leavers already; a station that goes is the first one free at the step or
    later. `waited` grows by each one's wait, `inline` by one for each grid moment at which one stands here.
    Without a `line` there is room for everybody, and `free` keeps who is inside at the end. With a `rate`
    (``draws.use_rate``) a station fails at the end of a service, with `jams` (``draws.chance_threshold``) a
    ballot jams.
    """
    step, waiting, low, high = 0, 0, 0, 0
    for i in range(n):
        at, voter = reach[i] >> VOTER_BITS, reach[i] & VOTER_MASK
        real = voter < PROBE
        mine = voter if real else len(waited) - 1 - (voter - PROBE)
        start = at
        while line:
            start = max(at, free[0]) if stations > 0 else FAR_MS
            if step >= len(steps) or steps[step, 0] > start or steps[step, 0] >= until_ms:
                break
            stations = _step(free, stations, steps[step, 0], steps[step, 1])
            step += 1
        begins = min(start, until_ms)
        waited[mine] += begins - at
        if real and line:
            while low < len(grid) and grid[low] < at:
                low += 1
            while high < len(grid) and grid[high] < begins:
                high += 1
            if low < high:
                inline[low] += 1
                inline[high] -= 1
        if start >= until_ms:
            waiting += 1 if real else 0
            continue
        bits = _word(key, slot, voter & (PROBE - 1), purpose)
        takes = max(1, np.int64(_quantile(table, bits) * factor))
        back = start + takes
        if rate > 0 and real and line and _fails(bits, takes, rate):
            back += _quantile(repairs, _word(key, slot, voter, repair))
        if jams > 0 and real and np.int64(_word(key, slot, voter, _CLASS) & _CHANCE) < jams:
            jam = _quantile(jam_table, _word(key ^ _OTHER_KEY, slot, voter, _JAM_TIME))
            takes, back = takes + jam, back + jam
        gone = start + takes
        if real and line:
            k = 0
            while k + 1 < stations and free[k + 1] < back:
                free[k] = free[k + 1]
                k += 1
            free[k] = back
        elif real and gone >= until_ms and stations < len(free):
            _put(free, stations, gone)
            stations += 1
        if gone < until_ms:
            _put(leaving, left, (gone << VOTER_BITS) | voter)
            left += 1
    while line and step < len(steps) and steps[step, 0] < until_ms:
        if steps[step, 1] > 0 or (stations > 0 and free[0] < until_ms):
            stations = _step(free, stations, steps[step, 0], steps[step, 1])
        step += 1
    return left, stations, waiting


@compiled
def _step(free: Ints, stations: int, at_ms: int, by: int) -> int:
    """A station more, or the first one free fewer; how many there are then."""
    if by > 0:
        if stations < len(free):
            _put(free, stations, at_ms)
            return stations + 1
        return stations
    if stations == 0:
        return 0
    for k in range(stations - 1):
        free[k] = free[k + 1]
    return stations - 1


@compiled
def _at_hand(free: Ints, stations: int, wanted: int, from_ms: int) -> int:
    """Stations put to work or taken away at the very beginning; one that is busy stays until it is free."""
    while stations < wanted and stations < len(free):
        stations = _step(free, stations, from_ms, 1)
    while stations > wanted and free[0] <= from_ms:
        stations = _step(free, stations, from_ms, -1)
    return stations


@compiled
def play(
    key: Any,
    from_ms: int,
    until_ms: int,
    edges: Ints,
    rates: Floats,
    gaps: Ints,
    tables: Ints,
    use_rates: Ints,
    repairs: Ints,
    jams: int,
    jam_table: Ints,
    threshold: int,
    here: Ints,
    factors: Floats,
    queue: Ints,
    free: Ints,
    stations: Ints,
    wanted: Ints,
    steps: Ints,
    done: Ints,
    probes: Ints,
    grid: Ints,
    sums: Ints,
    probe_waits: Ints,
    inline: Ints,
    room: int,
) -> None:
    """Take every state from `from_ms` to `until_ms`; states change in place.

    Shapes: `edges` (quarters + 1,), `rates` (states, quarters), `tables` (4, KNOTS), `use_rates` (4,) 0 where
    nothing fails, `repairs` (4, KNOTS), `jams` and `jam_table` as in `_serve`, `here` (4,) 0 not there,
    1 a line, 2 room for everybody; `factors` (states, 4) on service times; `queue`, `stations` (states, 4);
    `free` (states, 4, most); `wanted` (4,) stations from `from_ms` on; `steps` (n, 3) moment, +1 or
    -1, stage, by moment; `done` (states,); `probes` (n,) moments; `grid` (g,) moments; `sums` (states, SUMS);
    `probe_waits` (states, n, 3): check-in, marking, casting; `inline` (states, 4, g + 1).
    """
    many = len(probes)
    # Rows: who reaches each stage in order of time; who leaves it; room for a merge.
    lists = np.empty((STAGES + 3, room), np.int64)
    numbers = np.empty(STAGES, np.int64)
    waited = np.empty(room + many, np.int64)
    apart = np.empty(room + many, np.bool_)
    mine = np.empty((len(steps) + free.shape[2], 2), np.int64)
    for slot in range(len(done)):
        for i in range(len(waited)):
            waited[i] = 0
            apart[i] = False
        # Ids follow from the state alone, so that voters keep their draws whatever happens at the stations.
        inside = 0
        for k in range(STAGES):
            for i in range(queue[slot, k]):
                lists[k, i] = (from_ms << VOTER_BITS) | (inside + i)
            numbers[k] = queue[slot, k]
            inside += queue[slot, k]
        newcomers = inside
        for k in range(STAGES):
            newcomers += stations[slot, k]
        limit = max(1, room - newcomers - many - 8)
        came = _arrive(
            key, slot, newcomers, from_ms, until_ms, edges, rates[slot], gaps, lists[LEAVE, :limit]
        )
        for i in range(many):
            lists[SPARE, i] = (probes[i] << VOTER_BITS) | (PROBE + i)
        _copy(lists[0], numbers[0], lists[OTHER], 0)
        _copy(lists[LEAVE], came, lists[OTHER], numbers[0])
        numbers[0] = _merged(lists[OTHER], numbers[0] + came, lists[SPARE], many, lists[0])
        last = from_ms
        for k in range(STAGES):
            count, left = stations[slot, k], 0
            pool, leaving = free[slot, k], lists[LEAVE]
            stay = 0
            for i in range(count):
                if pool[i] > from_ms and pool[i] < until_ms:
                    leaving[left] = (pool[i] << VOTER_BITS) | (inside + i)
                    left += 1
                if here[k] == 2 and pool[i] >= until_ms:
                    pool[stay] = pool[i]
                    stay += 1
            inside += count
            if here[k] == 0:
                left = numbers[k]
                _copy(lists[k], left, leaving, 0)
            else:
                count = stay if here[k] == 2 else _at_hand(pool, count, wanted[k], from_ms)
                if k == ACCESSIBLE:
                    for i in range(numbers[k]):
                        if lists[k, i] & VOTER_MASK < PROBE:
                            apart[lists[k, i] & VOTER_MASK] = True
                told = 0
                while here[k] == 1 and told < count - wanted[k]:
                    mine[told, 0], mine[told, 1] = from_ms, -1
                    told += 1
                for i in range(len(steps)):
                    if steps[i, 2] == k:
                        mine[told, 0], mine[told, 1] = steps[i, 0], steps[i, 1]
                        told += 1
                left, count, waiting = _serve(
                    key,
                    slot,
                    _PURPOSES[k],
                    tables[k],
                    factors[slot, k],
                    use_rates[k],
                    _REPAIRS[k],
                    repairs[k],
                    jams if k == CAST else 0,
                    jam_table,
                    here[k] == 1,
                    lists[k],
                    numbers[k],
                    until_ms,
                    pool,
                    count,
                    mine[:told],
                    leaving,
                    left,
                    waited,
                    grid,
                    inline[slot, k],
                )
                stations[slot, k] = count
                queue[slot, k] = waiting
            if k == CHECK_IN:
                for i in range(left):
                    voter = leaving[i] & VOTER_MASK
                    done[slot] += 1 if voter < PROBE else 0
                    to = MARK
                    if threshold > 0 and voter < PROBE and here[ACCESSIBLE] > 0:
                        special = np.int64(_word(key, slot, voter, _CLASS) >> _S2) < threshold
                        to = ACCESSIBLE if special else MARK
                    lists[to, numbers[to]] = leaving[i]
                    numbers[to] += 1
            elif k == MARK:
                _copy(leaving, left, lists[OTHER], 0)
                numbers[MARK] = left
            elif k == ACCESSIBLE:
                _copy(lists[CAST], numbers[CAST], lists[SPARE], 0)
                total = _merged(lists[OTHER], numbers[MARK], leaving, left, lists[MARK])
                numbers[CAST] = _merged(lists[SPARE], numbers[CAST], lists[MARK], total, lists[CAST])
            for i in range(left - 1, -1, -1):
                if leaving[i] & VOTER_MASK < PROBE:
                    last = max(last, leaving[i] >> VOTER_BITS)
                    break
            if k != ACCESSIBLE:
                at = CAST - 1 if k == CAST else k
                for i in range(many):
                    probe_waits[slot, i, at] = waited[len(waited) - 1 - i]
                    for earlier in range(at):
                        probe_waits[slot, i, at] -= probe_waits[slot, i, earlier]
            for g in range(1, len(grid)):
                inline[slot, k, g] += inline[slot, k, g - 1]
        sums[slot, CAME], sums[slot, LAST_OUT] = came, last
        for i in range(newcomers + came):
            sums[slot, SUM_WAIT] += waited[i]
            sums[slot, LONGEST] = max(sums[slot, LONGEST], waited[i])
            if not apart[i]:
                sums[slot, LONGEST_OTHERS] = max(sums[slot, LONGEST_OTHERS], waited[i])
