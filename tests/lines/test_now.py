"""The wait now: days as the event-by-event teller tells them, waits recovered, the worth of moves."""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.lines.true_day import (
    CLOSE_MS,
    COUNTS,
    HOUR_MS,
    MINUTE_MS,
    ONE_EACH,
    OPEN_MS,
    PATH,
    TrueDay,
    at,
    site_of,
)

from pollstead.plan.lines import draws, formulas, now
from pollstead.plan.lines.laws import GAP_MEAN, gap_table, law_table
from pollstead.plan.lines.now_cloud import Cloud, Model, Step
from pollstead.plan.lines.now_filter import line_chance, step_of
from pollstead.plan.lines.now_kernel import CAME, LAST_OUT, LONGEST, LONGEST_OTHERS, SUM_WAIT, SUMS, play
from pollstead.plan.lines.now_moves import played_with
from pollstead.plan.lines.reference import Voter, tell_day
from pollstead.plan.terms.lines import (
    Breaks,
    Curbside,
    Failures,
    LawKind,
    ServiceLaw,
    Stage,
    StationCounts,
)
from pollstead.plan.terms.now import Known, LineReport, MoveKind, NowAnswer, NowSite, StationChange

LAWS = (
    ServiceLaw(mean_ms=80_000, cv_ppm=600_000),
    ServiceLaw(mean_ms=240_000, cv_ppm=400_000),
    ServiceLaw(mean_ms=500_000, cv_ppm=400_000),
    ServiceLaw(mean_ms=25_000, cv_ppm=300_000),
)
MEAN_USE_MS, JAMS = HOUR_MS, draws.chance_threshold(100_000)
REPAIR = ServiceLaw(kind=LawKind.EXPONENTIAL, mean_ms=20 * MINUTE_MS)
JAM_TIME = ServiceLaw(kind=LawKind.EXPONENTIAL, mean_ms=2 * MINUTE_MS)
KEY, THRESHOLD = 77, draws.accessible_threshold(50_000)


class Played:
    """A stretch of time from an empty site on, with the arrays that it changes."""

    def __init__(
        self,
        counts: tuple[int, int, int, int],
        rate: float,
        until_ms: int,
        *,
        states: int = 1,
        quarters: int = 4,
        here: tuple[int, int, int, int] = (1, 1, 1, 1),
        laws: tuple[ServiceLaw, ...] = LAWS,
        queue: int = 0,
        probes: tuple[int, ...] = (),
        grid: tuple[int, ...] = (),
        steps: tuple[tuple[int, int, int], ...] = (),
        fails: bool = False,
    ) -> None:
        self.edges = np.arange(quarters + 1, dtype=np.int64) * 900_000
        self.queue = np.zeros((states, 4), np.int64)
        self.queue[:, 0] = queue
        self.free = np.zeros((states, 4, 64), np.int64)
        self.stations = np.zeros((states, 4), np.int64)
        self.done = np.zeros(states, np.int64)
        self.sums = np.zeros((states, SUMS), np.int64)
        self.waits = np.zeros((states, len(probes), 3), np.int64)
        self.inline = np.zeros((states, 4, len(grid) + 1), np.int64)
        play(
            np.uint64(KEY),
            0,
            until_ms,
            self.edges,
            np.full((states, quarters), rate),
            gap_table(),
            np.stack([law_table(law) for law in laws]),
            np.full(4, draws.use_rate(MEAN_USE_MS) if fails else 0, np.int64),
            np.stack([law_table(REPAIR)] * 4),
            JAMS if fails else 0,
            law_table(JAM_TIME),
            THRESHOLD if here[2] else 0,
            np.array(here, np.int64),
            np.ones((states, 4)),
            self.queue,
            self.free,
            self.stations,
            np.array(counts, np.int64),
            np.array(steps, np.int64).reshape(-1, 3),
            self.done,
            np.array(probes, np.int64),
            np.array(grid, np.int64),
            self.sums,
            self.waits,
            self.inline,
            queue + int(rate * quarters * 900_000 * 1.5) + 400,
        )


