"""Intervals of a share of days against sums of binomial chances in exact fractions."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.plan.lines.intervals import beta_cdf, exact_interval_ppm, hopeless_from


def at_least(k: int, n: int, p: Fraction) -> Fraction:
    """Chance of k or more of n, exact."""
    return sum((comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k, n + 1)), Fraction(0))


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 120).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_interval_ends_leave_one_fortieth_on_each_side(case: tuple[int, int]) -> None:
    """Clopper and Pearson's definition, checked by exact binomial sums one ppm to each side of the ends."""
    over, days = case
    low, high = exact_interval_ppm(over, days)
    side, ppm = Fraction(1, 40), Fraction(1, 1_000_000)
    if over == 0:
        assert low == 0
    else:
        assert at_least(over, days, low * ppm) <= side <= at_least(over, days, (low + 1) * ppm)
    if over == days:
        assert high == 1_000_000
    else:
        assert (
            1 - at_least(over + 1, days, high * ppm) <= side <= 1 - at_least(over + 1, days, (high - 1) * ppm)
        )


def test_interval_without_any_day_over_has_a_closed_form() -> None:
    """0 of n: the upper end is 1 - 0.025 ** (1 / n); 0 of 1000 gives 3,683 ppm."""
    for days in (10, 200, 1000, 4000):
        assert exact_interval_ppm(0, days)[1] == pytest.approx((1 - 0.025 ** (1 / days)) * 1e6, abs=1)
    assert exact_interval_ppm(0, 1000) == (0, 3683)


def test_beta_function_mirrors() -> None:
    """I_x(a, b) = 1 - I_(1-x)(b, a) (NIST DLMF 8.17.4), and I_x(1, 1) = x."""
    for a, b, x in ((2, 9, 0.1), (51, 950, 0.05), (200.5, 3, 0.99)):
        assert beta_cdf(a, b, x) == pytest.approx(1 - beta_cdf(b, a, 1 - x), abs=1e-12)
    assert beta_cdf(1, 1, 0.3) == pytest.approx(0.3)


@pytest.mark.parametrize(("days", "risk_ppm"), [(64, 50_000), (200, 50_000), (64, 0), (64, 300_000)])
def test_hopeless_means_less_than_once_in_a_thousand(days: int, risk_ppm: int) -> None:
    """The bound is the first number of days whose chance at the accepted risk is below 1/1000."""
    bound = hopeless_from(days, risk_ppm)
    risk = Fraction(risk_ppm, 1_000_000)
    assert at_least(bound, days, risk) < Fraction(1, 1000) <= at_least(bound - 1, days, risk)


def test_more_days_over_than_days_is_refused() -> None:
    """The message names the argument and both values."""
    with pytest.raises(ValueError, match="got 5 of 4"):
        exact_interval_ppm(5, 4)
