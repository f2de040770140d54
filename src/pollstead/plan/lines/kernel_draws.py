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


BEFORE, AFTER, OPENS, WIDTH, SLOT, PAST = range(6)
SLOTS = 6
"""Kept of the slot in which each lane's voters arrive: the shares of the day's arrivals before and after it,
its beginning and width in ms, its number; and which lanes have come past it."""


@v.inner
def _go_on(place: int, lane: int, edges: Array, shares: Array, slots: Array, widths: Array) -> None:
    """Go on to the slot of a lane in which `place` lies."""
    slot = slots[SLOT * LANES + lane]
    while shares[slot + 1] <= place:
        slot += 1
    slots[SLOT * LANES + lane] = slot
    slots[BEFORE * LANES + lane], slots[AFTER * LANES + lane] = shares[slot], shares[slot + 1]
    slots[OPENS * LANES + lane], slots[WIDTH * LANES + lane] = edges[slot], edges[slot + 1] - edges[slot]
    widths[lane] = float(edges[slot + 1] - edges[slot]) / float(shares[slot + 1] - shares[slot])


@v.inner
def _arrivals(
    key: int, lane_days: Array, at: int, rows: int, totals: Array, waiting: Array, group: int,
    edges: Array, shares: Array, table: Array,
    door: Array, sums: Array, factors: Array, slots: Array,
) -> None:  # fmt: skip
    """Each voter's moment of arrival into `door`: a place on the scale of the day's arrivals, then ms."""
    zero, one = v.all_of(0), v.all_of(1)
    chance = bases(key, v.load(lane_days, group * LANES))
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
    for lane in range(LANES):
        slots[SLOT * LANES + lane] = 0
        _go_on(slots[SLOT * LANES + lane], lane, edges, shares, slots, factors)
    opening = v.all_of(edges[0])
    for i in range(rows):
        reached = v.load(sums, i * LANES)
        number = v.all_of(i)
        present = v.less(number, here)
        # To the nearest, so never below the floor; whole numbers then tell whether it is one above.
        place = v.nearest(reached, factor)
        rest = v.minus(v.up(reached, _SHARE_BITS), v.times(place, whole))
        place = v.choose(v.less(rest, zero), v.minus(place, one), place)
        place = v.choose(present, place, v.load(slots, BEFORE * LANES))
        past = v.less(v.minus(v.load(slots, AFTER * LANES), one), place)
        if v.somewhere(past):
            v.store(slots, PAST * LANES, v.choose(past, place, v.all_of(-1)))
            for lane in range(LANES):
                if slots[PAST * LANES + lane] >= 0:
                    _go_on(slots[PAST * LANES + lane], lane, edges, shares, slots, factors)
        slot_before = v.load(slots, BEFORE * LANES)
        width, share = v.load(slots, WIDTH * LANES), v.minus(v.load(slots, AFTER * LANES), slot_before)
        place = v.choose(present, v.minus(place, slot_before), zero)
        # Again to the nearest: below 2**28 times a double, so off by less than one.
        later = v.nearest(place, v.load_real(factors, 0))
        rest = v.minus(v.times_32(place, width), v.times_32(later, share))
        later = v.choose(v.less(rest, zero), v.minus(later, one), later)
        arrives = v.plus(v.load(slots, OPENS * LANES), later)
        arrives = v.choose(v.less(number, before), opening, arrives)
        v.store_narrow(door, (at + i) * LANES, v.choose(present, arrives, v.all_of(-1)))
    v.store_narrow(door, (at + rows) * LANES, v.all_of(-1))


@v.inlined
def _add(facts: Array, group: int, fact: int, more: Any) -> None:
    spot = (group * FACTS + fact) * LANES
    v.store(facts, spot, v.plus(v.load(facts, spot), more))


@v.inlined
def _use(takes: Any, rate: Any) -> Any:
    """Use over mean use between failures, in units of 2**-24, at most 1: see ``draws.fails``."""
    x, whole = v.down(v.times(takes, rate), _CHANCE_BITS), v.all_of(1 << _CHANCE_BITS)
    return v.choose(v.less(whole, x), whole, x)