def failing(number: int, special: bool, times: list[int]) -> dict[str, Any]:
    """What fails after this voter's steps, and whether the ballot jams, by the draws' plain definition."""
    tables = (law_table(LAWS[0]), law_table(LAWS[2 if special else 1]), law_table(LAWS[3]))
    repairs = []
    for step, purpose in enumerate((draws.CHECK_IN, draws.MARK, draws.CAST)):
        bits = draws.word(KEY, 0, number, purpose)
        assert draws.quantile(tables[step], bits) == times[step]
        fails = draws.fails(bits, times[step], draws.use_rate(MEAN_USE_MS))
        out = draws.quantile(law_table(REPAIR), draws.word(KEY, 0, number, draws.REPAIR[step]))
        repairs.append(out if fails else 0)
    time = draws.word(KEY ^ draws.OTHER_KEY, 0, number, draws.JAM_TIME)
    jam = draws.quantile(law_table(JAM_TIME), time) if draws.jams(KEY, 0, number, JAMS) else 0
    return {"repair_ms": tuple(repairs), "jam_ms": jam}


def voters_of(rate: float, quarters: int, queue: int, *, fails: bool = False) -> list[Voter]:
    """The same voters in plain Python: a Poisson process at a constant rate, times by number of the voter."""
    arrivals, left, number = [0] * queue, 0.0, queue
    while True:
        left += draws.quantile(gap_table(), draws.word(KEY, 0, number, draws.GAP)) / GAP_MEAN
        moment = int(left / rate)
        if moment >= quarters * 900_000:
            break
        arrivals.append(moment)
        number += 1
    voters = []
    for number, moment in enumerate(arrivals):
        special = draws.needs_accessible(KEY, 0, number, THRESHOLD)
        tables = (law_table(LAWS[0]), law_table(LAWS[2 if special else 1]), law_table(LAWS[3]))
        times = [
            draws.quantile(table, draws.word(KEY, 0, number, purpose))
            for table, purpose in zip(tables, (draws.CHECK_IN, draws.MARK, draws.CAST), strict=True)
        ]
        more = failing(number, special, times) if fails else {}
        voters.append(Voter(moment, special, *times, **more))
    return voters


@settings(max_examples=40, deadline=None)
@given(
    counts=st.tuples(st.integers(1, 5), st.integers(1, 12), st.integers(1, 2), st.integers(1, 3)),
    queue=st.integers(0, 40),
    per_hour=st.integers(20, 200),
    minute=st.integers(1, 59),
    fails=st.booleans(),
)
def test_a_stretch_equals_the_event_by_event_teller(
    counts: tuple[int, int, int, int], queue: int, per_hour: int, minute: int, fails: bool
) -> None:
    """Waits, longest wait, last voter, lines and check-ins at any minute, on random stretches.

    In half of them stations fail about once an hour of use and every tenth ballot jams.
    """
    rate = per_hour / HOUR_MS
    voters = voters_of(rate, 4, queue, fails=fails)
    told = tell_day(voters, counts, 0, 0)
    whole = Played(counts, rate, 40 * HOUR_MS, queue=queue, fails=fails)
    waits = [sum(waits) for waits in told.waits_ms]
    assert abs(int(whole.sums[0, CAME]) - (len(voters) - queue)) <= 1  # the last one may come a rounding late
    if int(whole.sums[0, CAME]) != len(voters) - queue:
        return
    # A millisecond of rounding in an arrival moves a wait by as much.
    assert abs(int(whole.sums[0, SUM_WAIT]) - sum(waits)) <= 2 * len(voters)
    assert abs(int(whole.sums[0, LONGEST]) - max(waits, default=0)) <= 2
    others = [wait for wait, voter in zip(waits, voters, strict=True) if not voter.accessible]
    assert abs(int(whole.sums[0, LONGEST_OTHERS]) - max(others, default=0)) <= 2
    assert abs(int(whole.sums[0, LAST_OUT]) - told.last_out_ms) <= 2
    until = minute * MINUTE_MS
    part = Played(counts, rate, until, queue=queue, fails=fails)
    line, checked_in = [0, 0, 0], 0
    for voter, mine in zip(voters, told.waits_ms, strict=True):
        reached = voter.arrives_ms
        for step, takes in enumerate((voter.check_in_ms, voter.mark_ms, voter.cast_ms + voter.jam_ms)):
            begins = reached + mine[step]
            line[step] += reached < until <= begins
            reached = begins + takes
            checked_in += step == 0 and reached < until
    held = part.queue[0]
    assert [held[0], held[1] + held[2], held[3]] == pytest.approx(line, abs=1)
    assert int(part.done[0]) == pytest.approx(checked_in, abs=1)


