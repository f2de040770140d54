"""Service laws fitted to timed samples, against scipy and against laws that are known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, special, stats

from pollstead.election.timings import Samples
from pollstead.plan.lines.fit_laws import FEWEST, fit_service, kaplan_meier, samples_wanted
from pollstead.plan.lines.fit_likelihood import (
    FittedLaw,
    Likelihood,
    law_quantile,
    log_gamma_tail,
    log_normal_tail,
    student_quantile,
)
from pollstead.plan.lines.fit_sites import fit_sites


def drawn(law: FittedLaw, mean: float, cv: float, n: int, seed: int, watched_s: float) -> Samples:
    """Samples of a known law; a watch stops at a time drawn up to `watched_s`, and some voters still go."""
    random = np.random.default_rng(seed)
    if law is FittedLaw.LOGNORMAL:
        variance = math.log1p(cv * cv)
        took = random.lognormal(math.log(mean) - variance / 2, math.sqrt(variance), n)
    else:
        took = random.gamma(1 / cv**2, mean * cv**2, n)
    stopped = random.uniform(60, watched_s, n)
    done = tuple(max(1, round(1000 * t)) for t in took[took <= stopped])
    return Samples(done_ms=done, going_ms=tuple(round(1000 * t) for t in stopped[took > stopped]))


def scipy_fit(law: FittedLaw, samples: Samples) -> tuple[float, float]:
    """Mean and spread of greatest likelihood by scipy.stats' densities, tails and optimizer."""
    done = np.array(samples.done_ms) / 1000
    going = np.array(samples.going_ms) / 1000

    def frozen(at: np.ndarray) -> object:
        mean, cv = np.exp(at)
        if law is FittedLaw.GAMMA:
            return stats.gamma(1 / cv**2, scale=mean * cv**2)
        variance = np.log1p(cv**2)
        return stats.lognorm(np.sqrt(variance), scale=mean * np.exp(-variance / 2))

    def loss(at: np.ndarray) -> float:
        one = frozen(at)
        return -one.logpdf(done).sum() - one.logsf(going).sum()

    start = [math.log(done.mean()), math.log(0.5)]
    found = optimize.minimize(loss, start, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10})
    return math.exp(found.x[0]), math.exp(found.x[1])


@pytest.mark.parametrize("law", list(FittedLaw))
@pytest.mark.parametrize("n,seed", [(12, 1), (60, 2), (400, 3)])
def test_a_censored_fit_equals_scipys(law: FittedLaw, n: int, seed: int) -> None:
    """scipy.stats' densities under scipy's own search find the same mean and spread."""
    samples = drawn(law, 90, 0.6, n, seed, 300)
    assert samples.going_ms
    fit = next(one for one in fit_service(samples).fits if one.law is law)
    mean, cv = scipy_fit(law, samples)
    assert fit.mean_ms.value == pytest.approx(1000 * mean, rel=1e-4)
    assert fit.cv_ppm.value == pytest.approx(1e6 * cv, rel=1e-4)


