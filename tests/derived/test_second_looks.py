"""How many seals to look at a second time, against binomial coefficients and a library's own draws."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.plan.seals.inspection import draws, looks_for, second_looks

# Computed for this test by exact integers, as below; the hypergeometric chance is in any textbook.
WORKED = ((24, 281), (12, 529), (5, 1081))


def none_of(seals: int, swapped: int, looks: int) -> Fraction:
    """The textbook's quotient: no swapped seal among so many looks."""
    return Fraction(math.comb(seals - swapped, looks), math.comb(seals, looks))


@pytest.mark.parametrize(("swapped", "looks"), WORKED)
def test_of_2400_seals_so_many_looks_hold_one_of_the_swapped(swapped: int, looks: int) -> None:
    """Enough by exact integers, one look less is not; and of a library's 200,000 draws 95 of 100 hold one."""
    assert looks_for(2400, swapped) == looks
    assert none_of(2400, swapped, looks) <= Fraction(5, 100) < none_of(2400, swapped, looks - 1)
    drawn = np.random.default_rng(2028).hypergeometric(swapped, 2400 - swapped, looks, size=200_000)
    # Five standard errors of the share are 0.0025.
    assert abs(float((drawn > 0).mean()) - 0.95) < 0.0025


@given(st.integers(1, 60), st.data())
def test_the_chance_is_that_of_binomial_coefficients(seals: int, data: st.DataObject) -> None:
    """Swapped seals and looks may change places; the quotient is C(n − k, m) / C(n, m) to the last digit."""
    swapped, looks = data.draw(st.integers(0, seals)), data.draw(st.integers(0, seals))
    exact = none_of(seals, swapped, looks)
    assert Fraction(*draws(seals, swapped, looks)) == exact
    assert Fraction(*draws(seals, looks, swapped)) == exact


@given(st.integers(1, 60), st.data())
def test_no_smaller_number_of_looks_is_enough(seals: int, data: st.DataObject) -> None:
    """The number told is enough, and one look less is not."""
    swapped, percent = data.draw(st.integers(1, seals)), data.draw(st.integers(1, 100))
    looks = looks_for(seals, swapped, percent)

    def chance(number: int) -> Fraction:
        return 1 - Fraction(*draws(seals, swapped, number))

    assert chance(looks) >= Fraction(percent, 100) > chance(looks - 1)


def test_the_advice_has_one_line_for_each_share_and_none_twice() -> None:
    """2,400 seals: 24, 12 and 5 swapped. Ten seals: one swapped needs all ten. No seal: no line."""
    assert [(line.swapped, line.looks) for line in second_looks(2400)] == list(WORKED)
    assert [(line.swapped, line.looks) for line in second_looks(10)] == [(1, 10)]
    assert second_looks(0) == ()
