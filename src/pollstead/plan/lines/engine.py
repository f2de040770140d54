"""The simulation of a site's day, compiled: event-exact, whole milliseconds, one thread a call.

It equals ``draws`` and ``reference`` to the millisecond; tests hold it to that. The idea of the queue: a
sorted list of departures serves twice. Its entry number i is the i-th earliest moment at which a station is
free, and, once the day is over, the list is the arrivals of the next stage in their order. A new departure
is put in from the back, where it nearly belongs already.

A moment and its voter are one number, ``ms << 24 | voter``: ties in time go by order of arrival at the door.
The day's voters are the same for all candidates, so they are drawn once, and candidates in sorted order share
the stages in which they do not differ from the one before.

The compiled code is cached on disk and holds the constants of ``draws`` and ``laws``; the cache is renewed
when this file changes, so touch it when those constants do.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from pollstead.plan.lines import draws, laws

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

LONGEST, OVER, LAST_OUT, SUM_CHECK_IN, SUM_MARK, SUM_ACCESSIBLE, SUM_CAST, BINDING = range(8)
SUM_CURBSIDE, LEFT = 8, 9
COLUMNS = 10
"""Kept of a day: longest wait, voters over the limit, last voter done, waits by stage, stage that binds.

Also waits at the curb and voters who left the line, which this engine does not do: 0.
"""

LAW_GAP, LAW_CHECK_IN, LAW_MARK, LAW_ACCESSIBLE, LAW_CAST = range(5)
VOTER_BITS = draws.VOTER_BITS
VOTER_MASK = (1 << VOTER_BITS) - 1
PURPOSE_BITS = draws.PURPOSE_BITS
SHARE_BITS = draws.SHARE_BITS
GAP, CLASS, CHECK_IN, MARK, CAST = draws.GAP, draws.CLASS, draws.CHECK_IN, draws.MARK, draws.CAST
LOW_TAIL, HIGH_TAIL = laws.LOW_TAIL, laws.HIGH_TAIL
_GOLDEN, _MIX_1, _MIX_2 = np.uint64(draws.GOLDEN), np.uint64(draws.MIX_1), np.uint64(draws.MIX_2)
_S2, _S24, _S27, _S30, _S31, _S48, _S56 = (np.uint64(n) for n in (2, 24, 27, 30, 31, 48, 56))
_ZERO, _ONE, _VOTER_MASK = np.uint64(0), np.uint64(1), np.uint64(VOTER_MASK)
_BYTE, _PART = np.uint64(255), np.uint64(0xFFFFFF)


def _compiled(function: Any) -> Any:
    """Compile to machine code, kept on the disk where a folder for it can be written.

    Where neither the package's folder nor the person's own can be written, numba refuses to keep it; then
    it is compiled anew in each run, which costs seconds and changes no number.
    """
    try:
        return njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError as error:
        if "cannot cache" not in str(error):
            raise
        return njit(nogil=True, error_model="numpy")(function)


@_compiled
def _word(key: Any, day: int, voter: int, purpose: int) -> Any:
    counter = (((day << VOTER_BITS) | voter) << PURPOSE_BITS) | purpose
    z = key + _GOLDEN * np.uint64(counter)
    z = (z ^ (z >> _S30)) * _MIX_1
    z = (z ^ (z >> _S27)) * _MIX_2
    return z ^ (z >> _S31)


@_compiled
def _quantile(table: Ints, bits: Any) -> int:
    at = np.int64(bits >> _S56)
    if at == 0:
        at = LOW_TAIL + np.int64((bits >> _S48) & _BYTE)
    elif at == 255:
        at = HIGH_TAIL + np.int64((bits >> _S48) & _BYTE)
    low = table[at]
    part = np.int64((bits >> _S24) & _PART)
    drawn: int = (low + (((table[at + 1] - low) * part) >> 24) + 128) >> 8
    return drawn


@_compiled
def _draw_day(
    key: Any,
    day: int,
    n: int,
    waiting: int,
    edges: Ints,
    cumulative: Ints,
    tables: Ints,
    threshold: int,
    door: Ints,
    service: Ints,
) -> int:
    """Fill `door` (arrivals, sorted keys) and `service` (check-in, marking, casting).

    A marking time of ``-1 - ms`` is at an accessible station.
    Returns how many voters need an accessible station.
    """
    gaps, check_in = tables[LAW_GAP], tables[LAW_CHECK_IN]
    mark, accessible, cast = tables[LAW_MARK], tables[LAW_ACCESSIBLE], tables[LAW_CAST]
    total = 0
    for voter in range(waiting, n):
        total += _quantile(gaps, _word(key, day, voter, GAP))
        door[voter] = total
    total += _quantile(gaps, _word(key, day, n, GAP))
    for voter in range(waiting):
        door[voter] = (edges[0] << VOTER_BITS) | voter
    slot = 0
    for voter in range(waiting, n):
        place = (door[voter] << SHARE_BITS) // total
        while place >= cumulative[slot + 1]:
            slot += 1
        width = edges[slot + 1] - edges[slot]
        past = (place - cumulative[slot]) * width // (cumulative[slot + 1] - cumulative[slot])
        door[voter] = ((edges[slot] + past) << VOTER_BITS) | voter
    special = 0
    for voter in range(n):
        service[0, voter] = _quantile(check_in, _word(key, day, voter, CHECK_IN))
        service[2, voter] = _quantile(cast, _word(key, day, voter, CAST))
        chance = _word(key, day, voter, MARK)
        if threshold > 0 and np.int64(_word(key, day, voter, CLASS) >> _S2) < threshold:
            service[1, voter] = -1 - _quantile(accessible, chance)
            special += 1
        else:
            service[1, voter] = _quantile(mark, chance)
    return special


@_compiled
def _serve(
    arrivals: Ints, n: int, service: Ints, stations: int, free_ms: int, leaving: Ints, wait: Ints
) -> None:
    """First come, first served at `stations` (0: always room), all free from `free_ms` on.

    `arrivals` are n sorted keys; `leaving[stations : stations + n]` becomes the sorted departures.
    """
    for i in range(stations):
        leaving[i] = free_ms << VOTER_BITS
    # Unsigned places: the compiler then leaves out the look at whether a place counts from the end.
    for i in range(n):
        key = arrivals[i]
        voter = np.uint64(key) & _VOTER_MASK
        start = key >> VOTER_BITS
        waits = 0
        free = leaving[i] >> VOTER_BITS if stations > 0 else free_ms
        if free > start:
            waits = free - start
            start = free
        wait[voter] = waits
        done = ((start + service[voter]) << VOTER_BITS) | np.int64(voter)
        at = np.uint64(i + stations)
        while at > _ZERO:
            earlier = leaving[at - _ONE]
            if earlier <= done:
                break
            leaving[at] = earlier
            at -= _ONE
        leaving[at] = done


@_compiled
def _pass_day(
    n: int,
    special: int,
    opens_ms: int,
    door: Ints,
    service: Ints,
    counts: Ints,
    before: Ints,
    again: bool,
    wait: Ints,
    scratch: Ints,
) -> int:
    """Send n voters through the stages; fills `wait` (stage, voter); returns when the last is done.

    `before` are the counts of the pass before this one. Where it was of the same day (`again`), a stage
    whose voters and whose number are the same as then is not gone through again.
    """
    first = counts[0]
    one, two, three, merged = scratch[0], scratch[1], scratch[2], scratch[7]
    general, apart, took = scratch[3], scratch[4], scratch[5]
    new_check_in = not again or first != before[0]
    new_mark = new_check_in or counts[1] != before[1]
    new_apart = new_check_in or counts[2] != before[2]
    if new_check_in:
        _serve(door, n, service[0], first, opens_ms, one, wait[0])
    to_mark = one[first:]
    if special == 0:
        if new_mark:
            _serve(to_mark, n, service[1], counts[1], 0, two, wait[1])
        to_cast = two[counts[1] :]
    else:
        if new_check_in:
            g = 0
            s = 0
            for i in range(n):
                voter = to_mark[i] & VOTER_MASK
                took[voter] = service[1, voter]
                if took[voter] < 0:
                    took[voter] = -1 - took[voter]
                    apart[s] = to_mark[i]
                    s += 1
                else:
                    general[g] = to_mark[i]
                    g += 1
        if new_mark:
            _serve(general, n - special, took, counts[1], 0, two, wait[1])
        if new_apart:
            _serve(apart, special, took, counts[2], 0, three, wait[1])
        to_cast = merged[0:]
        if new_mark or new_apart:
            left, right = two[counts[1] :], three[counts[2] :]
            i = 0
            j = 0
            for k in range(n):
                if j >= special or (i < n - special and left[i] < right[j]):
                    to_cast[k] = left[i]
                    i += 1
                else:
                    to_cast[k] = right[j]
                    j += 1
    out = scratch[6]
    _serve(to_cast, n, service[2], counts[3], 0, out, wait[2])
    last: int = out[counts[3] + n - 1] >> VOTER_BITS
    return last


@_compiled
def _summary(n: int, limit_ms: int, last_out: int, service: Ints, wait: Ints, row: Ints) -> None:
    longest = -1
    who = 0
    over = 0
    check_in = 0
    mark = 0
    accessible = 0
    cast = 0
    for voter in range(n):
        at_mark = wait[1, voter]
        total = wait[0, voter] + at_mark + wait[2, voter]
        if total > longest:
            longest = total
            who = voter
        if total > limit_ms:
            over += 1
        check_in += wait[0, voter]
        cast += wait[2, voter]
        if service[1, voter] < 0:
            accessible += at_mark
        else:
            mark += at_mark
    binding = -1
    if longest > 0:
        binding = 0
        most = wait[0, who]
        if wait[1, who] > most:
            binding = 2 if service[1, who] < 0 else 1
            most = wait[1, who]
        if wait[2, who] > most:
            binding = 3
    row[LONGEST], row[OVER], row[LAST_OUT], row[BINDING] = longest, over, last_out, binding
    row[SUM_CHECK_IN], row[SUM_MARK], row[SUM_ACCESSIBLE], row[SUM_CAST] = check_in, mark, accessible, cast


@_compiled
def _draw(
    key: Any,
    first_day: int,
    totals: Ints,
    waiting: Ints,
    edges: Ints,
    cumulative: Ints,
    tables: Ints,
    threshold: int,
    begins: Ints,
    door: Ints,
    service: Ints,
    special: Ints,
) -> None:
    """Draw all days, one after the other, into `door` and `service`; day d begins at ``begins[d]``."""
    most = totals.max() + 1
    mine = np.empty(most, np.int64)
    times = np.empty((3, most), np.int64)
    for d in range(len(totals)):
        n = totals[d]
        if n > 0:
            special[d] = _draw_day(
                key, first_day + d, n, waiting[d], edges, cumulative, tables, threshold, mine, times
            )
            at = begins[d]
            door[at : at + n] = mine[:n]
            service[:, at : at + n] = times[:, :n]


@_compiled
def _pass(
    totals: Ints,
    begins: Ints,
    door: Ints,
    service: Ints,
    special: Ints,
    opens_ms: int,
    closes_ms: int,
    candidates: Ints,
    limit_ms: int,
    out: Ints,
    trace: Ints,
) -> None:
    """All days for all candidates into `out` (candidate, day, column); `trace` keeps the last pass."""
    most = totals.max() + 1
    room = most + candidates.max() + 1
    wait = np.zeros((3, most), np.int64)
    scratch = np.empty((8, room), np.int64)
    come = np.empty(most, np.int64)
    times = np.empty((3, most), np.int64)
    for d in range(len(totals)):
        n = totals[d]
        if n == 0:
            for c in range(len(candidates)):
                out[c, d, :] = 0
                out[c, d, LAST_OUT] = closes_ms
                out[c, d, BINDING] = -1
            continue
        # Copied, because what lies one number beside the other is read faster.
        at = begins[d]
        come[:n] = door[at : at + n]
        times[:, :n] = service[:, at : at + n]
        for c in range(len(candidates)):
            before = candidates[max(0, c - 1)]
            last = _pass_day(
                n, special[d], opens_ms, come, times, candidates[c], before, c > 0, wait, scratch
            )
            _summary(n, limit_ms, last, times, wait, out[c, d])
        for voter in range(min(n, trace.shape[1])):
            trace[0, voter] = come[voter] >> VOTER_BITS
            for k in range(3):
                trace[1 + k, voter] = wait[k, voter]
            trace[4, voter] = times[1, voter]
            trace[5, voter] = times[0, voter]


class DrawnDays:
    """The voters of some days, drawn: when they come and how long they take, the same for all candidates.

    `totals`, `begins` and `special`: int64, shape (days,), voters of a day, where the day begins in `door`,
    and how many of them need an accessible station. `door`: int64, shape (voters,), keys in order.
    `service`: int64, shape (3, voters), check-in, marking (-1 - time: accessible), casting.
    """

    __slots__ = ("begins", "closes_ms", "door", "service", "special", "totals")

    def __init__(self, totals: Ints, closes_ms: int) -> None:
        self.totals = totals
        self.closes_ms = closes_ms
        self.begins = np.cumsum(totals) - totals
        self.door = np.empty(int(totals.sum()), np.int64)
        self.service = np.empty((3, int(totals.sum())), np.int64)
        self.special = np.zeros(len(totals), np.int64)

    @property
    def size(self) -> int:
        """Bytes that the drawn days take."""
        return self.door.nbytes + self.service.nbytes


def draw_days(
    key: int,
    first_day: int,
    totals: Ints,
    waiting: Ints,
    edges: Ints,
    cumulative: Ints,
    tables: Ints,
    threshold: int,
) -> DrawnDays:
    """Draw the voters of days `first_day` on; arguments as in `simulate_days`. Releases the lock."""
    # Copies are writable: a read-only array would make numba compile everything a second time.
    copied = [np.array(a, np.int64) for a in (totals, waiting, edges, cumulative, tables)]
    drawn = DrawnDays(copied[0], int(edges[-1]))
    _draw(
        np.uint64(key), first_day, *copied, threshold, drawn.begins, drawn.door, drawn.service, drawn.special
    )
    return drawn


def pass_days(
    drawn: DrawnDays, opens_ms: int, candidates: Ints, limit_ms: int, trace_voters: int = 0
) -> tuple[Ints, Ints]:
    """Send the voters of drawn days through the stations of each row of `candidates`.

    The doors open at `opens_ms`. Returns what `simulate_days` does. Releases the interpreter lock.
    """
    out = np.zeros((len(candidates), len(drawn.totals), COLUMNS), np.int64)
    trace = np.zeros((6, trace_voters), np.int64)
    _pass(
        drawn.totals, drawn.begins, drawn.door, drawn.service, drawn.special, opens_ms, drawn.closes_ms,
        np.array(candidates, np.int64), limit_ms, out, trace,
    )  # fmt: skip
    return out, trace


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
) -> tuple[Ints, Ints]:
    """Simulate days `first_day` on for each row of `candidates`.

    `candidates`: int64, shape (candidates, 4), stations in the order of ``Stage``, 0: always room.
    `totals`, `waiting`: int64, shape (days,); `edges`, `cumulative`: int64, shape (slots + 1,), see
    ``draws``; `tables`: int64, shape (5, KNOTS), gap and service laws. Returns the days' rows, int64 of shape
    (candidates, days, COLUMNS), and, for tests, the last day's voters of the last candidate, int64 of shape
    (6, trace_voters): arrival, wait at check-in, marking, casting, marking time (-1 - time: accessible),
    check-in time.
    """
    drawn = draw_days(key, first_day, totals, waiting, edges, cumulative, tables, threshold)
    return pass_days(drawn, opens_ms, candidates, limit_ms, trace_voters)