@settings(max_examples=60, deadline=None)
@given(shape=st.floats(0.12, 2000), x=st.floats(0.001, 3000), z=st.floats(-8, 60))
def test_tails_equal_scipys(shape: float, x: float, z: float) -> None:
    """The logarithms of both laws' tails, far out too."""
    tail = special.gammaincc(shape, x)
    if 1e-250 < tail < 1 - 1e-12:
        assert log_gamma_tail(shape, x) == pytest.approx(math.log(tail), rel=1e-8, abs=1e-12)
    assert log_normal_tail(z) == pytest.approx(stats.norm.logsf(z), rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(freedom=st.integers(1, 3000), chance=st.floats(0.6, 0.999), cv=st.floats(0.05, 2))
def test_quantiles_equal_scipys(freedom: int, chance: float, cv: float) -> None:
    """Student's t, gamma and lognormal."""
    assert student_quantile(chance, freedom) == pytest.approx(stats.t.ppf(chance, freedom), rel=1e-6)
    gamma = stats.gamma(1 / cv**2, scale=90 * cv**2).ppf(chance)
    assert law_quantile(FittedLaw.GAMMA, math.log(90), math.log(cv), chance) == pytest.approx(gamma, rel=1e-6)
    variance = math.log1p(cv * cv)
    lognormal = stats.lognorm(math.sqrt(variance), scale=90 * math.exp(-variance / 2)).ppf(chance)
    told = law_quantile(FittedLaw.LOGNORMAL, math.log(90), math.log(cv), chance)
    assert told == pytest.approx(lognormal, rel=1e-9)


def test_samples_that_are_still_going_pull_the_mean_up() -> None:
    """Left out or taken as done they would tell of quick voters only."""
    samples = drawn(FittedLaw.LOGNORMAL, 90, 0.6, 400, 6, 150)
    counted = fit_service(samples).fits[0].mean_ms
    left_out = fit_service(Samples(done_ms=samples.done_ms)).fits[0].mean_ms
    as_done = fit_service(Samples(done_ms=(*samples.done_ms, *samples.going_ms))).fits[0].mean_ms
    assert counted.low <= 90_000 <= counted.high
    assert left_out.high < counted.low
    assert as_done.value < counted.value


@pytest.mark.parametrize("law", list(FittedLaw))
def test_intervals_hold_the_true_values_about_95_times_of_100(law: FittedLaw) -> None:
    """30 samples, a fifth of them still going, 40 seeds: at 95 % fewer than 34 come up once in 70."""
    held_mean = held_spread = 0
    for seed in range(40):
        likelihood = _likelihood(law, drawn(law, 90, 0.6, 30, 100 + seed, 300))
        a, b, value = likelihood.best()
        low, high = likelihood.mean_bounds(a, b, value)
        held_mean += low <= math.log(90) <= high
        low, high = likelihood.spread_bounds(a, b, value)
        held_spread += low <= math.log(0.6) <= high
    assert held_mean >= 34
    assert held_spread >= 34


def _likelihood(law: FittedLaw, samples: Samples) -> Likelihood:
    return Likelihood(law, [t / 1000 for t in samples.done_ms], [t / 1000 for t in samples.going_ms])


def test_many_samples_tell_the_laws_apart_and_few_do_not() -> None:
    """The law is chosen by likelihood; where it is not clear the lognormal one is kept."""
    for law in FittedLaw:
        many = fit_service(drawn(law, 300, 0.7, 800, 7, 3000))
        assert many.clear
        assert many.chosen is law
    few = fit_service(drawn(FittedLaw.GAMMA, 300, 0.4, 12, 8, 3000))
    assert not few.clear
    assert few.chosen is FittedLaw.LOGNORMAL
    assert few.thin


def test_too_few_samples_give_no_law() -> None:
    """Seven timed voters are told as too thin, with how many are wanted."""
    few = fit_service(Samples(done_ms=(60_000,) * (FEWEST - 1), going_ms=(90_000,) * 20))
    assert few.fit is None
    assert few.thin
    assert few.wanted == samples_wanted(0.5) == 97  # (1.96 * 0.5 / 0.1)**2 = 96.04


def test_equal_samples_are_fitted_without_a_spread_of_zero() -> None:
    """A stop watch that shows 60 s each time gives the least spread that the search knows, 1 %."""
    fit = fit_service(Samples(done_ms=(60_000,) * 12)).fit
    assert fit is not None
    assert fit.mean_ms.value == pytest.approx(60_000, rel=1e-3)
    assert fit.cv_ppm.value == pytest.approx(10_000, rel=0.05)


def test_the_interval_of_complete_lognormal_samples_is_students() -> None:
    """For a small spread the log mean's interval is that of Student's t on the logarithms (scipy).

    The law's log mean is above the mean logarithm by half the variance, 0.0002, which widens it.
    """
    random = np.random.default_rng(4)
    took = np.exp(random.normal(4, 0.02, 15))
    fit = fit_service(Samples(done_ms=tuple(round(1000 * t) for t in took))).fits[0]
    logs = np.log(np.round(1000 * took))
    low, high = stats.t.interval(0.95, 14, loc=logs.mean(), scale=stats.sem(logs))
    assert math.log(fit.mean_ms.low) == pytest.approx(low, abs=5e-4)
    assert math.log(fit.mean_ms.high) == pytest.approx(high, abs=5e-4)


def test_own_quantiles_count_those_still_going() -> None:
    """Kaplan and Meier by hand: 2 done of 4 at 10 and 20, one going at 15: 1/4, then 1 - 3/4 * 1/2 = 5/8."""
    assert kaplan_meier([10, 20], [15, 30], (0.2, 0.6, 0.9)) == (10, 20, 0)


def test_a_site_with_few_samples_is_drawn_to_the_others() -> None:
    """Sites that differ by 15 %: a site of 9 samples borrows, one of 300 hardly; none is outside both."""
    sizes = {"S1": 9, "S2": 60, "S3": 60, "S4": 60, "S5": 60, "S6": 300, "S7": 3}
    random = np.random.default_rng(11)
    true = {site: 90 * math.exp(0.15 * random.normal()) for site in sizes}
    by_site = {
        site: drawn(FittedLaw.LOGNORMAL, true[site], 0.6, n, 50 + k, 3000)
        for k, (site, n) in enumerate(sizes.items())
    }
    across = fit_sites(by_site, FittedLaw.LOGNORMAL)
    assert across is not None
    drawn_to = {one.site: one for one in across.sites}
    assert drawn_to["S1"].own_weight_ppm < drawn_to["S2"].own_weight_ppm < drawn_to["S6"].own_weight_ppm
    assert drawn_to["S7"].own_ms is None
    assert drawn_to["S7"].drawn_ms.value == across.mean_ms.value
    held = sum(one.drawn_ms.low <= 1000 * true[one.site] <= one.drawn_ms.high for one in across.sites)
    assert held >= 6
    for one in across.sites:
        if one.own_ms is not None:
            ends = sorted((one.own_ms, across.mean_ms.value))
            assert ends[0] - 1 <= one.drawn_ms.value <= ends[1] + 1


def test_four_sites_are_too_few_to_say_how_sites_differ() -> None:
    """Then nothing is drawn to anything."""
    samples = drawn(FittedLaw.LOGNORMAL, 90, 0.6, 40, 1, 3000)
    assert fit_sites({f"S{k}": samples for k in range(4)}, FittedLaw.LOGNORMAL) is None
