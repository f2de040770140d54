"""Failures and spares: the exponential law and Poisson's, against values that anybody can compute again.

The 163 hours are those of the Voluntary Voting System Guidelines of 2005, volume I, section 3.4.3, as public
comments on a later draft quote them; the comments print 24 % for 45 hours, and 9.2 % for 15 hours, which is
15/163 and not the chance. The expected numbers of unmet failures for a mean of 1 are printed to three places
in Sherbrooke, Optimal Inventory Modeling of Systems, chapter 2 (from memory); all others are exact sums.
"""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from pollstead.plan.lines.spares import (
    FailureHours,
    expected_unmet,
    failure_chance,
    kind_spares,
    least_spares,
    place_spares,
    poisson_at_most,
)


def test_a_mean_of_163_hours_gives_the_chances_of_the_exponential_law() -> None:
    """15 hours: 8.79 %, not 9.2 %; 45 hours: 24.12 %."""
    assert failure_chance(15, 163) == pytest.approx(0.08792, abs=5e-6)
    assert failure_chance(45, 163) == pytest.approx(0.24124, abs=5e-6)
    assert abs(failure_chance(15, 163) - 15 / 163) > 0.004


def test_unmet_failures_of_a_mean_of_one() -> None:
    """Stock 0 to 4: 1.000 .368 .104 .023 .004."""
    found = [expected_unmet(spares, 1.0) for spares in range(5)]
    assert found == pytest.approx([1, 0.367879, 0.103638, 0.023337, 0.004349], abs=5e-7)


@pytest.mark.parametrize(("mean", "spares", "reached"), [(2.0, 5, 0.983436), (3.0, 6, 0.966491)])
def test_the_fewest_spares_that_last_on_95_of_100_days(mean: float, spares: int, reached: float) -> None:
    """Exact sums of Poisson's law."""
    assert least_spares(mean, 50_000) == spares
    assert poisson_at_most(spares, mean) == pytest.approx(reached, abs=5e-7)
    assert poisson_at_most(spares - 1, mean) < 0.95


@given(st.floats(0, 60), st.integers(1, 999_999))
def test_a_general_library_finds_the_same_number(mean: float, risk_ppm: int) -> None:
    """scipy's percentile of Poisson's law; at the edge of rounding one more or fewer."""
    wanted = 1 - risk_ppm / 1e6
    found = least_spares(mean, risk_ppm)
    assert stats.poisson.cdf(found, mean) >= wanted - 1e-12
    assert found == 0 or stats.poisson.cdf(found - 1, mean) <= wanted + 1e-12


@pytest.mark.parametrize("spares", [0, 1, 3, 5])
def test_no_other_placing_leaves_fewer_failures_unmet(spares: int) -> None:
    """Every placing of a few spares in three zones, tried."""
    means = (0.3, 1.1, 0.6)
    placed = place_spares(spares, means)
    every = [p for p in itertools.product(range(spares + 1), repeat=3) if sum(p) == spares]

    def unmet(placing: tuple[int, ...]) -> float:
        return math.fsum(expected_unmet(s, m) for s, m in zip(placing, means, strict=True))

    assert sum(placed) == spares
    assert unmet(placed) == pytest.approx(min(map(unmet, every)))


def test_a_store_in_each_zone_needs_more_spares_than_one_store() -> None:
    """The same risk of running out, held in one place or in four."""
    found = kind_spares(
        "scanner",
        67,
        {"north": 20, "east": 17, "south": 15, "west": 10},
        hours=15,
        failures=FailureHours(hours_between=163),
        share_ppm=0,
        risk_ppm=50_000,
    )
    assert found.by_risk == found.held == 10
    assert found.by_zone > found.by_risk
    assert found.run_out_ppm <= 50_000
    assert sum(zone.placed for zone in found.zones) == 10


def test_the_greater_of_the_share_and_the_risk_is_held() -> None:
    """62 devices at sites for 15 hours with 1,500 hours between failures: the risk alone asks for two."""
    found = kind_spares(
        "scanner",
        67,
        {"": 62},
        hours=15,
        failures=FailureHours(hours_between=1500, own=True),
        share_ppm=90_000,
        risk_ppm=50_000,
    )
    assert (found.by_risk, found.by_share, found.held) == (2, 7, 7)
    assert found.expected_ppm == 620_000


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: failure_chance(1, 0), "the mean > 0"),
        (lambda: least_spares(1, 0), "risk_ppm"),
        (lambda: poisson_at_most(1, -1), "failures expected"),
        (lambda: FailureHours(hours_between=0), "hours_between"),
    ],
)
def test_values_out_of_range_are_named(wrong: object, words: str) -> None:
    """Nothing is computed from them."""
    with pytest.raises(ValueError, match=words):
        wrong()  # type: ignore[operator]
