"""The choice under shared limits: the optimum of brute force, and a bound that holds for every choice."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.plan.lines.choice import Choices, Chosen, choices, choose, lagrangian_bound, limits_kept

Sites = list[list[tuple[int, tuple[int, ...]]]]


def brute_force(sites: Sites, limits: list[int]) -> int | None:
    """The least cost of all choices that keep the limits, by trying every one."""
    costs = [
        sum(cost for cost, _ in picked)
        for picked in itertools.product(*sites)
        if all(sum(use[k] for _, use in picked) <= most for k, most in enumerate(limits))
    ]
    return min(costs, default=None)


def drawn(seed: int, sites: int = 5, options: int = 6, kinds: int = 2) -> tuple[Sites, list[int]]:
    """Invented sites whose cost falls, not always convexly, with what they use, and tight limits."""
    random_ = random.Random(seed)
    made: Sites = []
    for _ in range(sites):
        mine = []
        for _ in range(options):
            use = tuple(random_.randint(1, 5) for _ in range(kinds))
            mine.append((random_.randint(0, 400) // sum(use) + random_.randint(0, 30), use))
        made.append(mine)
    least = [sum(min(use[k] for _, use in site) for site in made) for k in range(kinds)]
    return made, [n + random_.randint(0, 6) for n in least]


@pytest.mark.parametrize("kinds", [1, 2, 3])
@pytest.mark.parametrize("seed", range(12))
def test_the_choice_costs_what_brute_force_finds(seed: int, kinds: int) -> None:
    """On small random instances every choice is tried; the least cost is equal, or there is none in both."""
    sites, limits = drawn(seed, kinds=kinds)
    found, least = choose(choices(sites, limits)), brute_force(sites, limits)
    assert (None if found is None else found.cost) == least
    if found is not None:
        assert found.best and found.bound <= found.cost
        picked = [option for site in sites for option in site]
        used = [sum(picked[p][1][k] for p in found.picks) for k in range(kinds)]
        assert all(u <= most for u, most in zip(used, limits, strict=True))
        assert sum(picked[p][0] for p in found.picks) == found.cost


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.lists(st.integers(0, 500), min_size=2, max_size=2))
def test_the_bound_of_any_multipliers_is_below_every_choice(seed: int, multipliers: list[int]) -> None:
    """Weak duality, whatever the multipliers are: the bound does not rest on the solver."""
    sites, limits = drawn(seed, sites=4, options=4)
    least = brute_force(sites, limits)
    if least is not None:
        assert lagrangian_bound(choices(sites, limits), multipliers) <= least


def test_a_negative_multiplier_is_refused() -> None:
    """It would prove nothing."""
    sites, limits = drawn(1)
    with pytest.raises(ValueError, match="must be >= 0"):
        lagrangian_bound(choices(sites, limits), [-1, 0])


@pytest.mark.parametrize("seed", range(30))
def test_limits_said_to_be_unkeepable_are_kept_by_no_choice(seed: int) -> None:
    """The proof is exact; where the relaxation can keep them, whole numbers may still not."""
    sites, limits = drawn(seed, sites=3, options=4)
    tight = [most - 3 for most in limits]
    if not limits_kept(choices(sites, tight)):
        assert brute_force(sites, tight) is None


def solved(sites: Sites, limits: list[int]) -> Chosen:
    """The choice, which must be there."""
    found = choose(choices(sites, limits))
    assert found is not None
    return found


def test_more_of_a_limit_never_costs_more_and_saves_at_most_its_price() -> None:
    """One device more lowers the bound by at most the multiplier: the price is never too low."""
    sites, limits = drawn(3, sites=12, options=10)
    before = solved(sites, limits)
    for k in range(len(limits)):
        more = [most + (1 if j == k else 0) for j, most in enumerate(limits)]
        after = solved(sites, more)
        assert after.cost <= before.cost
        assert before.bound - after.bound <= before.multipliers[k] + 1


def test_the_solver_prints_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    """A command's output is its own."""
    solved(*drawn(4))
    told = capfd.readouterr()
    assert told.out == told.err == ""


def test_an_option_that_is_worse_in_everything_is_never_chosen() -> None:
    """Of two options with the same waits the one with fewer devices is taken."""
    given_choices: Choices = choices([[(5, (3,)), (5, (2,)), (9, (1,))]], [9])
    found = choose(given_choices)
    assert found is not None and found.picks == (1,)
