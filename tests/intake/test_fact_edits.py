"""Edits between any two sides of a table lead from one to the other, and their reverse leads back."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.intake.edits_between import edits_between
from pollstead.intake.fact_edits import Edit, add_row, edited, remove_row, reverse, set_cell
from pollstead.intake.tab_rows import TabRows
from pollstead.intake.tabs import tab_named

WORDS = st.sampled_from(["", "a", "b", "007", "é"])
IDS = st.sampled_from(["P1", "P2", "P3", "P4"])


def rows_of(table: str, first: st.SearchStrategy[str], unique: bool) -> st.SearchStrategy[TabRows]:
    """Rows of a table: an id or an owner first, then a few words, the rest blank."""
    width = len(tab_named(table).cells)
    row = st.tuples(first, WORDS, WORDS).map(lambda cells: (*cells, *("",) * (width - 3)))
    rows = st.lists(row, max_size=6, unique_by=(lambda r: r[0]) if unique else None)
    return rows.map(lambda found: TabRows(tab=table, rows=tuple(found)))


SIDES = (
    rows_of("people", IDS, True),
    rows_of("precincts", IDS, True),
    # A row of nothing cannot stand in a table, so the first cell is never blank here.
    rows_of("history", IDS, False),
)


def rows_in(side: tuple[TabRows, ...], table: str) -> tuple[tuple[str, ...], ...]:
    """The rows of one table."""
    return next(held.rows for held in side if held.tab == table)


@settings(max_examples=60, deadline=None)
@given(st.one_of(*(st.tuples(side, side) for side in SIDES)))
def test_edits_lead_from_one_side_to_the_other_and_back(sides: tuple[TabRows, TabRows]) -> None:
    """Whatever was changed, added or removed: the same rows come out, each as often as it was there."""
    before, after = sides
    edits = edits_between((before,), (after,))
    there, faults = edited((before,), edits)
    assert faults == ()
    assert Counter(rows_in(there, before.tab)) == Counter(after.rows)
    back, faults = edited(there, [reverse(edit) for edit in edits])
    assert faults == ()
    assert Counter(rows_in(back, before.tab)) == Counter(before.rows)


@settings(max_examples=60, deadline=None)
@given(st.permutations(["a", "b", "c", "d"]), st.permutations(["a", "b", "c", "d"]), st.integers(0, 3))
def test_the_order_of_rows_with_a_meaning_comes_back(old: list[str], new: list[str], gone: int) -> None:
    """Lines of an opening sheet: another order and a line that is gone are edits, and undone exactly."""
    width = len(tab_named("opening").cells)
    sides = [
        (TabRows(tab="opening", rows=tuple(("scanner", "words", ref, *("",) * (width - 3)) for ref in refs)),)
        for refs in (old, [ref for number, ref in enumerate(new) if number != gone])
    ]
    edits = edits_between(sides[0], sides[1])
    there, faults = edited(sides[0], edits)
    assert faults == ()
    assert rows_in(there, "opening") == sides[1][0].rows
    back, faults = edited(there, [reverse(edit) for edit in edits])
    assert faults == ()
    assert rows_in(back, "opening") == sides[0][0].rows


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (set_cell("people", "P9", "name", "x"), "has no row P9"),
        (set_cell("people", "P1", "tide", "x"), "has no column tide"),
        (set_cell("persons", "P1", "name", "x"), "no table persons"),
        (set_cell("people", "P1", "name", "x", before="old"), "name was changed since"),
        (add_row("people", {"id": "P1"}), "has a row P1 already"),
        (remove_row("people", "P9"), "has no row P9"),
    ],
)
def test_an_edit_that_does_not_fit_is_named_and_does_nothing(edit: Edit, said: str) -> None:
    """Table, row and column stand in the fault; the rows stay."""
    width = len(tab_named("people").cells)
    rows = (TabRows(tab="people", rows=(("P1", "Ann", *("",) * (width - 2)),)),)
    there, faults = edited(rows, [edit])
    assert len(faults) == 1 and said in faults[0].text.english()
    assert rows_in(there, "people") == rows[0].rows