@v.inlined
def _may_fail(bits: Any, x: Any) -> Any:
    """The first comparison of ``draws.fails``, which settles nearly every service."""
    return v.less(v.both(bits, v.all_of((1 << _CHANCE_BITS) - 1)), x)


@v.inner
def _out(
    bits: Any, x: Any, chance: Any, i: int, purpose: int, first: int, needs: int, special: Any, knots: Array,
    out: Array, here: int, facts: Array, group: int, failed: int,
) -> None:  # fmt: skip
    """Put down how long stations are out after services of use `x`, for lanes that fail.

    `first`: the law of the repair, `needs` that where `special` is 1.
    """
    square = v.down(v.times(x, x), _CHANCE_BITS)
    sixth = v.down(v.times(v.down(v.times(square, x), _CHANCE_BITS), v.all_of(_SIXTH)), 32)
    fails = v.less(
        v.both(bits, v.all_of((1 << _CHANCE_BITS) - 1)), v.plus(v.minus(x, v.down(square, 1)), sixth)
    )
    zero, one = v.all_of(0), v.all_of(1)
    repair = word(chance, i, purpose)
    outs = _long_quantile(knots, first, repair)
    if needs != first:
        outs = v.choose(v.less(zero, special), _long_quantile(knots, needs, repair), outs)
    outs = v.choose(fails, outs, zero)
    v.store_narrow(out, here, outs)
    _add(facts, group, failed, v.choose(v.less(zero, outs), one, zero))
    _add(facts, group, failed + OUT - FAILED, outs)


