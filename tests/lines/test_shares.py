"""How sure a share of days is: against scipy, against Clopper and Pearson, and by how often it is right."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.lines.drawn_shares import a_day, rising

from pollstead.plan.lines.intervals import exact_interval_ppm
from pollstead.plan.lines.shares import Share, _student, ranks_of, share_of

RANKS = ranks_of(a_day(), 0)


def test_ranks_are_the_order_of_size_whatever_day_is_first() -> None:
    """Days put in order of their ranks have their voters in order; the draws differ, so all are used."""
    day = a_day()
    for first in (0, 7, 1 << 20):
        turn = (np.arange(first, first + 200) % 200) * 123 % 200
        in_order = day.totals[turn][np.argsort(ranks_of(day, first))]
        assert in_order.tolist() == sorted(day.totals.tolist())


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 900), st.data())
def test_days_that_do_not_go_through_all_draws_are_taken_as_drawn_blindly(
    days: int, data: st.DataObject
) -> None:
    """The interval is then Clopper and Pearson's of the plain count."""
    if days % 200 == 0:
        days += 1
    over = data.draw(st.integers(0, days))
    flags = np.arange(days) < over
    assert share_of(flags, RANKS).interval_ppm() == exact_interval_ppm(over, days)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([0.005, 0.05, 0.3]), st.sampled_from([0.002, 0.05, 0.4]))
def test_no_share_is_less_sure_than_its_plain_count(seed: int, share: float, steepness: float) -> None:
    """The interval never passes Clopper and Pearson's, holds the share itself, and agrees with the tests."""
    chances = np.clip(rising(share, steepness), 0, 1)[np.argsort(np.argsort(a_day().totals))]
    turn = np.arange(400) % 200 * 123 % 200
    flags = np.random.default_rng(seed).random(400) < chances[turn]
    found = share_of(flags, RANKS)
    low, high = found.interval_ppm()
    plain_low, plain_high = exact_interval_ppm(found.over, 400)
    assert plain_low <= low <= found.over * 1_000_000 // 400 <= high <= plain_high
    for risk_ppm in (low - 1, low + 1, high - 1, high + 1):
        if 0 < risk_ppm < 1_000_000:
            assert found.is_above(risk_ppm, 0.025) == (risk_ppm < low + 1)
            assert found.is_below(risk_ppm, 0.025) == (risk_ppm > high - 1)


def test_what_a_share_is_worth_follows_from_the_spread_inside_the_groups() -> None:
    """By hand: five rounds, so that each draw is a group of five days; some over at the largest four.

    Variance of the share: (5/1000)^2 (s1^2 + s2^2 + s3^2) / 5 with s^2 = 5/4 times 0.16, 0.24 and 0.24; the
    one that is always over adds nothing. Korn and Graubard's number, by scipy's quantiles.
    """
    flags = np.zeros((5, 200), bool)
    for place, over in ((196, 4), (197, 3), (198, 2), (199, 5)):
        flags[:over, np.flatnonzero(place == RANKS)[0]] = True
    found = share_of(flags.reshape(-1), RANKS)
    variance = (5 / 1000) ** 2 * (5 / 4) * (0.16 + 0.24 + 0.24) / 5
    share = 14 / 1000
    assert (found.over, found.days, found.freedom) == (14, 1000, 6)
    assert found.worth == pytest.approx(share * (1 - share) / variance)
    worth = found.worth * (scipy.stats.norm.ppf(0.975) / scipy.stats.t.ppf(0.975, 6)) ** 2
    low = scipy.stats.beta.ppf(0.025, share * worth, worth * (1 - share) + 1)
    high = scipy.stats.beta.ppf(0.975, share * worth + 1, worth * (1 - share))
    assert found.interval_ppm() == pytest.approx((low * 1e6, high * 1e6), abs=60)


@pytest.mark.parametrize("freedom", [3, 5, 10, 40, 400])
def test_students_quantile_is_scipys(freedom: int) -> None:
    """Abramowitz and Stegun's expansion is within 4 % at 3 degrees and 1 % from 5 on, never far above."""
    for chance in (0.1, 0.025, 0.0125):
        exact = float(scipy.stats.t.ppf(1 - chance, freedom))
        ours = _student(float(scipy.stats.norm.ppf(1 - chance)), freedom)
        assert ours == pytest.approx(exact, rel=0.04 if freedom == 3 else 0.01)


def test_few_groups_with_days_of_both_kinds_are_not_trusted() -> None:
    """With one mixed group of five days the plain count is taken."""
    flags = RANKS >= 198
    assert share_of(flags, RANKS) == Share(2, 200, 200.0)


@pytest.mark.full
@pytest.mark.parametrize("share", [0.05, 0.1, 0.3])
def test_the_interval_holds_the_true_share_in_ninety_five_of_a_hundred(share: float) -> None:
    """300 repetitions of 400 days, of which a few draws decide; narrower than the plain count's interval.

    At 2.5 % for each end 7.5 of 300 would fail; 15 or more come up less than once in a hundred.
    """
    rng = np.random.default_rng(17)
    chances = rising(share, 0.02)[np.argsort(np.argsort(a_day().totals))][np.arange(400) % 200 * 123 % 200]
    below = above = 0
    widths = []
    for _ in range(300):
        found = share_of(rng.random(400) < chances, RANKS)
        low, high = found.interval_ppm()
        below, above = below + (share * 1e6 < low), above + (share * 1e6 > high)
        plain = exact_interval_ppm(found.over, 400)
        widths.append((high - low) / (plain[1] - plain[0]))
    assert max(below, above) < 15, (below, above)
    assert np.mean(widths) < 0.85