def test_a_settled_line_waits_as_erlang_says() -> None:
    """Erlang C: A. K. Erlang 1917, as in any handbook of queues; three stations, five sixths in use."""
    exponential = ServiceLaw(kind=LawKind.EXPONENTIAL, mean_ms=60_000)
    laws = (exponential, *LAWS[1:])
    rate = 2.5 / 60_000
    probes = tuple(range(8 * HOUR_MS, 12 * HOUR_MS, 10 * MINUTE_MS))
    played = Played(
        (3, 0, 0, 0), rate, 40 * HOUR_MS, states=600, quarters=48, here=(1, 0, 0, 0), laws=laws, probes=probes
    )
    expected_ms = formulas.settled_line(2.5, 1.0, 3).wait * 60_000
    means = played.waits[:, :, 0].mean(axis=1)
    error = means.std() / np.sqrt(len(means))
    assert means.mean() == pytest.approx(expected_ms, abs=3.5 * error)
    assert error < 0.04 * expected_ms


def test_the_time_in_line_is_the_area_under_the_line() -> None:
    """Little 1961: the sum of waits is the integral of the number in line."""
    grid = tuple(range(0, 4 * HOUR_MS, 30_000))
    played = Played((2, 6, 1, 1), 80 / HOUR_MS, 10 * HOUR_MS, states=20, grid=grid, queue=30)
    area = played.inline[:, :, :-1].sum() * 30_000
    assert area == pytest.approx(played.sums[:, SUM_WAIT].sum(), rel=0.02)


def test_a_station_that_goes_and_comes_back_serves_nobody_between() -> None:
    """Five voters are done before the station goes and five after it is back."""
    fixed = ServiceLaw(kind=LawKind.DETERMINISTIC, mean_ms=60_000)
    laws = (fixed, *LAWS[1:])
    steps = ((5 * MINUTE_MS, -1, 0), (15 * MINUTE_MS, 1, 0))
    played = Played((1, 0, 0, 0), 1e-12, 40 * HOUR_MS, here=(1, 0, 0, 0), laws=laws, queue=10, steps=steps)
    # Five before it goes, five after it is back.
    assert int(played.sums[0, LAST_OUT]) == 20 * MINUTE_MS


@pytest.fixture(scope="module")
def recovered() -> list[tuple[NowAnswer, int, int]]:
    """Estimates at five moments of eight days, each with the true waits then and half an hour later."""
    made = []
    for seed in range(8):
        day = TrueDay(seed)
        site = site_of(f"S{seed}", day.reports())
        for moment in (9.33, 11.67, 15.08, 17.5, 18.75):
            now_ms = round(moment * HOUR_MS)
            answer = now.run(at((site,), now_ms), 1)
            made.append((answer, day.wait_ms(now_ms), day.wait_ms(now_ms + 30 * MINUTE_MS)))
    return made


def test_waits_are_recovered_from_rough_counts_or_said_to_be_unknown(
    recovered: list[tuple[NowAnswer, int, int]],
) -> None:
    """In 85 of 100 cases within five minutes of the true wait, or unknown."""
    near = []
    for answer, true_ms, _ in recovered:
        wait = answer.sites[0].wait
        near.append(wait is None or abs(wait.middle - true_ms) <= 5 * MINUTE_MS)
    assert sum(wait.sites[0].wait is not None for wait, _, _ in recovered) >= 30
    assert sum(near) / len(near) >= 0.85


def test_the_intervals_hold_the_true_wait_as_often_as_they_say(
    recovered: list[tuple[NowAnswer, int, int]],
) -> None:
    """The 80 % intervals hold it at least so often, now and in half an hour."""
    inside = []
    for answer, true_ms, later_ms in recovered:
        site = answer.sites[0]
        for band, true in ((site.wait, true_ms), (site.in_30, later_ms)):
            if band is not None:
                inside.append(band.low - 30_000 <= true <= band.high + 30_000)
    assert sum(inside) / len(inside) >= 0.8


def report(minute: int, line: int, check_ins: int | None = None, **other: Any) -> LineReport:
    """A report at a minute of the day."""
    return LineReport(
        at_ms=minute * MINUTE_MS, in_line=line, check_ins=check_ins, event=f"r{minute}", **other
    )


