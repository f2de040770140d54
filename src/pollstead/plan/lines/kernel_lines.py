"""A line of sixteen days side by side: departures in order, put in from the back, and stations away.

The idea of a line: the departures of a stage, kept in order, serve three times. Row number i is the i-th
earliest moment at which a station is free; the rows are the arrivals of the next stage in their order; and a
new departure is put in from the back, one comparison a station and none that the data decides.

A key is one number: a moment in ms, then the voter's number, then one bit, under the leading bit that makes
it a time (see ``vectors``). So of several voters at one moment the one who came first to the door goes first.
The last bit marks a row that is no departure; the next stage goes past it. `shift` is the number of bits
under the moment; it follows from the number of voters.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pollstead.plan.lines import vectors as v

if TYPE_CHECKING:
    Array = Any

LANES = v.LANES
LANE_BITS = LANES.bit_length() - 1
TIME_BITS = 52
FLAG_BITS = 1
LEADING = 1 << TIME_BITS

FROM, LASTS, UNTIL, TAKEN, HIT = range(5)
AWAY = 5
"""Kept of a stage while it is gone through: each lane's next absence (when it falls due, as a key; how long
it lasts, in units of a key; until when, as a key), how many it has had, and what happens in this row."""


@v.inlined
def join(line: Array, row: int, stations: int, leaves: Any) -> None:
    """Put departures into `line`, where a station of row `row` becomes free.

    Its rows from `row + 1` on have `stations` - 1 in order; where there is always room (0), all before `row`.
    """
    at = row + stations
    bottom = row + 1 if stations > 0 else 0
    while at > bottom:
        below = v.load(line, (at - 1) * LANES)
        if at & 7 == 0 and not v.somewhere(v.less(leaves, below)):
            break
        v.store(line, at * LANES, v.later(below, leaves))
        leaves = v.sooner(below, leaves)
        at -= 1
    v.store(line, at * LANES, leaves)


@v.inlined
def leaves_at(shift: int, low: Any, starts: Any, arrives: Any, takes: Any) -> Any:
    """The voters leave `takes` after `starts`; their number goes with them."""
    leaves = v.plus(v.both(starts, v.unlike(low, v.all_of(-1))), v.up(takes, shift))
    return v.either(leaves, v.both(arrives, low))


@v.inlined
def starts_at(line: Array, i: int, stations: int, free: Any, arrives: Any) -> Any:
    """When the voters of row i are taken: on arrival, or when the first station is free."""
    if stations > 0:
        return v.later(arrives, v.load(line, i * LANES))
    return v.later(arrives, free)


@v.inlined
def end(line: Array, rows: int, spare: int, never: Any) -> None:
    """After the `rows` rows of `line` come `spare` rows of nobody, for lanes that go past more rows."""
    for row in range(rows, rows + spare):
        v.store(line, row * LANES, never)


@v.inlined
def _next_absence(away: Array, lane: int, absences: Array, first: int, last: int, shift: int) -> None:
    """Make ready the absence of a lane that falls due next; beyond the last one that never does."""
    never = LEADING | (((1 << (TIME_BITS - shift)) - 1) << shift)
    row = first + away[TAKEN * LANES + lane]
    away[FROM * LANES + lane] = never
    away[LASTS * LANES + lane] = 0
    away[UNTIL * LANES + lane] = LEADING
    if row < last and absences[row, FROM] + absences[row, LASTS] < (never ^ LEADING) >> shift:
        away[FROM * LANES + lane] = LEADING | (absences[row, FROM] << shift)
        away[LASTS * LANES + lane] = absences[row, LASTS] << shift
        away[UNTIL * LANES + lane] = LEADING | (absences[row, UNTIL] << shift)


@v.inner
def set_out(is_away: int, away: Array, absences: Array, first: int, last: int, shift: int) -> None:
    """Before the first row of a stage: no absence has been taken."""
    if is_away == 0:
        return
    for lane in range(LANES):
        away[TAKEN * LANES + lane] = 0
        _next_absence(away, lane, absences, first, last, shift)


@v.inlined
def may_happen(
    line: Array, row: int, low: Any, never: Any, arrives: Any, out: Array, out_at: int, lanes: Array,
    away: Array,
) -> Any:  # fmt: skip
    """Whether in any lane a station may be away before the voters who come next are taken."""
    free = v.load(line, row * LANES)
    zero, one = v.all_of(0), v.all_of(1)
    due = v.choose(v.less(v.later(arrives, free), v.load(away, FROM * LANES)), zero, one)
    if v.somewhere(v.less(zero, v.choose(v.less(arrives, never), due, zero))):
        return True
    if out_at < 0:
        return False
    voter = v.up(v.down(v.both(free, low), FLAG_BITS), LANE_BITS)
    lasts = v.look_up_narrow(out, v.plus(v.plus(v.load(lanes, 0), v.all_of(out_at)), voter))
    return v.somewhere(v.less(zero, lasts))


@v.inner
def stations_away(
    line: Array, row: int, stations: int, shift: int, arrives: Any, out: Array, out_at: int, lanes: Array,
    away: Array, absences: Array, first: int, last: int,
) -> int:  # fmt: skip
    """What happens to stations before the voters who come next are taken; gives the row that is then first.

    Asked where `may_happen` says so.

    A station that failed comes back later; then an absence that falls due takes the station that is free
    first. Each is one row more: the free moment is taken out and a later one put in, marked as no departure.
    A lane to which nothing happens meanwhile gets its own free moment back.
    """
    leading, zero, one, two = v.all_of(LEADING), v.all_of(0), v.all_of(1), v.all_of(2)
    low = v.all_of((1 << shift) - 1)
    high = v.unlike(low, v.all_of(-1))
    never = v.all_of(LEADING | (((1 << (TIME_BITS - shift)) - 1) << shift))
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
        join(line, row, stations, v.either(later, one))
        row += 1
        v.store(away, HIT * LANES, hit)
        for lane in range(LANES):
            if away[HIT * LANES + lane] == 1:
                away[TAKEN * LANES + lane] += 1
                _next_absence(away, lane, absences, first, last, shift)
