"""The compiled day against plain-Python draws and the event-by-event teller: equal to the millisecond."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.election.values import frozen_array
from pollstead.plan.lines import draws, engine
from pollstead.plan.lines.laws import gap_table, law_table
from pollstead.plan.lines.reference import DayTold, tell_day
from pollstead.plan.lines.trials import Trials
from pollstead.plan.lines.voters import cumulative_shares, drawn_voters, slot_edges_ms
from pollstead.plan.terms.lines import (
    ArrivalDay,
    LawKind,
    ServiceLaw,
    SitePath,
    StageWork,
    WaitLimit,
)

HOUR_MS = 3_600_000
LIMIT = WaitLimit(limit_ms=1_800_000, risk_ppm=50_000)

laws = st.builds(
    ServiceLaw,
    kind=st.sampled_from([k for k in LawKind if k is not LawKind.EMPIRICAL]),
    mean_ms=st.integers(1, 400_000),
    cv_ppm=st.integers(0, 1_500_000),
)
works = st.builds(StageWork, law=laws, limited=st.booleans())


@st.composite
def paths(draw: st.DrawFn) -> SitePath:
    """Any voter path: steps may be missing or without a line; some voters need accessible stations."""
    accessible = draw(st.none() | works)
    share = draw(st.sampled_from([0, 30_000, 500_000, 1_000_000]))
    return SitePath(
        check_in=draw(works),
        mark=draw(st.none() | works),
        accessible=accessible,
        accessible_share_ppm=share if accessible is not None else 0,
        cast=draw(st.none() | works),
    )


@st.composite
def arrival_days(draw: st.DrawFn) -> ArrivalDay:
    """Any short day, quarter hours without arrivals and a cut last slot included."""
    open_ms = draw(st.integers(0, 9 * HOUR_MS))
    close_ms = open_ms + draw(st.integers(1, 2 * HOUR_MS))
    slots = -(-(close_ms - open_ms) // 900_000)
    weights = draw(st.lists(st.integers(0, 9), min_size=slots, max_size=slots).filter(lambda w: sum(w) > 0))
    return ArrivalDay(
        date=dt.date(2026, 11, 3),
        open_ms=open_ms,
        close_ms=close_ms,
        slot_weights=frozen_array(weights, "int64"),
        totals=frozen_array([draw(st.integers(0, 80))], "int64"),
        opening_line_share_ppm=draw(st.sampled_from([0, 20_000, 400_000, 1_000_000])),
    )


def counts_for(path: SitePath, numbers: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
    """The numbers of the stages that can have a line, 0 for the others."""
    a, b, c, d = (n if limited else 0 for n, limited in zip(numbers, path.limited(), strict=True))
    return (a, b, c, d)


def engine_day(
    path: SitePath, day: ArrivalDay, key: int, number: int, counts: tuple[int, int, int, int], late_ms: int
) -> tuple[np.ndarray, np.ndarray]:
    """The engine's row and trace of one day."""
    n = int(day.totals[0])
    tables = np.stack([gap_table(), *(law_table(None if w is None else w.law) for w in path.works())])
    out, trace = engine.simulate_days(
        key,
        number,
        day.totals,
        np.array([draws.opening_line(n, day.opening_line_share_ppm)]),
        day.open_ms + late_ms,
        np.array(slot_edges_ms(day)),
        np.array(cumulative_shares(day)),
        tables,
        draws.accessible_threshold(path.accessible_share_ppm),
        np.array([counts]),
        LIMIT.limit_ms,
        trace_voters=n,
    )
    return out[0, 0], trace


