"""The voters of sixteen days at once: what ``draws`` defines, lane by lane, to the last bit.

One lane is one day. Rows are voters in order of arrival at the door; the arrays are flat, sixteen numbers a
row. A lane with fewer voters than the group's rows has -1 for their arrival and 0 for all else, and so has
the one row that stands after the group's last.

Compiled code is kept on the disk by this file's date: touch it when ``draws``, ``laws`` or ``vectors``
change.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pollstead.plan.lines import draws, laws
from pollstead.plan.lines import vectors as v

if TYPE_CHECKING:
    Array = Any

LANES = v.LANES
# Numbers given to parts of the compiled code are np.int64: for each plain one they would be compiled anew.
LAW_GAP, LAW_CHECK_IN, LAW_MARK, LAW_ACCESSIBLE, LAW_CAST = map(np.int64, range(5))
LAW_JAM, LAW_CURBSIDE, LAW_OUT_CHECK_IN, LAW_OUT_MARK, LAW_OUT_ACCESSIBLE, LAW_OUT_CAST = map(
    np.int64, range(5, 11)
)
LAWS = 11
KNOTS = laws.KNOTS
_LOW_TAIL, _HIGH_TAIL = laws.LOW_TAIL, laws.HIGH_TAIL
_GAP, _CLASS, _CHECK_IN, _MARK, _CAST = map(
    np.int64, (draws.GAP, draws.CLASS, draws.CHECK_IN, draws.MARK, draws.CAST)
)
_PURPOSE_BITS, _SHARE_BITS = draws.PURPOSE_BITS, draws.SHARE_BITS
_DAY_BITS = draws.VOTER_BITS + draws.PURPOSE_BITS
_WRAP = 1 << 64
_GOLDEN, _MIX_1, _MIX_2 = (draws.GOLDEN - _WRAP, draws.MIX_1 - _WRAP, draws.MIX_2 - _WRAP)
_LOW_32 = (1 << 32) - 1
_OTHER_KEY, _JAM_TIME = draws.OTHER_KEY, np.int64(draws.JAM_TIME)
_OUT_CHECK_IN, _OUT_MARK, _OUT_CAST = map(np.int64, draws.REPAIR)
_CHANCE_BITS = draws.CHANCE_BITS
_SIXTH = -(-(1 << 32) // 6)
"""Times this, down by 32 bits, is a sixth, rounded down, of any whole number up to 2**24."""

_TOGETHER = 64
"""Rows gone through lane by lane at a time: they stay in the nearest cache."""

FITS, LONG = 1, 2
"""Whether a law's knots are packed, or too large for that."""

SPECIAL, WORK_CHECK_IN, WORK_MARK, WORK_CAST, AT_CURB, WORK_CURBSIDE = map(np.int64, range(6))
FAILED, OUT = np.int64(6), np.int64(9)
FACTS = 12
"""Kept of a drawn day: voters who need an accessible station, and all service times of each step, in ms.

Also voters at the curb and their service times, and from `FAILED` and `OUT` on by step: how many stations
fail, and how long they are out together.
"""

RATE_CHECK_IN, RATE_MARK, RATE_ACCESSIBLE, RATE_CAST, JAM_BELOW, CURB_BELOW = range(6)
CHANCES = 6
"""What may happen besides: failures a ms of use (``draws.use_rate``), and ``draws``' bounds of the chances of
a jam and of the curb; 0 where it never happens."""


@v.inlined
def word(base: Any, voter: int, purpose: int) -> Any:
    """``draws.word`` for one voter of each lane's day; `base` from `bases`."""
    z = v.plus(base, v.all_of(_GOLDEN * ((voter << _PURPOSE_BITS) | purpose)))
    z = v.times(v.unlike(z, v.down(z, 30)), v.all_of(_MIX_1))
    z = v.times(v.unlike(z, v.down(z, 27)), v.all_of(_MIX_2))
    return v.unlike(z, v.down(z, 31))


@v.inlined
def bases(key: int, lane_days: Any) -> Any:
    """The part of the counters that a day fixes."""
    return v.plus(v.all_of(key), v.times(v.all_of(_GOLDEN), v.up(lane_days, _DAY_BITS)))


