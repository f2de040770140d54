"""The order in which tests run: in each process's stretch the long ones begin, none is lost or doubled."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from tests.conftest import long_ones_first


def as_items(takes_long: list[bool]) -> list[Any]:
    """Tests that know of themselves alone whether they take long."""

    def one(number: int, long: bool) -> Any:
        return SimpleNamespace(
            number=number, get_closest_marker=lambda name: name if long and name == "begins_first" else None
        )

    return [one(number, long) for number, long in enumerate(takes_long)]


@given(takes_long=st.lists(st.booleans(), max_size=40), processes=st.integers(1, 6))
def test_each_stretch_keeps_its_tests_and_begins_with_the_long_ones(
    takes_long: list[bool], processes: int
) -> None:
    """Where the processes' stretches begin is the scheduler's own rule: as even as whole numbers are."""
    found = [item.number for item in long_ones_first(as_items(takes_long), processes)]
    assert sorted(found) == list(range(len(takes_long)))
    ends = [len(found) * n // processes for n in range(processes + 1)]
    for start, end in itertools.pairwise(ends):
        stretch = found[start:end]
        assert set(stretch) == set(range(start, end))
        assert stretch == sorted(stretch, key=lambda number: (not takes_long[number], number))
