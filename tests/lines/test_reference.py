"""The event-by-event telling: worked days by hand, a second way of counting, balance on any day."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from tests.lines.days import arrival_days, counts_for, paths

from pollstead.plan.lines import draws
from pollstead.plan.lines.gamma import gamma_quantile, gamma_share
from pollstead.plan.lines.laws import law_table
from pollstead.plan.lines.reference import CURBSIDE, DayTold, Voter, tell_day, unbalanced
from pollstead.plan.lines.told import counted_day, told_day
from pollstead.plan.terms.lines import (
    Absence,
    ArrivalDay,
    Breaks,
    LawKind,
    ServiceLaw,
    SitePath,
    Stage,
)

MINUTE = 60_000


def voter(arrives_min: float, check_in: float = 0, mark: float = 0, cast: float = 0, **more: object) -> Voter:
    """A voter in minutes."""
    whole = [round(x * MINUTE) for x in (arrives_min, check_in, mark, cast)]
    return Voter(whole[0], bool(more.pop("accessible", False)), *whole[1:], **more)


def waits(told: DayTold, step: int) -> list[float]:
    """Everybody's waits at one step in minutes."""
    return [w[step] / MINUTE for w in told.waits_ms]


def test_a_break_takes_the_first_free_station_before_anybody_in_line() -> None:
    """One desk, four voters of 4 minutes at 0, 1, 2, 3; a break of 10 minutes is due at minute 4.

    The first is served 0 to 4; at 4 the break goes first, until 14; then 14, 18, 22.
    """
    people = [voter(k, 4) for k in range(4)]
    away = Absence(stage=Stage.CHECK_IN, from_ms=4 * MINUTE, lasts_ms=10 * MINUTE)
    told = tell_day(people, (1, 0, 0, 0), 0, 0, absences=[[away], [], [], []])
    assert waits(told, 0) == [0, 13, 16, 19]
    late = replace_from(away, 4 * MINUTE + 1)
    told = tell_day(people, (1, 0, 0, 0), 0, 0, absences=[[late], [], [], []])
    assert waits(told, 0) == [0, 3, 16, 19]


def replace_from(absence: Absence, from_ms: int) -> Absence:
    """The same absence at another moment."""
    return Absence(stage=absence.stage, from_ms=from_ms, until_ms=absence.until_ms, lasts_ms=absence.lasts_ms)


def test_a_shift_that_begins_late_leaves_the_other_station_alone_until_then() -> None:
    """Two desks, one of them from minute 10: voters of 6 minutes at 0, 0, 0, 0 start at 0, 6, 10, 12."""
    people = [voter(0, 6) for _ in range(4)]
    shift = Absence(stage=Stage.CHECK_IN, from_ms=0, until_ms=10 * MINUTE)
    told = tell_day(people, (2, 0, 0, 0), 0, 0, absences=[[shift], [], [], []], moments_ms=[0, 5 * MINUTE])
    assert waits(told, 0) == [0, 6, 10, 12]
    assert [row[0] for row in told.lines] == [3, 3]