@v.inlined
def quantile(table: Array, first: Any, bits: Any) -> Any:
    """``draws.quantile`` of the law whose packed knots begin at `first` (lanes) of `table`.

    A packed knot is the knot in its low 32 bits and the step to the next one in its high 32.
    """
    at = v.down(bits, 56)
    tail = v.both(v.down(bits, 48), v.all_of(255))
    high = v.choose(v.same(at, v.all_of(255)), v.plus(tail, v.all_of(_HIGH_TAIL)), at)
    at = v.choose(v.same(at, v.all_of(0)), v.plus(tail, v.all_of(_LOW_TAIL)), high)
    knot = v.look_up(table, v.plus(at, first))
    part = v.both(v.down(bits, 24), v.all_of(0xFFFFFF))
    past = v.down(v.times(v.down(knot, 32), part), 24)
    return v.down(v.plus(v.plus(v.both(knot, v.all_of(_LOW_32)), past), v.all_of(128)), 8)


@v.inner
def _long_quantile(knots: Array, law: int, bits: Any) -> Any:
    """``draws.quantile`` of a law with knots beyond 32 bits, from the table as it is; slower."""
    at = v.down(bits, 56)
    tail = v.both(v.down(bits, 48), v.all_of(255))
    high = v.choose(v.same(at, v.all_of(255)), v.plus(tail, v.all_of(_HIGH_TAIL)), at)
    at = v.choose(v.same(at, v.all_of(0)), v.plus(tail, v.all_of(_LOW_TAIL)), high)
    at = v.plus(at, v.all_of(law * KNOTS))
    knot, after = v.look_up(knots, at), v.look_up(knots, v.plus(at, v.all_of(1)))
    part = v.both(v.down(bits, 24), v.all_of(0xFFFFFF))
    past = v.down(v.times(v.minus(after, knot), part), 24)
    return v.down(v.plus(v.plus(knot, past), v.all_of(128)), 8)


@v.inlined
def _drawn(table: Array, knots: Array, kind: int, law: int, bits: Any) -> Any:
    if kind == LONG:
        return _long_quantile(knots, law, bits)
    return quantile(table, v.all_of(law * KNOTS), bits)


@v.inner
def _places(
    base: int,
    lane_days: Array,
    at: int,
    rows: int,
    totals: Array,
    waiting: Array,
    group: int,
    table: Array,
    door: Array,
    sums: Array,
    factors: Array,
) -> None:
    """Each voter's place on the scale of the day's arrivals into `door`."""
    zero, one = v.all_of(0), v.all_of(1)
    chance = bases(base, v.load(lane_days, group * LANES))
    here, before = v.load(totals, group * LANES), v.load(waiting, group * LANES)
    running = zero
    for i in range(rows + 1):
        gap = quantile(table, zero, word(chance, i, _GAP))
        number = v.all_of(i)
        gap = v.choose(v.less(number, before), zero, v.choose(v.less(here, number), zero, gap))
        running = v.plus(running, gap)
        v.store(sums, i * LANES, running)
    whole = v.choose(v.less(running, one), one, running)
    v.store(sums, (rows + 1) * LANES, whole)
    for lane in range(LANES):
        factors[lane] = float(1 << _SHARE_BITS) / float(sums[(rows + 1) * LANES + lane])
    factor = v.load_real(factors, 0)
    for i in range(rows):
        reached = v.load(sums, i * LANES)
        # To the nearest, so never below the floor; whole numbers then tell whether it is one above.
        place = v.nearest(reached, factor)
        rest = v.minus(v.up(reached, _SHARE_BITS), v.times(place, whole))
        place = v.choose(v.less(rest, zero), v.minus(place, one), place)
        v.store_narrow(door, (at + i) * LANES, place)


