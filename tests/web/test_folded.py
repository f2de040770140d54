"""Long lists are folded by sort, and nothing of them is left out."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from pollstead.show.web.folded import AT_MOST_OPEN, FIRST_OPEN, alike


@given(st.lists(st.tuples(st.sampled_from("abc"), st.integers()), max_size=30))
def test_every_row_is_in_its_sort_once_and_in_order(rows: list[tuple[str, int]]) -> None:
    """What stands open and what is folded are the rows of a sort; sorts come as each is first met."""
    found = alike(rows, lambda row: row[0])
    assert [one.shown[0][0] for one in found] == list(dict.fromkeys(sort for sort, _ in rows))
    for one in found:
        here = [row for row in rows if row[0] == one.shown[0][0]]
        assert [*one.shown, *one.more] == here
        assert len(one.shown) == (len(here) if len(here) <= AT_MOST_OPEN else FIRST_OPEN)
