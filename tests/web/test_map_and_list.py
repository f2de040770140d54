"""The map's arithmetic and the list of sites: what is in view, the scale bar, filters, orders, pages."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.values import Value
from pollstead.show.web.capabilities import Role
from pollstead.show.web.map_drawing import HEIGHT, WIDTH, OnMap, draw, scale_bar
from pollstead.show.web.map_labels import Box, Line, mark_box, place_labels, text_box
from pollstead.show.web.navigation import PARTS, links_for, page_of, pages_at, parts_at
from pollstead.show.web.site_list import PAGE_ROWS, Wish, chosen, page_rows, pages_of, wish_of

place = st.integers(-60_000, 60_000)


def on_map(number: int, x_m: int, y_m: int) -> OnMap:
    """A site at a place."""
    return OnMap(id=f"S{number:02d}", name="x", x_m=x_m, y_m=y_m, shape="ring", needs=number % 2 == 0)


@given(st.lists(st.tuples(place, place), min_size=1, max_size=30))
def test_at_first_every_site_is_in_view_in_its_true_direction(places: list[tuple[int, int]]) -> None:
    """At zoom 1 no site lies outside; farther east is farther right, farther north is higher."""
    drawing = draw(on_map(n, x, y) for n, (x, y) in enumerate(places))
    assert drawing.outside == 0 and len(drawing.marks) == len(places)
    spots = {mark.id: mark for mark in drawing.marks}
    for n, (x, y) in enumerate(places):
        for m, (other_x, other_y) in enumerate(places):
            a, b = spots[f"S{n:02d}"], spots[f"S{m:02d}"]
            assert (x > other_x) <= (a.x >= b.x) and (y > other_y) <= (a.y <= b.y)
            assert 0 <= a.x <= WIDTH and 0 <= a.y <= HEIGHT


@given(st.lists(st.tuples(place, place), min_size=1, max_size=25), st.integers(1, 64))
def test_labels_cover_no_mark_no_line_and_not_one_another(places: list[tuple[int, int]], zoom: int) -> None:
    """Nor does a line to a label run through another mark; where there is no room a mark has no label."""
    drawing = draw((on_map(n, x, y) for n, (x, y) in enumerate(places)), zoom)
    all_marks = (*drawing.marks, *((drawing.warehouse,) if drawing.warehouse else ()))
    marks = [mark_box(mark.x, mark.y) for mark in all_marks]
    labels = [
        text_box(m.label_x, m.label_y, m.anchor, 12 if m is drawing.warehouse else len(m.id))
        for m in all_marks
        if m.label_x is not None
    ]
    for n, a in enumerate(labels):
        rest = (*marks, *labels[:n])
        assert all(a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1] for b in rest)
        assert min(a) >= 0 and a.right <= WIDTH and a.bottom <= HEIGHT
    for mark in all_marks:
        if mark.line is not None:
            others = [box for box in (*marks, *labels) if box != mark_box(mark.x, mark.y)]
            for x, y in points_on(mark.line):
                assert not any(b.left < x < b.right and b.top < y < b.bottom for b in others)


def points_on(line: Line) -> Iterator[tuple[Fraction, Fraction]]:
    """A hundred points of a line, exactly."""
    for step in range(1, 100):
        part = Fraction(step, 100)
        yield line.x1 + part * (line.x2 - line.x1), line.y1 + part * (line.y2 - line.y1)


def test_marks_close_together_get_a_line_to_their_label() -> None:
    """One mark with another on each of its four sides: its label stands farther out, with a line to it."""
    cross = [(380, 300, 3), (360, 300, 3), (400, 300, 3), (380, 280, 3), (380, 320, 3)]
    middle, *others = place_labels(cross, Box(0, 0, WIDTH, HEIGHT))
    assert middle is not None and middle.line is not None
    assert all(label is not None and label.line is None for label in others)
    alone = place_labels([(380, 300, 3)], Box(0, 0, WIDTH, HEIGHT))[0]
    assert alone is not None and alone.line is None


def test_zooming_in_keeps_the_center_and_counts_what_is_outside() -> None:
    """Two sites 10 km apart: twice as near they stand twice as far apart, near enough one is left."""
    sites = (on_map(1, 0, 0), on_map(2, 10_000, 0))
    near, nearer = draw(sites), draw(sites, zoom=16, center=(0, 0))
    assert near.marks[0].x != near.marks[1].x and near.outside == 0
    assert nearer.outside == 1 and (nearer.marks[0].x, nearer.marks[0].y) == (WIDTH // 2, HEIGHT // 2)


@given(st.tuples(*[st.integers(-2_000_000, 2_000_000)] * 2), st.sampled_from([1, 4, 32]))
def test_the_view_never_leaves_the_county(center: tuple[int, int], zoom: int) -> None:
    """However far someone goes, the middle stays between the sites and the warehouse at the origin."""
    drawing = draw((on_map(1, 2_000, 9_000), on_map(2, 10_000, -3_000)), zoom, center)
    assert 0 <= drawing.center_x_m <= 10_000 and -3_000 <= drawing.center_y_m <= 9_000


@pytest.mark.full
def test_going_east_comes_to_an_end(app: Any) -> None:
    """At the edge there is no button that would show the same again."""
    with app.client(Role.READER) as client:
        address, steps = "/map?show=next&zoom=4&x=0&y=0", 0
        while (found := re.search(r'href="([^"]*)">East<', client.get(address).text)) is not None:
            address, steps = html.unescape(found[1]).partition("#")[0], steps + 1
            assert steps < 40, address


@given(st.floats(0.01, 10_000))
def test_the_scale_bar_is_a_round_number_within_a_quarter_of_the_width(meters_a_unit: float) -> None:
    """1, 2 or 5 times a power of ten, and drawn as long as it says."""
    bar = scale_bar(meters_a_unit)
    assert str(bar.meters).rstrip("0") in ("1", "2", "5")
    assert abs(bar.length * meters_a_unit - bar.meters) <= meters_a_unit
    assert bar.length <= WIDTH / 4 or bar.meters == 1


class Site(Value, frozen=True, kw_only=True):
    """A row of the list."""

    id: str
    name: str = "Hall"
    area: str = ""
    kind: str = ""
    needs: bool = False
    rules: int = 0
    above_limit: bool = False
    assumptions: int = 0
    order: int = 0
    voters_p50: int = -1
    wait_ms: int = -1


def test_filters_and_orders_take_exactly_what_fits() -> None:
    """Text in name or id, area, kind, state; the most voters or longest wait first, unknown last."""
    rows = (
        Site(id="S1", name="Civic Hall", area="A", rules=2, voters_p50=10, needs=True),
        Site(id="S2", name="Library", area="A", voters_p50=300, order=1),
        Site(id="S3", name="Chapel", area="B", kind="k"),
    )
    for wish, ids in (
        (Wish(text="hall"), ["S1"]),
        (Wish(text="s3"), ["S3"]),
        (Wish(area="A"), ["S1", "S2"]),
        (Wish(kind="k"), ["S3"]),
        (Wish(state="rules"), ["S1"]),
        (Wish(state="nothing"), ["S3", "S2"]),
        (Wish(sort="voters"), ["S2", "S1", "S3"]),
    ):
        assert [row.id for row in chosen(rows, wish)] == ids, wish


def test_pages_of_a_long_list_hold_every_row_once() -> None:
    """600 sites stand on 6 pages; a page beyond the last gives the last."""
    rows = tuple(Site(id=f"S{n:03d}") for n in range(600))
    assert pages_of(600) == 6 and pages_of(0) == 1
    assert [r for page in range(1, 7) for r in page_rows(rows, page)] == list(rows)
    assert page_rows(rows, 99) == rows[-PAGE_ROWS:]


@given(st.dictionaries(st.sampled_from(("page", "sort", "state", "text")), st.text(max_size=12)))
def test_any_address_gives_a_list_and_its_own_address_gives_the_same(query: dict[str, str]) -> None:
    """Nonsense in the address counts as not asked; what was asked survives in the links of the pages."""
    from urllib.parse import parse_qsl

    wish = wish_of(query)
    assert wish.page >= 1
    address = wish.address("/")
    assert wish_of(dict(parse_qsl(address.partition("?")[2], keep_blank_values=True))) == wish


def test_every_linked_page_belongs_to_one_part_and_is_marked_there() -> None:
    """Each page stands in exactly one part of the work, and its own path marks it and its part."""
    pages = [address for _, links in PARTS for address, _ in links]
    assert len(pages) == len(set(pages))
    for address in links_for(Role.COORDINATOR):
        assert page_of(address) == address
        assert [link.address for link in pages_at(address, Role.COORDINATOR) if link.here] == [address]
        assert sum(link.here for link in parts_at(address, Role.COORDINATOR)) == 1
    assert page_of("/site/S01") == "/" and page_of("/site/S01/opening") == "/day"


@pytest.mark.full
@pytest.mark.parametrize("show", ["rules", "nonsense"])
def test_the_map_says_every_state_in_words_in_the_list_before_the_drawing(app: Any, show: str) -> None:
    """The list comes first and has every site; sites without a place are told, none is left out."""
    with app.client(Role.READER) as client:
        text = client.get("/map", params={"show": show, "zoom": "x", "x": "9" * 30}).text
    assert text.index("<table") < text.index('<svg class="county-map"')
    for plan in app.folder.current().sites:
        assert plan.name in text
    assert "sites have no place" in text