@v.inner
def _moments(
    at: int,
    rows: int,
    totals: Array,
    waiting: Array,
    group: int,
    edges: Array,
    shares: Array,
    slots: Array,
    door: Array,
) -> None:
    """Turn each place in `door` into the moment of arrival, in ms."""
    for lane in range(LANES):
        slots[lane] = 0
    for first in range(0, rows + 1, _TOGETHER):
        for lane in range(LANES):
            n = totals[group * LANES + lane]
            slot = slots[lane]
            before, after = shares[slot], shares[slot + 1]
            opens = edges[slot]
            width = edges[slot + 1] - opens
            factor = 1.0 / float(max(1, after - before))
            for i in range(first, min(first + _TOGETHER, rows + 1)):
                spot = (at + i) * LANES + lane
                if i >= n:
                    door[spot] = -1
                    continue
                if i < waiting[group * LANES + lane]:
                    door[spot] = edges[0]
                    continue
                place = np.int64(door[spot])
                if place >= after:
                    while place >= after:
                        slot += 1
                        before, after = after, shares[slot + 1]
                    opens = edges[slot]
                    width = edges[slot + 1] - opens
                    factor = 1.0 / float(after - before)
                scaled = (place - before) * width
                past = np.int64(float(scaled) * factor)
                rest = scaled - past * (after - before)
                if rest < 0:
                    past -= 1
                elif rest >= after - before:
                    past += 1
                door[spot] = opens + past
            slots[lane] = slot


@v.inner
def _services(
    base: int,
    lane_days: Array,
    at: int,
    rows: int,
    group: int,
    table: Array,
    knots: Array,
    kinds: Array,
    threshold: int,
    door: Array,
    check_in: Array,
    mark: Array,
    ends: Array,
    facts: Array,
) -> None:
    """Service times: `check_in`; `mark` as 2 x ms + accessible; `ends` as reached x 2**32 + casting.

    `kinds`: of each law, whether it has any time and whether its table fits. `reached` is when the voter
    would reach the scanner if nobody ever waited. Fills `facts` (group, fact, lane).
    """
    zero, one = v.all_of(0), v.all_of(1)
    chance = bases(base, v.load(lane_days, group * LANES))
    bound = v.all_of(threshold)
    count, all_first, all_mark, all_cast = zero, zero, zero, zero
    for i in range(rows + 1):
        arrives = v.load_narrow(door, (at + i) * LANES)
        absent = v.less(arrives, zero)
        first, taken, last, special = zero, zero, zero, zero
        if kinds[LAW_CHECK_IN]:
            first = _drawn(table, knots, kinds[LAW_CHECK_IN], LAW_CHECK_IN, word(chance, i, _CHECK_IN))
        if kinds[LAW_CAST]:
            last = _drawn(table, knots, kinds[LAW_CAST], LAW_CAST, word(chance, i, _CAST))
        if threshold > 0:
            needs = v.less(v.down(word(chance, i, _CLASS), 2), bound)
            special = v.choose(absent, zero, v.choose(needs, one, zero))
            bits = word(chance, i, _MARK)
            if kinds[LAW_MARK] == LONG or kinds[LAW_ACCESSIBLE] == LONG:
                apart = _long_quantile(knots, LAW_ACCESSIBLE, bits)
                taken = v.choose(needs, apart, _long_quantile(knots, LAW_MARK, bits))
            else:
                tables = v.choose(needs, v.all_of(LAW_ACCESSIBLE * KNOTS), v.all_of(LAW_MARK * KNOTS))
                taken = quantile(table, tables, bits)
        elif kinds[LAW_MARK]:
            taken = _drawn(table, knots, kinds[LAW_MARK], LAW_MARK, word(chance, i, _MARK))
        first = v.choose(absent, zero, first)
        taken = v.choose(absent, zero, taken)
        last = v.choose(absent, zero, last)
        reached = v.choose(absent, zero, v.plus(v.plus(arrives, first), taken))
        v.store_narrow(check_in, (at + i) * LANES, first)
        v.store_narrow(mark, (at + i) * LANES, v.either(v.up(taken, 1), special))
        v.store(ends, (at + i) * LANES, v.either(v.up(reached, 32), last))
        count = v.plus(count, special)
        all_first, all_mark, all_cast = (
            v.plus(all_first, first),
            v.plus(all_mark, taken),
            v.plus(all_cast, last),
        )
    for fact, found in (
        (SPECIAL, count),
        (WORK_CHECK_IN, all_first),
        (WORK_MARK, all_mark),
        (WORK_CAST, all_cast),
    ):
        v.store(facts, (group * FACTS + fact) * LANES, found)


