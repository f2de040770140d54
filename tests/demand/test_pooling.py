"""The partly pooled model of past elections."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.plan.demand.pooling import PastRate, RateModel, draw_ballots, draw_tide, fit_rates


def _rng(seed: int) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(seed))


def _simulated(
    seed: int, n_sites: int, n_elections: int
) -> tuple[tuple[PastRate, ...], list[float], list[float]]:
    """Past rates made by the model itself, with the levels and tides that made them."""
    rng = _rng(seed)
    level = [float(x) for x in -1.0 + 0.3 * rng.standard_normal(n_sites)]
    tide = [float(x) for x in 0.2 * rng.standard_normal(n_elections)]
    rows = []
    for s in range(n_sites):
        for e in range(n_elections):
            rate = math.exp(min(level[s] + tide[e] + 0.08 * float(rng.standard_normal()), 0.0))
            rows.append(PastRate(site=s, election=e, ballots=int(rng.binomial(4000, rate)), registered=4000))
    return tuple(rows), level, tide


def _predict(model: RateModel, site: int, seed: int) -> np.ndarray:
    tide = draw_tide(model, _rng(seed), 1000)
    return draw_ballots(model, site, 4000, tide, _rng(seed + 1))


def test_levels_used_to_make_the_past_are_found_again() -> None:
    """Simulate and recover: a fitted level plus mean tide is within four standard errors of the true one."""
    rows, level, tide = _simulated(11, 60, 5)
    model = fit_rates(rows, 60, (True,) * 5)
    shift = sum(tide) / 5
    misses = [model.level[s] - (level[s] + shift) for s in range(60)]
    # local spread 0.08 over five elections: standard error 0.036, plus binomial noise of about 0.02
    assert max(abs(m) for m in misses) < 4 * 0.041
    assert abs(sum(misses) / 60) < 0.03


@pytest.mark.full
def test_intervals_hold_what_they_promise_when_the_model_is_true() -> None:
    """Over 40 simulated counties about 80 % of new counts lie between P10 and P90 (binomial, dependent)."""
    inside = total = 0
    for seed in range(40):
        rows, level, _ = _simulated(seed, 20, 5)
        past = tuple(r for r in rows if r.election < 4)
        model = fit_rates(past, 20, (False,) * 4)
        truth = {r.site: r.ballots for r in rows if r.election == 4}
        assert len(level) == 20
        for site in range(20):
            low, high = np.quantile(_predict(model, site, 1000 + seed), (0.1, 0.9))
            inside += low <= truth[site] <= high
            total += 1
    # one shared tide a county: 40 independent tides, standard error near 0.06; the prior widens intervals
    assert 0.72 < inside / total < 0.97


def test_a_site_with_little_past_is_drawn_towards_the_county() -> None:
    """One odd count moves a site's level less than four steady ones do."""
    steady = [PastRate(site=s, election=e, ballots=1000, registered=4000) for s in range(8) for e in range(4)]
    odd_once = [PastRate(site=8, election=3, ballots=2500, registered=4000)]
    odd_always = [PastRate(site=9, election=e, ballots=2500, registered=4000) for e in range(4)]
    model = fit_rates((*steady, *odd_once, *odd_always), 10, (True,) * 4)
    assert model.level[0] < model.level[8] < model.level[9]
    assert model.own_share[8] < model.own_share[9] < 1.0


def test_a_site_without_past_takes_the_county_mean_and_a_wider_range() -> None:
    """No rows: own share 0, and its draws spread wider than a known site's."""
    rows, _, _ = _simulated(3, 12, 4)
    model = fit_rates(rows, 13, (True,) * 4)
    assert model.own_share[12] == 0.0
    known, unknown = _predict(model, 0, 5), _predict(model, 12, 5)
    assert np.std(np.log(unknown + 1.0)) > np.std(np.log(known + 1.0))


def test_all_sites_of_a_draw_share_one_tide() -> None:
    """Counts of two sites rise and fall together over the draws."""
    rows, _, _ = _simulated(4, 10, 4)
    model = fit_rates(rows, 10, (True,) * 4)
    tide = draw_tide(model, _rng(1), 2000)
    first = draw_ballots(model, 0, 4000, tide, _rng(2))
    second = draw_ballots(model, 1, 4000, tide, _rng(3))
    assert np.corrcoef(first, second)[0, 1] > 0.5


def test_without_movement_between_elections_the_middle_is_the_past() -> None:
    """The same 30 % in every election and site: P50 is 30 % of the registered, within one in twenty."""
    rows = tuple(
        PastRate(site=s, election=e, ballots=1200, registered=4000) for s in range(5) for e in range(3)
    )
    model = fit_rates(rows, 5, (True, False, True))
    assert abs(float(np.median(_predict(model, 2, 9))) - 1200) < 60


@given(
    ballots=st.lists(st.integers(0, 4000), min_size=1, max_size=12),
    seed=st.integers(0, 2**32),
)
@settings(max_examples=40, deadline=None)
def test_draws_are_whole_voters_between_none_and_all(ballots: list[int], seed: int) -> None:
    """Whatever the past, a draw is between 0 and the registered."""
    rows = tuple(
        PastRate(site=i % 3, election=i // 3, ballots=count, registered=4000)
        for i, count in enumerate(ballots)
    )
    model = fit_rates(rows, 3, (True,) * 4)
    draws = _predict(model, 0, seed)
    assert draws.min() >= 0
    assert draws.max() <= 4000


def test_an_empty_past_is_refused_with_the_reason() -> None:
    """A rate model needs at least one past count."""
    with pytest.raises(ValueError, match="at least one past count"):
        fit_rates((), 3, (True,))