def test_silence_is_unknown_and_never_an_empty_line() -> None:
    """A site that never told and one whose count is old have no estimate."""
    told = site_of("A", (report(9 * 60, 40, 190),))
    silent = site_of("B")
    early = now.run(at((told, silent), 9 * HOUR_MS + 10 * MINUTE_MS), 1).sites
    late = now.run(at((told, silent), 10 * HOUR_MS + 20 * MINUTE_MS), 1).sites
    assert [site.known for site in early] == [Known.ESTIMATED, Known.NEVER_TOLD]
    assert [site.known for site in late] == [Known.STALE, Known.NEVER_TOLD]
    assert late[0].wait is None
    assert late[0].age_ms == 80 * MINUTE_MS
    assert early[0].in_line is not None and early[0].in_line.middle > 20


def test_the_interval_grows_with_the_age_of_the_count() -> None:
    """Over six days: wider after 20 minutes, and wider still after an hour."""
    wide = [0, 0, 0]
    for seed in range(6):
        reports = tuple(one for one in TrueDay(seed).reports() if one.at_ms < 16.8 * HOUR_MS)
        for place, minutes in enumerate((1, 20, 60)):
            now_ms = reports[-1].at_ms + minutes * MINUTE_MS
            line = now.run(at((site_of("A", reports),), now_ms), 1).sites[0].in_line
            assert line is not None
            wide[place] += line.high - line.low
    assert wide[0] < wide[1] < wide[2]


def test_one_count_ten_times_too_high_is_named_and_forgotten_with_the_next_right_one() -> None:
    """The count is said to be unexpected, and the next right one sets the estimate."""
    day = TrueDay(3, service_spread=0.0, shape_spread=0.0)
    minutes = (8 * 60, 9 * 60, 10 * 60, 11 * 60)
    right = [report(m, sum(day.state(m * MINUTE_MS)[0]), day.state(m * MINUTE_MS)[1]) for m in minutes]
    wrong = [*right[:2], msgspec.structs.replace(right[2], in_line=160), right[3]]
    moment = 11 * HOUR_MS + MINUTE_MS
    found = now.run(at((site_of("A", tuple(wrong)),), moment), 1).sites[0]
    assert found.odd_reports
    assert set(found.odd_reports) <= {"r600", "r660"}
    line = found.in_line
    assert line is not None
    assert line.low <= sum(day.state(moment)[0]) <= line.high


def test_a_reported_zero_says_less_than_a_reported_line() -> None:
    """A zero may stand for nobody having looked, so it rules a line out less than a count does."""
    model, served = np.array([0.0, 30.0]), np.zeros(2)
    zero, ten = line_chance(0, model, served), line_chance(10, model, served)
    assert zero[0] / zero[1] < 20
    assert ten[0] < 0.01


def test_numbers_in_fives_and_tens_are_taken_as_rounded() -> None:
    """The step in which a number is told is seen from the number."""
    assert [step_of(n) for n in (3, 5, 10, 15, 20, 25, 37, 60)] == [1, 1, 5, 5, 10, 5, 1, 10]


def test_littles_law_stands_beside_the_estimate() -> None:
    """Line over throughput of the last half hour, as a plain figure."""
    site = site_of("A", (report(8 * 60 + 30, 10, 100), report(9 * 60, 20, 160)))
    check = now.run(at((site,), 9 * HOUR_MS), 1).sites[0].little
    assert check is not None
    # 20 in line, 60 checked in within 30 minutes: 10 minutes.
    assert check.wait_ms == 10 * MINUTE_MS


def test_stations_told_open_count_from_then_on() -> None:
    """With fewer stations told open the same line for check-in means a longer wait."""
    roomy = StationCounts(check_in=3, mark=14, mark_accessible=1, cast=3)
    few, many = (
        site_of(
            "A", (report(9 * 60, 20, 190, open_stations=(stations, None, None)),), counts=roomy, most=roomy
        )
        for stations in (2, 4)
    )
    short, long = (now.run(at((s,), 9 * HOUR_MS + MINUTE_MS), 1).sites[0] for s in (many, few))
    assert short.wait is not None and long.wait is not None
    assert long.wait.middle > 1.5 * short.wait.middle
    assert long.open_stations is not None and long.open_stations.check_in == 2
    assert long.binding is Stage.CHECK_IN


BUSY = (report(9 * 60, 60, 150, open_stations=(2, None, None)),)
CALM = (report(9 * 60, 0, 150),)


