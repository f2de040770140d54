"""Differences between folder and workbook: each line by itself, on the side where it arose."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.intake.fact_difference import FactLine, LineKind, Side, compare, taking, whole
from pollstead.intake.tab_rows import TabRows
from pollstead.intake.tabs import tab_named


def row(tab: str, **cells: str) -> tuple[str, ...]:
    """One row of a tab, the cells not named blank."""
    return tuple(cells.get(cell.name, "") for cell in tab_named(tab).cells)


def people(*rows: tuple[str, str, str], absent: tuple[str, ...] = ()) -> TabRows:
    """A tab of people: id, name, phone."""
    return TabRows(
        tab="people",
        rows=tuple(row("people", id=i, name=n, phone=p) for i, n, p in rows),
        absent=tuple(tab_named("people").index(name) for name in absent),
    )


def uses(*rows: tuple[str, str, str]) -> TabRows:
    """A tab of uses: kind of site, station type, minimum."""
    return TabRows(
        tab="uses", rows=tuple(row("uses", site_kind=k, station_type=t, minimum=m) for k, t, m in rows)
    )


def kinds(*ids: str) -> TabRows:
    """A tab of kinds of site."""
    return TabRows(tab="site_kinds", rows=tuple(row("site_kinds", id=i) for i in ids))


def hours(*rows: tuple[str, str]) -> TabRows:
    """A tab of hours for every site: date and opening time."""
    return TabRows(
        tab="hours", rows=tuple(row("hours", site="*", date=d, opens=o, closes="20:00") for d, o in rows)
    )


def said(lines: tuple[FactLine, ...]) -> list[tuple[str, str, str, str, str]]:
    """What the lines say, without number and tab."""
    return [(line.kind.value, line.row, line.field, line.old, line.new) for line in lines]


OLD = (people(("P1", "Ann", "1"), ("P2", "Bo", "2"), ("P3", "Cy", "3")),)
NEW = (people(("P3", "Cy", "33"), ("P1", "Ánn", "1"), ("P4", "Di", "4")),)


def test_each_difference_is_one_line() -> None:
    """A changed cell, a row gone and a row more are a line each; the order of such rows is none."""
    assert said(compare(OLD, NEW).lines) == [
        ("row removed", "P2", "", whole(OLD[0].rows[1]), ""),
        ("value", "P3", "phone", "3", "33"),
        ("value", "P1", "name", "Ann", "Ánn"),
        ("row added", "P4", "", "", whole(NEW[0].rows[2])),
    ]
    assert compare(OLD, OLD).lines == ()


def test_any_choice_of_lines_gives_just_those() -> None:
    """For all 16 choices, what still differs afterwards is what was not taken."""
    difference = compare(OLD, NEW)
    numbers = [line.number for line in difference.lines]
    for size in range(len(numbers) + 1):
        for choice in itertools.combinations(numbers, size):
            left = compare(taking(difference, choice), NEW).lines
            kept = [line for line in difference.lines if line.number not in choice]
            assert sorted(said(left)) == sorted(said(tuple(kept)))


ROW = st.tuples(st.sampled_from("abcd"), st.sampled_from("xyz"), st.sampled_from(["", "1", "2"]))


@given(st.lists(ROW, max_size=8), st.lists(ROW, max_size=8), st.data())
def test_taking_everything_gives_the_workbook(
    old: list[tuple[str, str, str]], new: list[tuple[str, str, str]], data: st.DataObject
) -> None:
    """Rows with an order, alike or not: all lines give the workbook's rows, none the folder's."""
    parents = kinds(*"abcd")
    difference = compare((parents, uses(*old)), (parents, uses(*new)))
    numbers = [line.number for line in difference.lines]
    after = {held.tab: held.rows for held in taking(difference, numbers)}["uses"]
    for owner in "abcd":
        assert [r for r in after if r[0] == owner] == [r for r in uses(*new).rows if r[0] == owner]
    before = {held.tab: held.rows for held in taking(difference, [])}["uses"]
    assert before == uses(*old).rows
    some = data.draw(st.sets(st.sampled_from(numbers))) if numbers else set()
    partly = {held.tab: held.rows for held in taking(difference, some)}["uses"]
    lines = [line for line in difference.lines if line.number in some]
    more = sum((line.kind is LineKind.ADDED) - (line.kind is LineKind.REMOVED) for line in lines)
    assert len(partly) == len(old) + more


def test_the_order_of_lines_of_a_sheet_is_a_difference() -> None:
    """Station types stand in the order a voter meets them: another order is one line for its kind of site."""
    old = (kinds("a"), uses(("a", "x", "1"), ("a", "y", "1"), ("a", "z", "1")))
    new = (kinds("a"), uses(("a", "z", "1"), ("a", "w", "1"), ("a", "x", "2"), ("a", "y", "1")))
    difference = compare(old, new)
    kind = {line.kind: line.number for line in difference.lines}
    assert set(kind) == {LineKind.ORDER, LineKind.ADDED, LineKind.VALUE}
    only_added = taking(difference, [kind[LineKind.ADDED]])
    assert [r[1] for held in only_added if held.tab == "uses" for r in held.rows] == ["x", "y", "z", "w"]
    both = taking(difference, [kind[LineKind.ADDED], kind[LineKind.ORDER]])
    assert [r[1] for held in both if held.tab == "uses" for r in held.rows] == ["z", "w", "x", "y"]


def test_rows_come_and_go_with_the_row_they_belong_to() -> None:
    """A new kind of site is one line, and its uses come with it; one that goes takes its uses along."""
    old = (kinds("a", "b"), uses(("a", "x", "1"), ("b", "x", "1")))
    new = (kinds("a", "c"), uses(("a", "x", "1"), ("c", "y", "1"), ("c", "z", "1")))
    difference = compare(old, new)
    assert [(line.tab, line.kind, line.row) for line in difference.lines] == [
        ("site_kinds", LineKind.REMOVED, "b"),
        ("site_kinds", LineKind.ADDED, "c"),
    ]
    after = {held.tab: held.rows for held in taking(difference, [1])}
    assert [row[:2] for row in after["uses"]] == [("a", "x")]
    after = {held.tab: held.rows for held in taking(difference, [2])}
    assert [row[:2] for row in after["uses"]] == [("a", "x"), ("b", "x"), ("c", "y"), ("c", "z")]


def test_with_the_common_origin_each_line_says_which_side_changed() -> None:
    """Changed in the workbook, in the folder since, or on both sides: told apart by what stood before."""
    base = (people(("P1", "Ann", "1"), ("P2", "Bo", "2"), ("P3", "Cy", "3")),)
    folder = (people(("P1", "Ann", "1"), ("P2", "Bo", "20"), ("P3", "Cy", "30"), ("P5", "Ed", "5")),)
    workbook = (people(("P1", "Anna", "1"), ("P2", "Bo", "2"), ("P3", "Cy", "31")),)
    lines = compare(folder, workbook, base, up_to_date=False).lines
    assert {(line.row, line.side, line.base) for line in lines} == {
        ("P1", Side.WORKBOOK, "Ann"),
        ("P2", Side.FOLDER, "2"),
        ("P3", Side.BOTH, "3"),
        ("P5", Side.FOLDER, ""),
    }
    unknown = compare(folder, workbook, None, up_to_date=False).lines
    assert {line.side for line in unknown} == {Side.UNKNOWN}


def test_a_column_or_tab_that_is_not_there_changes_nothing() -> None:
    """A workbook without the column of phones, or without a tab, leaves them as they are."""
    new = (people(("P1", "Ann", ""), ("P2", "Bo", ""), ("P3", "Cyd", ""), absent=("phone",)),)
    difference = compare((*OLD, kinds("a")), new)
    assert said(difference.lines) == [("value", "P3", "name", "Cy", "Cyd")]
    after = {held.tab: held.rows for held in taking(difference, [1])}
    assert after["people"][2] == row("people", id="P3", name="Cyd", phone="3")
    assert after["site_kinds"] == kinds("a").rows


def test_rows_without_an_id_are_told_apart_by_as_few_columns_as_needed() -> None:
    """Hours of one date are one row a site; with two dates the date tells them apart as well."""
    one, later = (hours(("2028-11-07", "07:00")),), (hours(("2028-11-07", "06:30")),)
    assert said(compare(one, later).lines) == [("value", "*", "opens", "07:00", "06:30")]
    two = (hours(("2028-11-07", "06:30"), ("2028-11-04", "09:00")),)
    assert said(compare(one, two).lines) == [
        ("value", "* | 2028-11-07", "opens", "07:00", "06:30"),
        ("row added", "* | 2028-11-04", "", "", "* | 2028-11-04 | 09:00 | 20:00"),
    ]


def test_a_number_that_is_no_line_is_refused() -> None:
    """Taking line 9 of four says which numbers there are."""
    with pytest.raises(ValueError, match="from 1 to 4, got 9"):
        taking(compare(OLD, NEW), [9])