@pytest.mark.full
@settings(max_examples=150, deadline=None)
@given(
    path=paths(),
    day=arrival_days(),
    key=st.integers(0, 2**63 - 1),
    number=st.integers(0, 2**21),
    numbers=st.tuples(*[st.integers(1, 12)] * 4),
    late_ms=st.sampled_from([0, 1, 3_600_000]),
)
def test_engine_and_event_by_event_teller_agree_to_the_millisecond(
    path: SitePath,
    day: ArrivalDay,
    key: int,
    number: int,
    numbers: tuple[int, int, int, int],
    late_ms: int,
) -> None:
    """On any day the two agree on every draw, every wait, the longest wait and the last voter's leaving."""
    counts = counts_for(path, numbers)
    voters = drawn_voters(path, day, key, number, int(day.totals[0]))
    row, trace = engine_day(path, day, key, number, counts, late_ms)
    if not voters:
        assert row[engine.LONGEST] == 0
        return
    told: DayTold = tell_day(voters, counts, day.open_ms + late_ms, day.open_ms)
    assert trace[0].tolist() == [v.arrives_ms for v in voters]
    assert trace[4].tolist() == [-1 - v.mark_ms if v.accessible else v.mark_ms for v in voters]
    assert trace[5].tolist() == [v.check_in_ms for v in voters]
    assert [tuple(w) for w in trace[1:4].T.tolist()] == list(told.waits_ms)
    assert row[engine.LONGEST] == told.longest_ms
    assert row[engine.LAST_OUT] == told.last_out_ms
    assert row[engine.OVER] == sum(1 for w in told.waits_ms if sum(w) > LIMIT.limit_ms)
    sums = row[engine.SUM_CHECK_IN : engine.SUM_CAST + 1].tolist()
    special = sum(w[1] for w, v in zip(told.waits_ms, voters, strict=True) if v.accessible)
    marking = sum(w[1] for w in told.waits_ms) - special
    assert sums == [sum(w[0] for w in told.waits_ms), marking, special, sum(w[2] for w in told.waits_ms)]


def test_ties_in_time_go_by_order_of_arrival_at_the_door() -> None:
    """With equal whole-second services many voters move in the same millisecond; both rank them alike."""
    same = StageWork(law=ServiceLaw(kind=LawKind.DETERMINISTIC, mean_ms=60_000))
    path = SitePath(check_in=same, mark=same, accessible=same, accessible_share_ppm=300_000, cast=same)
    day = ArrivalDay(
        date=dt.date(2026, 11, 3),
        open_ms=0,
        close_ms=HOUR_MS,
        slot_weights=frozen_array([1, 1, 1, 1], "int64"),
        totals=frozen_array([200], "int64"),
        opening_line_share_ppm=900_000,
    )
    for number in range(10):
        voters = drawn_voters(path, day, 7, number, 200)
        _, trace = engine_day(path, day, 7, number, (7, 5, 2, 3), 0)
        told = tell_day(voters, (7, 5, 2, 3), 0, 0)
        assert [tuple(w) for w in trace[1:4].T.tolist()] == list(told.waits_ms)


def test_a_wait_counts_from_the_set_opening_hour_when_the_doors_open_late() -> None:
    """Doors 60 minutes late: the first in line has waited exactly 60 minutes, by the set hour."""
    path = SitePath(check_in=StageWork(law=ServiceLaw(kind=LawKind.DETERMINISTIC, mean_ms=60_000)))
    day = ArrivalDay(
        date=dt.date(2026, 11, 3),
        open_ms=7 * HOUR_MS,
        close_ms=20 * HOUR_MS,
        slot_weights=frozen_array([1] * 52, "int64"),
        totals=frozen_array([100], "int64"),
        opening_line_share_ppm=100_000,
    )
    row, trace = engine_day(path, day, 3, 0, (1, 0, 0, 0), HOUR_MS)
    # 10 in the opening line: the tenth waits 60 min + 9 x 1 min.
    assert trace[1, :10].tolist() == [HOUR_MS + k * 60_000 for k in range(10)]
    assert row[engine.LONGEST] >= HOUR_MS + 9 * 60_000