@v.inner
def _services(
    key: int, lane_days: Array, at: int, rows: int, group: int, table: Array, knots: Array, kinds: Array,
    threshold: int, happens: int, chances: Array,
    door: Array, check_in: Array, mark: Array, ends: Array, out: Array, facts: Array,
) -> None:  # fmt: skip
    """Service times: `check_in`; `mark` as 2 x ms + accessible; `ends` as reached x 2**32 + casting.

    `kinds`: of each law, whether it has any time and whether its table fits. `reached` is when the voter
    would reach the scanner if nobody ever waited. A voter at the curb gets -1 - ms in `check_in` and 0 in all
    else. `out` gets how long the station is out after each step, step by step, for steps whose stations may
    fail. A jam is added to the casting. Fills `facts` (group, fact, lane), which are 0 before.
    """
    zero, one = v.all_of(0), v.all_of(1)
    chance = bases(key, v.load(lane_days, group * LANES))
    bound, from_curb = v.all_of(threshold), v.all_of((1 << 62) - chances[CURB_BELOW])
    count, all_first, all_mark, all_cast = zero, zero, zero, zero
    marks_fail = chances[RATE_MARK] + chances[RATE_ACCESSIBLE]
    for i in range(rows + 1):
        here = (at + i) * LANES
        arrives = v.load_narrow(door, here)
        absent = v.less(arrives, zero)
        first, taken, last, special = zero, zero, zero, zero
        classes, bits_first, bits_mark, bits_last = zero, zero, zero, zero
        if threshold + happens > 0:
            classes = word(chance, i, _CLASS)
        if kinds[LAW_CHECK_IN]:
            bits_first = word(chance, i, _CHECK_IN)
            first = _drawn(table, knots, kinds[LAW_CHECK_IN], LAW_CHECK_IN, bits_first)
            first = v.choose(absent, zero, first)
        if kinds[LAW_CAST]:
            bits_last = word(chance, i, _CAST)
            last = v.choose(absent, zero, _drawn(table, knots, kinds[LAW_CAST], LAW_CAST, bits_last))
        if threshold > 0 or kinds[LAW_MARK]:
            bits_mark = word(chance, i, _MARK)
            if threshold > 0:
                special = v.choose(absent, zero, v.choose(v.less(v.down(classes, 2), bound), one, zero))
            if kinds[LAW_MARK] == LONG or (threshold > 0 and kinds[LAW_ACCESSIBLE] == LONG):
                taken = _long_quantile(knots, LAW_MARK, bits_mark)
                if threshold > 0:
                    apart = _long_quantile(knots, LAW_ACCESSIBLE, bits_mark)
                    taken = v.choose(v.less(zero, special), apart, taken)
            else:
                tables = v.all_of(LAW_MARK * KNOTS)
                if threshold > 0:
                    tables = v.choose(v.less(zero, special), v.all_of(LAW_ACCESSIBLE * KNOTS), tables)
                taken = quantile(table, tables, bits_mark)
            taken = v.choose(absent, zero, taken)
        reached = v.choose(absent, zero, v.plus(v.plus(arrives, first), taken))
        v.store_narrow(check_in, here, first)
        if happens > 0:
            present = v.choose(absent, zero, one)
            curb = v.choose(v.less(v.down(classes, 2), from_curb), zero, present)
            if v.somewhere(v.less(zero, curb)):
                inside = v.less(curb, one)
                present = v.minus(present, curb)
                whole = _long_quantile(knots, LAW_CURBSIDE, word(chance, i, _CHECK_IN))
                v.store_narrow(check_in, here, v.choose(inside, first, v.minus(v.all_of(-1), whole)))
                _add(facts, group, AT_CURB, curb)
                _add(facts, group, WORK_CURBSIDE, v.choose(inside, zero, whole))
                first, taken = v.choose(inside, first, zero), v.choose(inside, taken, zero)
                last, reached = v.choose(inside, last, zero), v.choose(inside, reached, zero)
                special = v.choose(inside, special, zero)
            # Most counties have failures of one type of station alone.
            if chances[RATE_CHECK_IN] > 0:
                v.store_narrow(out, here, zero)
                x = _use(first, v.all_of(chances[RATE_CHECK_IN]))
                if v.somewhere(_may_fail(bits_first, x)):
                    _out(
                        bits_first, x, chance, i, _OUT_CHECK_IN, LAW_OUT_CHECK_IN, LAW_OUT_CHECK_IN,
                        special, knots, out, here, facts, group, FAILED,
                    )  # fmt: skip
            if marks_fail > 0:
                v.store_narrow(out, here + len(door), zero)
                rate = v.choose(
                    v.less(zero, special), v.all_of(chances[RATE_ACCESSIBLE]), v.all_of(chances[RATE_MARK])
                )
                x = _use(taken, rate)
                if v.somewhere(_may_fail(bits_mark, x)):
                    _out(
                        bits_mark, x, chance, i, _OUT_MARK, LAW_OUT_MARK, LAW_OUT_ACCESSIBLE,
                        special, knots, out, here + len(door), facts, group, FAILED + 1,
                    )  # fmt: skip
            if chances[RATE_CAST] > 0:
                v.store_narrow(out, here + 2 * len(door), zero)
                x = _use(last, v.all_of(chances[RATE_CAST]))
                if v.somewhere(_may_fail(bits_last, x)):
                    _out(
                        bits_last, x, chance, i, _OUT_CAST, LAW_OUT_CAST, LAW_OUT_CAST,
                        special, knots, out, here + 2 * len(door), facts, group, FAILED + 2,
                    )  # fmt: skip
            if chances[JAM_BELOW] > 0:
                jam = _may_fail(classes, v.all_of(chances[JAM_BELOW]))
                jam_here = v.choose(jam, present, zero)
                if v.somewhere(v.less(zero, jam_here)):
                    other = bases(key ^ _OTHER_KEY, v.load(lane_days, group * LANES))
                    longer = _long_quantile(knots, LAW_JAM, word(other, i, _JAM_TIME))
                    last = v.plus(last, v.choose(v.less(zero, jam_here), longer, zero))
        v.store_narrow(mark, here, v.either(v.up(taken, 1), special))
        v.store(ends, here, v.either(v.up(reached, 32), last))
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
    after check-in, marking, casting, for steps whose stations may fail. `facts` are 0 before.
    For work: `sums`, int64, two rows more than the longest group; `factors`, float64, of one row, and
    `slots`, int64, of `SLOTS` rows.
    """
    happens = chances[0] - chances[0]
    for one in range(CHANCES):
        happens += chances[one]
    for group in range(len(rows)):
        at, n = begins[group], rows[group]
        _arrivals(
            key, lane_days, at, n, totals, waiting, group, edges, shares, table, door, sums, factors, slots
        )  # fmt: skip
        _services(
            key, lane_days, at, n, group, table, knots, kinds, threshold, happens, chances, door, check_in,
            mark, ends, out, facts,
        )  # fmt: skip
