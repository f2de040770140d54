"""Sweeps: tallies that anybody may add in any order, the same voters for every rule, nothing else kept."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.values import frozen_array
from pollstead.plan.lines.sweep import (
    BIN_MS,
    RatioRule,
    RuleTally,
    SweepAsked,
    rule_counts,
    site_tallies,
    sites_together,
    sweep,
)
from pollstead.plan.lines.trials import Trials
from pollstead.plan.terms.lines import ArrivalDay, ServiceLaw, SiteLines, SitePath, StageWork, WaitLimit
from pollstead.plan.terms.part import derive_seed
from pollstead.plan.terms.spreading import InThreads

pytestmark = pytest.mark.full

HOUR_MS = 3_600_000
FEW = RatioRule(name="few", voters_a_check_in=300, voters_a_mark=100, voters_a_cast=1500)
MANY = RatioRule(name="many", voters_a_check_in=100, voters_a_mark=30, voters_a_cast=500, accessible=2)
ASKED = SweepAsked(rules=(FEW, MANY), days=20, seed=5)


def site(number: int, voters: tuple[int, ...] = (380, 420)) -> SiteLines:
    """An invented site with paper ballots."""

    def work(mean_s: int) -> StageWork:
        return StageWork(law=ServiceLaw(mean_ms=mean_s * 1000, cv_ppm=600_000))

    return SiteLines(
        site=f"P{number}",
        seed_key=f"key {number}",
        path=SitePath(
            check_in=work(90),
            mark=work(300),
            accessible=work(500),
            accessible_share_ppm=20_000,
            cast=work(20),
        ),
        days=(
            ArrivalDay(
                date=dt.date(2028, 11, 7),
                open_ms=7 * HOUR_MS,
                close_ms=20 * HOUR_MS,
                slot_weights=frozen_array([2] * 8 + [1] * 44, "int64"),
                totals=frozen_array(voters, "int64"),
                opening_line_share_ppm=20_000,
            ),
        ),
        limit=WaitLimit(limit_ms=1_800_000, risk_ppm=50_000),
    )


def test_a_ratio_gives_whole_stations_and_never_none() -> None:
    """A ratio gives whole stations and never none."""
    mean_400 = site(1)
    assert rule_counts(FEW, mean_400, mean_400.days[0]) == (2, 4, 1, 1)
    assert rule_counts(MANY, mean_400, mean_400.days[0]) == (4, 14, 2, 1)
    tiny = site(1, (1,))
    assert rule_counts(FEW, tiny, tiny.days[0]) == (1, 1, 1, 1)


def test_a_tally_is_what_the_same_days_say_one_by_one() -> None:
    """A tally is what the same days say one by one."""
    one = site(3)
    key = derive_seed(5, "sweep", one.seed_key, "day 2028-11-07")
    trials = Trials(one.path, one.days[0], one.limit, key)
    for rule, tally in zip(ASKED.rules, site_tallies(one, ASKED), strict=True):
        counts = rule_counts(rule, one, one.days[0])
        shown = trials.figures([counts], 0, 20)[0]
        assert (tally.sites, tally.days, tally.stations) == (1, 20, counts)
        assert tally.days_over == shown.risk.over
        assert tally.mean_wait_ms == pytest.approx(shown.mean_wait_ms, abs=4)
        assert tally.sites_over == int(shown.risk.over > 1)
        assert sum(tally.longest_bins) == 20
        median_bin = shown.p50_longest_ms // BIN_MS
        assert sum(tally.longest_bins[: median_bin + 1]) >= 10


def test_more_stations_for_the_same_voters_and_less_waiting() -> None:
    """More stations for the same voters and less waiting."""
    few, many = sites_together((tuple(site(k) for k in range(6)), ASKED))
    assert few.voters == many.voters
    assert all(a <= b for a, b in zip(few.stations, many.stations, strict=True))
    assert many.waits_ms < few.waits_ms / 2


def test_a_sweep_is_the_same_in_parts_of_any_size_and_any_number_of_threads() -> None:
    """A sweep is the same in parts of any size and any number of threads."""
    sites = [site(k, (100 + 37 * k,)) for k in range(9)]
    ways = [
        sweep(
            [(tuple(sites[a : a + size]), ASKED) for a in range(0, 9, size)],
            sites_together,
            None,
            InThreads(n),
        )
        for size, n in ((9, 1), (1, 2), (4, 2))
    ]
    assert len({msgspec.json.encode(way) for way in ways}) == 1


def test_a_day_nobody_comes_is_told_apart() -> None:
    """A day nobody comes is told apart."""
    tally = site_tallies(site(1, (0, 0)), ASKED)[0]
    assert (tally.refused, tally.days, tally.voters, tally.sites) == (1, 0, 0, 1)


COUNTS = st.integers(0, 1 << 40)


@given(st.lists(st.tuples(COUNTS, COUNTS, COUNTS), min_size=1, max_size=6), st.randoms())
def test_tallies_add_up_in_any_order(numbers: list[tuple[int, int, int]], random: object) -> None:
    """Tallies add up in any order."""
    tallies = [RuleTally(sites=1, voters=a, waits_ms=b, voters_over=c) for a, b, c in numbers]
    shuffled = list(tallies)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    one, other = RuleTally(), RuleTally()
    for tally in tallies:
        one += tally
    for tally in shuffled:
        other += tally
    assert one == other
    assert one.sites == len(tallies)


@pytest.mark.parametrize("wrong", [{"voters_a_check_in": 0}, {"accessible": 0}])
def test_a_ratio_of_nothing_is_refused(wrong: dict[str, int]) -> None:
    """A ratio of nothing is refused."""
    whole = {"voters_a_check_in": 1, "voters_a_mark": 1, "voters_a_cast": 1, "accessible": 1, **wrong}
    with pytest.raises(ValueError, match="must be >= 1"):
        RatioRule(name="r", **whole)