@v.inner
def _out_ms(
    i: int, chance: Any, purpose: int, repair: int, knots: Array, law: int, rate: Any, takes: Any,
) -> Any:  # fmt: skip
    """How long the station is out after a service of `takes`; 0 where it does not fail."""
    zero, one, whole = v.all_of(0), v.all_of(1), v.all_of(1 << _CHANCE_BITS)
    x = v.down(v.times(takes, rate), _CHANCE_BITS)
    x = v.choose(v.less(whole, x), whole, x)
    drawn = v.both(word(chance, i, purpose), v.minus(whole, one))
    # ``draws.fails``: the second comparison alone says the same.
    square = v.down(v.times(x, x), _CHANCE_BITS)
    sixth = v.down(v.times(v.down(v.times(square, x), _CHANCE_BITS), v.all_of(_SIXTH)), 32)
    fails = v.less(drawn, v.plus(v.minus(x, v.down(square, 1)), sixth))
    if not v.somewhere(fails):
        return zero
    return v.choose(fails, _long_quantile(knots, law, word(chance, i, repair)), zero)


@v.inlined
def _add(facts: Array, group: int, fact: int, more: Any) -> None:
    spot = (group * FACTS + fact) * LANES
    v.store(facts, spot, v.plus(v.load(facts, spot), more))


@v.inlined
def _failed(out: Array, here: int, facts: Array, group: int, failed: int, outs: Any) -> None:
    v.store_narrow(out, here, outs)
    _add(facts, group, failed, v.choose(v.less(v.all_of(0), outs), v.all_of(1), v.all_of(0)))
    _add(facts, group, failed + OUT - FAILED, outs)