@pytest.fixture(scope="module")
def busy() -> tuple[list[now.Stand], NowAnswer]:
    """A site with a long line and two of its three check-in stations open, beside calm ones."""
    more = StationCounts(check_in=4, mark=14, mark_accessible=2, cast=2)
    sites = (
        site_of("A", BUSY),
        site_of("B", CALM, counts=more, most=more),
        site_of("C", CALM, counts=more, most=more, floor=more),
    )
    whole = at(sites, 9 * HOUR_MS + 5 * MINUTE_MS, spares=(0, 1, 1, 1))
    stands = [now.estimate(site, whole, 1) for site in sites]
    return stands, now.run(whole, 1)


def test_opening_the_station_that_binds_saves_most_for_a_minute(
    busy: tuple[list[now.Stand], NowAnswer],
) -> None:
    """The first move opens check-in where check-in binds, and shortens the longest wait."""
    first = busy[1].moves[0]
    assert (first.site, first.stage) == ("A", Stage.CHECK_IN)
    assert first.kind in (MoveKind.OPEN_STATION, MoveKind.MOVE_STEP)
    assert 0 <= first.saved.low < first.saved.middle < first.saved.high
    assert first.longest_after.middle < first.longest_before.middle


def test_no_move_takes_below_a_floor_or_an_accessible_station(
    busy: tuple[list[now.Stand], NowAnswer],
) -> None:
    """A site at its floor gives nobody away, and accessible stations are never moved."""
    moves = busy[1].moves
    givers = [move.giver for move in moves if move.kind is MoveKind.MOVE_WORKER]
    assert givers == ["B"]  # C is at its floor
    assert all(move.stage is not Stage.MARK_ACCESSIBLE for move in moves)
    assert all(move.from_stage is None for move in moves)  # A has one station for casting, its floor


def test_a_spare_is_sent_where_no_accessible_station_works() -> None:
    """The only one went out at 8 o'clock: a spare saves a few voters hours; without one nothing is said."""
    out = (StationChange(stage=Stage.MARK_ACCESSIBLE, at_ms=8 * HOUR_MS, by=-1),)
    here = StationCounts(check_in=3, mark=12, mark_accessible=1, cast=1)
    gone = msgspec.structs.replace(here, mark_accessible=0)
    site = site_of("A", CALM, counts=here, most=gone, changes=out)
    now_ms = 9 * HOUR_MS + 5 * MINUTE_MS
    [move] = now.run(at((site,), now_ms, spares=(0, 0, 1, 0)), 1).moves
    assert (move.kind, move.stage) == (MoveKind.SEND_SPARE, Stage.MARK_ACCESSIBLE)
    assert move.longest_after.middle < move.longest_before.middle / 2
    assert move.saved.middle > 60
    alone = now.run(at((site,), now_ms), 1)
    assert alone.moves == ()
    # The hours are those of the few; the others' longest wait stands apart, and why.
    [told] = alone.sites
    assert told.stopped == (Stage.MARK_ACCESSIBLE,)
    assert told.longest is not None and told.longest_others is not None
    assert told.longest.middle > 10 * HOUR_MS > 2 * HOUR_MS > told.longest_others.high


def test_the_same_states_without_a_move_are_the_same(busy: tuple[list[now.Stand], NowAnswer]) -> None:
    """The voters are the same with and without a move, so only the move makes a difference."""
    stand = busy[0][0]
    assert (played_with(stand, []).sums == stand.played().sums).all()
    faster = played_with(stand, [Step(0, stand.states().now_ms, 1)])
    assert float(faster.sums[:, SUM_WAIT].mean()) < stand.waiting_ms()


def test_threads_change_nothing() -> None:
    """One thread and three give equal answers."""
    sites = tuple(site_of(f"S{n}", (report(9 * 60, 10 * n, 150),)) for n in range(4))
    whole = at(sites, 9 * HOUR_MS + 5 * MINUTE_MS)
    assert now.run(whole, 1, workers=1) == now.run(whole, 1, workers=3)


def test_before_opening_and_after_the_last_voter_nothing_is_estimated() -> None:
    """Such a site is not open yet, or closed."""
    asleep = site_of("A")
    over = site_of("B", CALM, closed_ms=CLOSE_MS)
    assert now.run(at((asleep,), OPEN_MS - 1), 1).sites[0].known is Known.NOT_OPEN
    assert now.run(at((over,), CLOSE_MS + 1), 1).sites[0].known is Known.CLOSED