def test_breaks_of_all_stations_are_spread_between_the_hours_given() -> None:
    """Three desks, half an hour each between 10:00 and 12:30: due at 10:00, 10:40 and 11:20."""
    breaks = Breaks(stage=Stage.CHECK_IN, lasts_ms=30 * MINUTE, from_ms=600 * MINUTE, until_ms=750 * MINUTE)
    assert [a.from_ms // MINUTE for a in breaks.absences(3)] == [600, 640, 680]


def test_a_station_that_fails_lets_its_voter_go_on_and_is_back_after_repair() -> None:
    """One scanner, 1 minute each; it fails after the first voter for 20 minutes: the second waits 20."""
    people = [voter(0, cast=1, repair_ms=(0, 0, 20 * MINUTE)), voter(1, cast=1), voter(30, cast=1)]
    told = tell_day(people, (0, 0, 0, 1), 0, 0)
    assert waits(told, 2) == [0, 20, 0]
    assert told.last_out_ms == 31 * MINUTE


def test_a_jam_holds_its_voter_and_the_scanner() -> None:
    """A jam of 5 minutes: the voter casts for 6, the next waits until then."""
    people = [voter(0, cast=1, jam_ms=5 * MINUTE), voter(2, cast=1)]
    told = tell_day(people, (0, 0, 0, 1), 0, 0)
    assert waits(told, 2) == [0, 4]


def test_the_curb_has_a_line_of_its_own_that_starts_when_the_doors_open() -> None:
    """Doors 10 minutes late: two at the curb since minute 0, 8 minutes each; nobody inside waits for them."""
    people = [voter(0, 8, curbside=True), voter(0, 8, curbside=True), voter(12, 8)]
    told = tell_day(people, (1, 0, 0, 0), 10 * MINUTE, 0, curbside_stations=1)
    assert waits(told, 0) == [10, 18, 0]
    assert told.sums_ms(people)[CURBSIDE] == 28 * MINUTE


def test_accessible_stations_open_to_all_serve_first_those_who_need_them() -> None:
    """One station of each kind, 10 minutes each.

    General voters at 0, 1, 2; one who needs the accessible station at 3. The second takes the idle accessible
    station until 11; at 10 the third takes the general one; at 11 the fourth.
    """
    people = [voter(t, mark=10) for t in (0, 1, 2)] + [voter(3, mark=10, accessible=True)]
    told = tell_day(people, (0, 1, 1, 0), 0, 0, accessible_open=True)
    assert waits(told, 1) == [0, 0, 8, 8]
    kept_apart = tell_day(people, (0, 1, 1, 0), 0, 0)
    assert waits(kept_apart, 1) == [0, 9, 18, 0]


def test_who_leaves_the_line_does_so_when_patience_ends_and_not_when_served_at_that_moment() -> None:
    """One desk, 10 minutes each: patience of 10 minutes is just enough for the second, not for the third."""
    people = [voter(0, 10, patience_ms=10 * MINUTE) for _ in range(3)]
    told = tell_day(people, (1, 0, 0, 0), 0, 0)
    assert told.left == (False, False, True)
    assert waits(told, 0) == [0, 10, 10]
    assert told.served == 2


def one_stage(
    reaches: list[int], takes: list[int], repairs: list[int], stations: int, absences: list[Absence]
) -> list[int]:
    """Starts at one stage by a list of free moments: no events, no heap, no queue."""
    free = [0] * stations
    due = list(absences)
    starts = []
    for at, service, repair in zip(reaches, takes, repairs, strict=True):
        while due and due[0].from_ms <= max(at, min(free)):
            away = due.pop(0)
            begins = max(away.from_ms, min(free))
            free[free.index(min(free))] = max(begins + away.lasts_ms, away.until_ms)
        begins = max(at, min(free))
        free[free.index(min(free))] = begins + service + repair
        starts.append(begins)
    return starts


@settings(max_examples=100, deadline=None)
@given(
    day=arrival_days(),
    stations=st.integers(1, 4),
    times=st.lists(st.tuples(st.integers(0, 30), st.integers(1, 9), st.sampled_from([0, 0, 0, 25]))),
)
def test_absences_and_repairs_agree_with_a_list_of_free_moments(
    day: ArrivalDay, stations: int, times: list[tuple[int, int, int]]
) -> None:
    """At one stage the telling by events and the recursion over voters start everybody at the same moment."""
    reach = 0
    people = []
    for gap, takes, out in times:
        reach += gap
        people.append(voter(reach, cast=takes, repair_ms=(0, 0, out * MINUTE)))
    absences = day.absences_of((0, 0, 0, stations))
    told = tell_day(people, (0, 0, 0, stations), 0, 0, absences=absences)
    starts = one_stage(
        [p.arrives_ms for p in people],
        [p.cast_ms for p in people],
        [p.repair_ms[2] for p in people],
        stations,
        list(absences[3]),
    )
    assert [p.arrives_ms + w[2] for p, w in zip(people, told.waits_ms, strict=True)] == starts


@settings(max_examples=60, deadline=None)
@given(
    path=paths(),
    day=arrival_days(),
    key=st.integers(0, 2**63 - 1),
    numbers=st.tuples(*[st.integers(1, 6)] * 4),
    late_ms=st.sampled_from([0, 1, 3_600_000]),
)
def test_any_day_told_adds_up(
    path: SitePath, day: ArrivalDay, key: int, numbers: tuple[int, int, int, int], late_ms: int
) -> None:
    """Little's law to the millisecond and the balance of voters, with every feature of the model.

    What is kept by hour is the same day: voters, over the limit and longest wait agree with the row, the
    line at opening with those who had come.
    """
    counts = counts_for(path, numbers)
    total = int(day.totals[0])
    told, people = told_day(path, day, key, 3, total, counts, late_ms)
    assert unbalanced(told, people) is None
    kept = counted_day(told, people, day, 600_000)
    assert sum(kept.voters) == total
    assert max(kept.longest_ms) == kept.row[0] == told.longest_ms
    assert sum(kept.over) == kept.row[1]
    assert sum(kept.row[3:7]) + kept.row[8] == sum(sum(w) for w in told.waits_ms)
    if late_ms > 1 and total:
        at_doors = sum(p.arrives_ms <= day.open_ms for p in people)
        assert sum(kept.lines[0]) == at_doors
    assert not any(told.left) or path.patience is not None


@settings(max_examples=15, deadline=None)
@given(path=paths(), day=arrival_days(), key=st.integers(0, 2**63 - 1))
def test_a_day_that_does_not_add_up_is_found(path: SitePath, day: ArrivalDay, key: int) -> None:
    """One millisecond more in one wait, or one voter fewer served, and the check says so."""
    told, people = told_day(path, day, key, 0, 1 + int(day.totals[0]), counts_for(path, (1, 2, 1, 1)))
    (a, b, c), *others = told.waits_ms
    assert "add up" in str(unbalanced(replace(told, waits_ms=((a + 1, b, c), *others)), people))
    assert "came" in str(unbalanced(replace(told, served=told.served - 1), people))


def test_failures_come_with_the_chance_of_memoryless_use() -> None:
    """40,000 services: share that fail within 4.5 standard errors of 1 - exp(-use / mean use)."""
    for service_ms, mean_use_ms in ((300_000, 3_600_000), (90_000, 7_200_000), (3_000_000, 3_600_000)):
        rate = draws.use_rate(mean_use_ms)
        n = 40_000
        found = sum(draws.fails(draws.mix(draws.GOLDEN * k), service_ms, rate) for k in range(n))
        x = service_ms / mean_use_ms
        wanted = 1 - math.exp(-x)
        cut_off = x**4 / 24  # the polynomial's first term left out
        assert abs(found / n - wanted) <= 4.5 * math.sqrt(wanted / n) + cut_off


def test_classes_share_no_voter_and_come_with_their_shares() -> None:
    """Who needs an accessible station is never at the curb; 3 %, 5 % and jams of 1 % come up as given."""
    n = 40_000
    accessible, curb = draws.accessible_threshold(30_000), draws.accessible_threshold(50_000)
    jam = draws.chance_threshold(10_000)
    special = [draws.needs_accessible(9, 1, v, accessible) for v in range(n)]
    outside = [draws.at_curb(9, 1, v, curb) for v in range(n)]
    jams = [draws.jams(9, 1, v, jam) for v in range(n)]
    assert not any(a and b for a, b in zip(special, outside, strict=True))
    for found, share in ((special, 0.03), (outside, 0.05), (jams, 0.01)):
        assert abs(sum(found) / n - share) <= 4.5 * math.sqrt(share / n)
    both = sum(a and b for a, b in zip(outside, jams, strict=True))
    assert abs(both / n - 0.0005) <= 4.5 * math.sqrt(0.0005 / n)


@pytest.mark.parametrize("cv", [0.05, 0.3, 0.5, 1.0, 1.7, 3.0])
def test_gamma_quantiles_agree_with_a_general_library(cv: float) -> None:
    """scipy's gamma law: quantile and share to nine digits, tails included."""
    shape = 1 / cv**2
    for u in (2.0**-20, 1e-3, 0.1, 0.5, 0.9, 0.999, 1 - 2.0**-20):
        assert gamma_quantile(shape, u) == pytest.approx(stats.gamma.ppf(u, shape), rel=1e-9)
        assert gamma_share(shape, 3 * shape * u) == pytest.approx(
            stats.gamma.cdf(3 * shape * u, shape), rel=1e-9
        )


def test_gamma_and_empirical_draws_follow_their_law() -> None:
    """8,000 draws: Kolmogorov-Smirnov distance below its 0.1 % point, 1.95 / sqrt(n); the mean as given."""
    n = 8_000
    gamma = ServiceLaw(kind=LawKind.GAMMA, mean_ms=300_000, cv_ppm=500_000)
    seen = ServiceLaw(kind=LawKind.EMPIRICAL, mean_ms=42_500, quantiles_ms=(10_000, 30_000, 40_000, 100_000))
    # Thirds of the empirical law: means 20, 35 and 70 s, so 41.67 s, stretched to 42.5 s.
    stretch = 42_500 / (125_000 / 3)

    def empirical(times: list[int]) -> list[float]:
        return [below(x) for x in times]

    def below(x: float) -> float:
        at = x / stretch
        if at <= 30_000:
            return max(0.0, (at - 10_000) / 60_000)
        if at <= 40_000:
            return 1 / 3 + (at - 30_000) / 30_000
        return min(1.0, 2 / 3 + (at - 40_000) / 180_000)

    for law, share in (
        (gamma, lambda x: stats.gamma.cdf(x, 4, scale=75_000)),
        (seen, empirical),
    ):
        table = law_table(law).tolist()
        sample = sorted(draws.quantile(table, draws.word(5, 1, v, draws.MARK)) for v in range(n))
        shares = [float(p) for p in share(sample)]
        apart = max(max(abs(p - k / n), abs(p - (k + 1) / n)) for k, p in enumerate(shares))
        assert apart <= 1.95 / math.sqrt(n) + 1 / 256**2
        deviation = math.sqrt(sum((x - law.mean_ms) ** 2 for x in sample) / n)
        assert abs(sum(sample) / n - law.mean_ms) <= 4 * deviation / math.sqrt(n)
