"""The county's sites on its own grid: where each mark and label stands, what is in view, the scale bar.

Meters east and north as the county typed them; no map data, no roads, no coast. Pure: the template draws.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

from pollstead.election.values import Value
from pollstead.show.web.map_labels import Box, Label, Line, place_labels

WIDTH: Final = 760
HEIGHT: Final = 620
MARGIN: Final = 48
WAREHOUSE: Final = "warehouse"
WAREHOUSE_LETTERS: Final = 12
"""Room for the word that stands beside the warehouse, in any language."""
MOST_ZOOM: Final = 64
LEAST_SPAN_M: Final = 1_000


class OnMap(Value, frozen=True, kw_only=True):
    """A site with its place in meters, its mark's shape, and whether somebody must act."""

    id: str
    name: str
    x_m: int
    y_m: int
    shape: str
    needs: bool


class Mark(Value, frozen=True, kw_only=True):
    """A mark in drawing units from the top left; `label_x` is None where no label fits.

    `line` leads from the mark to a label that stands away from it.
    """

    id: str
    name: str
    shape: str
    needs: bool
    x: int
    y: int
    label_x: int | None
    label_y: int
    anchor: str
    line: Line | None


class ScaleBar(Value, frozen=True, kw_only=True):
    """A bar of a round number of meters, and its length in drawing units."""

    meters: int
    length: int


class Drawing(Value, frozen=True, kw_only=True):
    """What is in view: marks, the bar, the center in meters, and how many sites lie outside.

    `least` and `most` are the westernmost and southernmost, easternmost and northernmost center, in meters.
    """

    marks: tuple[Mark, ...]
    bar: ScaleBar
    center_x_m: int
    center_y_m: int
    zoom: int
    step_m: int
    least: tuple[int, int]
    most: tuple[int, int]
    outside: int
    warehouse: Mark | None


def draw(sites: Iterable[OnMap], zoom: int = 1, center: tuple[int, int] | None = None) -> Drawing:
    """The drawing at a zoom (1 shows every site) around a center, by default the middle of all sites.

    The center stays among the sites and the warehouse at the origin: beyond them there is nothing to see.
    """
    places = sorted(sites, key=lambda s: (not s.needs, s.id))
    xs, ys = [s.x_m for s in places] or [0], [s.y_m for s in places] or [0]
    middle = ((min(xs) + max(xs)) // 2, (min(ys) + max(ys)) // 2)
    least, most = (min(0, *xs), min(0, *ys)), (max(0, *xs), max(0, *ys))
    at_x, at_y = middle
    if center is not None:
        at_x, at_y = (max(a, min(b, wanted)) for a, b, wanted in zip(least, most, center, strict=True))
    across = max(max(xs) - min(xs), LEAST_SPAN_M)
    up = max(max(ys) - min(ys), LEAST_SPAN_M)
    meters_a_unit = max(across / (WIDTH - 2 * MARGIN), up / (HEIGHT - 2 * MARGIN)) / zoom
    spots = [
        (
            site,
            round(WIDTH / 2 + (site.x_m - at_x) / meters_a_unit),
            round(HEIGHT / 2 - (site.y_m - at_y) / meters_a_unit),
        )
        for site in places
    ]
    origin = (round(WIDTH / 2 - at_x / meters_a_unit), round(HEIGHT / 2 + at_y / meters_a_unit))
    home = OnMap(id=WAREHOUSE, name="", x_m=0, y_m=0, shape=WAREHOUSE, needs=False)
    seen = [(s, x, y) for s, x, y in (*spots, (home, *origin)) if 0 <= x <= WIDTH and 0 <= y <= HEIGHT]
    texts = [(x, y, WAREHOUSE_LETTERS if site is home else len(site.id)) for site, x, y in seen]
    labels = place_labels(texts, Box(0, 0, WIDTH, HEIGHT))
    drawn = [_mark(site, x, y, label) for (site, x, y), label in zip(seen, labels, strict=True)]
    marks = tuple(mark for mark in drawn if mark.shape != WAREHOUSE)
    return Drawing(
        marks=marks,
        bar=scale_bar(meters_a_unit),
        center_x_m=at_x,
        center_y_m=at_y,
        zoom=zoom,
        step_m=max(1, round(min(WIDTH, HEIGHT) / 3 * meters_a_unit)),
        least=least,
        most=most,
        outside=len(places) - len(marks),
        warehouse=next((mark for mark in drawn if mark.shape == WAREHOUSE), None),
    )


def _mark(site: OnMap, x: int, y: int, label: Label | None) -> Mark:
    return Mark(
        id=site.id,
        name=site.name,
        shape=site.shape,
        needs=site.needs,
        x=x,
        y=y,
        label_x=None if label is None else label.x,
        label_y=y if label is None else label.y,
        anchor="start" if label is None else label.anchor,
        line=None if label is None else label.line,
    )


def scale_bar(meters_a_unit: float) -> ScaleBar:
    """The longest bar of 1, 2 or 5 times a power of ten meters within a quarter of the width."""
    longest = WIDTH / 4 * meters_a_unit
    power = 10 ** math.floor(math.log10(max(longest, 1)))
    meters = max(step * power for step in (1, 2, 5) if step * power <= max(longest, 1))
    return ScaleBar(meters=int(meters), length=round(meters / meters_a_unit))