def test_a_line_counted_before_the_doors_open_stands_there_when_they_do() -> None:
    """People counted before the set hour are in line at opening."""
    site = site_of("A", (report(6 * 60 + 50, 60),))
    found = now.run(at((site,), 6 * HOUR_MS + 55 * MINUTE_MS), 1).sites[0]
    assert found.known is Known.ESTIMATED
    assert found.in_line is not None and 40 <= found.in_line.middle <= 70


def test_late_doors_hold_everybody_until_they_open() -> None:
    """Nobody is served before the minute at which the doors opened."""
    late = site_of("A", (report(7 * 60 + 20, 45),), opened_ms=OPEN_MS + 30 * MINUTE_MS)
    found = now.run(at((late,), OPEN_MS + 25 * MINUTE_MS), 1).sites[0]
    assert found.wait is not None and found.wait.low >= 5 * MINUTE_MS


def test_counts_need_not_name_every_stage() -> None:
    """A long line for the voting stations alone makes them the stage that binds."""
    assert COUNTS.mark > ONE_EACH.mark
    site = site_of("A", (LineReport(at_ms=9 * HOUR_MS, by_stage=(2, 30, None), event="x"),))
    found = now.run(at((site,), 9 * HOUR_MS + MINUTE_MS), 1).sites[0]
    assert found.binding is Stage.MARK


def with_breaks() -> NowSite:
    """Three check-in stations, each away for half an hour, one after the other between 10 and 12."""
    breaks = Breaks(stage=Stage.CHECK_IN, lasts_ms=HOUR_MS // 2, from_ms=10 * HOUR_MS, until_ms=12 * HOUR_MS)
    return site_of("A", day=msgspec.structs.replace(site_of("A").day, breaks=(breaks,)))


def test_breaks_take_a_station_away_and_bring_it_back() -> None:
    """The breaks of three stations fall due at 10:00, 10:30 and 11:00."""
    cloud = Cloud(Model(with_breaks()), 8, 1)
    working = []
    for minute in (599, 601, 629, 631, 659, 661, 689, 691):
        cloud.go(minute * MINUTE_MS)
        working.append(cloud.open_now()[0])
    assert working == [3, 2, 2, 2, 2, 2, 2, 3]


def test_the_end_of_a_break_brings_no_more_stations_than_stand_there() -> None:
    """All three told in use during a break: then nobody was away, and none comes back."""
    cloud = Cloud(Model(with_breaks()), 8, 1)
    cloud.go(10 * HOUR_MS + 10 * MINUTE_MS)
    cloud.told_open(0, 3)
    cloud.go(10 * HOUR_MS + 29 * MINUTE_MS)
    assert cloud.open_now()[0] == 3
    cloud.go(12 * HOUR_MS)
    assert cloud.open_now()[0] == 3


def test_breaks_to_come_make_the_longest_wait_to_come_longer() -> None:
    """The same line counted before them."""
    seen = [
        now.run(at((msgspec.structs.replace(site, reports=BUSY),), 9 * HOUR_MS + 5 * MINUTE_MS), 1).sites[0]
        for site in (site_of("A"), with_breaks())
    ]
    plain, away = (one.in_60 for one in seen)
    assert plain is not None and away is not None and away.middle > plain.middle


def test_failures_to_come_are_in_the_forecast_and_those_until_now_are_told() -> None:
    """With stations that fail often the wait now is the same and the longest one to come is longer."""
    failing = Failures(mean_use_ms=3 * HOUR_MS, repair=ServiceLaw(mean_ms=HOUR_MS))
    path = msgspec.structs.replace(PATH, check_in=msgspec.structs.replace(PATH.check_in, failures=failing))
    plain, weak = (
        now.run(at((site_of("A", CALM, path=one),), 9 * HOUR_MS + 5 * MINUTE_MS), 1).sites[0]
        for one in (PATH, path)
    )
    assert plain.in_line == weak.in_line
    assert plain.longest is not None and weak.longest is not None
    assert weak.longest.middle > plain.longest.middle


def test_voters_at_the_curb_do_not_come_to_the_door() -> None:
    """A third of the voters are served at the curb: a third fewer are checked in inside."""
    curb = Curbside(share_ppm=333_333, law=ServiceLaw(mean_ms=300_000))
    done = []
    for path in (PATH, msgspec.structs.replace(PATH, curbside=curb)):
        cloud = Cloud(Model(site_of("A", path=path)), 64, 1)
        cloud.go(12 * HOUR_MS)
        done.append(float(cloud.done.mean()))
    assert done[1] == pytest.approx(done[0] * 2 / 3, rel=0.05)