@v.inner
def _beside(
    key: int, lane_days: Array, at: int, rows: int, group: int, knots: Array, chances: Array,
    door: Array, check_in: Array, mark: Array, ends: Array, out: Array, facts: Array,
) -> None:  # fmt: skip
    """What may happen besides, for voters whose services are drawn: the curb, failures, jams.

    A voter at the curb gets -1 - ms in `check_in` and 0 in all else. `out` gets how long the station is out
    after each step, step by step, unless nothing fails. A jam is added to the casting in `ends`.
    """
    zero, one = v.all_of(0), v.all_of(1)
    chance = bases(key, v.load(lane_days, group * LANES))
    other = bases(key ^ _OTHER_KEY, v.load(lane_days, group * LANES))
    last_bits, low_32 = v.all_of((1 << _CHANCE_BITS) - 1), v.all_of(_LOW_32)
    failing = chances[RATE_CHECK_IN] + chances[RATE_MARK] + chances[RATE_ACCESSIBLE] + chances[RATE_CAST]
    for fact in range(WORK_CHECK_IN, FACTS):
        v.store(facts, (group * FACTS + fact) * LANES, zero)
    for i in range(rows):
        here = (at + i) * LANES
        present = v.choose(v.less(v.load_narrow(door, here), zero), zero, one)
        first, marking, end = v.load_narrow(check_in, here), v.load_narrow(mark, here), v.load(ends, here)
        bits = word(chance, i, _CLASS)
        curb = v.choose(v.less(v.down(bits, 2), v.all_of((1 << 62) - chances[CURB_BELOW])), zero, present)
        inside = v.less(curb, one)
        if v.somewhere(v.less(zero, curb)):
            whole = _long_quantile(knots, LAW_CURBSIDE, word(chance, i, _CHECK_IN))
            present = v.minus(present, curb)
            _add(facts, group, AT_CURB, curb)
            _add(facts, group, WORK_CURBSIDE, v.times(whole, curb))
            v.store_narrow(check_in, here, v.choose(inside, first, v.minus(v.all_of(-1), whole)))
            first, marking = v.choose(inside, first, zero), v.choose(inside, marking, zero)
            end = v.choose(inside, end, zero)
            v.store_narrow(mark, here, marking)
        casting = v.both(end, low_32)
        if failing > 0:
            needs = v.less(zero, v.both(marking, one))
            rate = v.choose(needs, v.all_of(chances[RATE_ACCESSIBLE]), v.all_of(chances[RATE_MARK]))
            taken = v.down(marking, 1)
            # Most counties have failures of one type of station alone.
            if chances[RATE_CHECK_IN] > 0:
                outs = _out_ms(
                    i, chance, _CHECK_IN, _OUT_CHECK_IN, knots, LAW_OUT_CHECK_IN,
                    v.times(present, v.all_of(chances[RATE_CHECK_IN])), first,
                )  # fmt: skip
                _failed(out, here, facts, group, FAILED, outs)
            else:
                v.store_narrow(out, here, zero)
            if chances[RATE_MARK] + chances[RATE_ACCESSIBLE] > 0:
                outs = _out_ms(
                    i, chance, _MARK, _OUT_MARK, knots, LAW_OUT_MARK, v.times(present, rate), taken
                )
                apart = _out_ms(
                    i, chance, _MARK, _OUT_MARK, knots, LAW_OUT_ACCESSIBLE, v.times(present, rate), taken
                )
                _failed(out, here + len(door), facts, group, FAILED + 1, v.choose(needs, apart, outs))
            else:
                v.store_narrow(out, here + len(door), zero)
            if chances[RATE_CAST] > 0:
                outs = _out_ms(
                    i, chance, _CAST, _OUT_CAST, knots, LAW_OUT_CAST,
                    v.times(present, v.all_of(chances[RATE_CAST])), casting,
                )  # fmt: skip
                _failed(out, here + 2 * len(door), facts, group, FAILED + 2, outs)
            else:
                v.store_narrow(out, here + 2 * len(door), zero)
        jam = v.choose(v.less(v.both(bits, last_bits), v.all_of(chances[JAM_BELOW])), present, zero)
        if v.somewhere(v.less(zero, jam)):
            longer = v.times(_long_quantile(knots, LAW_JAM, word(other, i, _JAM_TIME)), jam)
            end, casting = v.plus(end, longer), v.plus(casting, longer)
        v.store(ends, here, end)
        _add(facts, group, WORK_CHECK_IN, first)
        _add(facts, group, WORK_MARK, v.down(marking, 1))
        _add(facts, group, WORK_CAST, casting)


@v.compiled
def draw(
    key: int,
    lane_days: Array,
    rows: Array,
    begins: Array,
    totals: Array,
    waiting: Array,
    edges: Array,
    shares: Array,
    table: Array,
    knots: Array,
    kinds: Array,
    threshold: int,
    chances: Array,
    door: Array,
    check_in: Array,
    mark: Array,
    ends: Array,
    out: Array,
    facts: Array,
    sums: Array,
    factors: Array,
    slots: Array,
) -> None:
    """Draw all groups of sixteen days; a group begins at row ``begins[g]`` and has ``rows[g] + 1``.

    `lane_days`, `totals`, `waiting`: int64, flat, sixteen a group. `knots`: the laws' tables, flat; `table`:
    the same packed, where they fit; `kinds`: int64, shape (LAWS,), 0 for no time at all, FITS or LONG.
    `chances`: int64, shape (CHANCES,); `out`: int32, three times as long as `door`, how long stations are out
    after check-in, marking, casting, or anything where nothing fails.
    For work: `sums`, int64, two rows more than the longest group; `factors`, float64, and `slots`, int64,
    of one row each.
    """
    beside = 0
    for one in range(CHANCES):
        beside += chances[one]
    for group in range(len(rows)):
        at, n = begins[group], rows[group]
        _places(key, lane_days, at, n, totals, waiting, group, table, door, sums, factors)
        _moments(at, n, totals, waiting, group, edges, shares, slots, door)
        _services(
            key, lane_days, at, n, group, table, knots, kinds, threshold, door, check_in, mark, ends, facts
        )  # fmt: skip
        if beside > 0:
            _beside(
                key, lane_days, at, n, group, knots, chances, door, check_in, mark, ends, out, facts
            )  # fmt: skip