def test_candidates_meet_the_same_voters_whatever_stands_beside_them() -> None:
    """Rows do not depend on which other candidates are tried in the same call, nor on how days are cut up."""
    path = SitePath(
        check_in=StageWork(law=ServiceLaw(mean_ms=85_000, cv_ppm=600_000)),
        mark=StageWork(law=ServiceLaw(mean_ms=300_000, cv_ppm=500_000)),
        cast=StageWork(law=ServiceLaw(mean_ms=15_000, cv_ppm=500_000)),
    )
    day = ArrivalDay(
        date=dt.date(2026, 11, 3),
        open_ms=0,
        close_ms=4 * HOUR_MS,
        slot_weights=frozen_array([3, 1] * 8, "int64"),
        totals=frozen_array([150, 220, 180], "int64"),
        opening_line_share_ppm=20_000,
    )
    trials = Trials(path, day, LIMIT, 99)
    together = trials.rows([(3, 9, 0, 1), (4, 12, 0, 2)], 0, 12)
    alone = trials.rows([(4, 12, 0, 2)], 0, 12)
    pieces = np.concatenate([trials.rows([(4, 12, 0, 2)], k, 4) for k in (0, 4, 8)], axis=1)
    assert (together[1] == alone[0]).all()
    assert (pieces[0] == alone[0]).all()
    assert (trials.rows([(3, 9, 0, 1)], 0, 12)[0] == together[0]).all()
    # 12 days are 4 rounds of 150 + 220 + 180 voters, for 2 + 1 + 1 + 1 candidates.
    assert trials.work_units == 4 * 550 * 5


@pytest.mark.parametrize(
    "law",
    [
        ServiceLaw(kind=LawKind.LOGNORMAL, mean_ms=85_000, cv_ppm=600_000),
        ServiceLaw(kind=LawKind.LOGNORMAL, mean_ms=300_000, cv_ppm=1_200_000),
        ServiceLaw(kind=LawKind.EXPONENTIAL, mean_ms=240_000),
        ServiceLaw(kind=LawKind.DETERMINISTIC, mean_ms=15_000),
    ],
)
def test_drawn_services_have_the_laws_mean_and_spread(law: ServiceLaw) -> None:
    """20,000 draws: mean and variation within four standard errors of the law's."""
    table = law_table(law).tolist()
    n = 20_000
    sample = np.array([draws.quantile(table, draws.word(5, 1, v, draws.MARK)) for v in range(n)], float)
    cv = {LawKind.LOGNORMAL: law.cv_ppm / 1e6, LawKind.EXPONENTIAL: 1.0, LawKind.DETERMINISTIC: 0.0}[law.kind]
    assert abs(sample.mean() - law.mean_ms) <= 4 * cv * law.mean_ms / n**0.5
    assert abs(sample.std() / sample.mean() - cv) <= (0.06 if cv > 0.9 else 0.02) * cv


def test_splitmix_finaliser_gives_its_published_words() -> None:
    """SplitMix64 from state 0: the first words of the reference generator (from memory)."""
    assert [draws.mix(draws.GOLDEN * k) for k in (1, 2, 3)] == [
        0xE220A8397B1DCDAF,
        0x6E789E6AA1B965F4,
        0x06C45D188009454F,
    ]


def test_the_largest_day_allowed_stays_in_order_and_within_its_hours() -> None:
    """1,000,000 voters and 20 % more: the whole-number arithmetic of arrivals does not overflow."""
    instant = StageWork(law=ServiceLaw(kind=LawKind.DETERMINISTIC, mean_ms=1), limited=False)
    day = ArrivalDay(
        date=dt.date(2026, 11, 3),
        open_ms=7 * HOUR_MS,
        close_ms=20 * HOUR_MS,
        slot_weights=frozen_array([1] * 52, "int64"),
        totals=frozen_array([1_000_000], "int64"),
    )
    trials = Trials(SitePath(check_in=instant), day, LIMIT, 5)
    arrivals = trials.one_day((0, 0, 0, 0), 0)[0]
    assert (np.diff(arrivals) >= 0).all()
    assert 7 * HOUR_MS <= arrivals[0] <= arrivals[-1] < 20 * HOUR_MS
    # Evenly spread: the middle voter comes at 13:30, give or take 4 standard errors of 13 h / (2 sqrt(n)).
    assert abs(int(arrivals[500_000]) - 13.5 * HOUR_MS) <= 4 * 13 * HOUR_MS / 2 / 1_000_000**0.5
    row = trials.rows([(0, 0, 0, 0)], 0, 1, turnout_ppm=1_200_000)[0, 0]
    assert 20 * HOUR_MS - 1000 < row[engine.LAST_OUT] <= 20 * HOUR_MS
