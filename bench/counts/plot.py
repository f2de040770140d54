"""The reliability picture: how often the first answer was right, by the share that was said of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from xml.sax.saxutils import escape

SIDE = 360
LEFT, TOP = 64, 24
SHAPES = ("circle", "square")
NOT_FIELD_LINES = ("Under our own error model;", "not field accuracy.")


def reliability_picture(bins_of: Mapping[str, Sequence[Mapping[str, Any]]]) -> str:
    """An SVG with the diagonal of perfect calibration and one series of marks for each generator.

    The series differ by shape, not by color alone; the area of a mark follows the answers in its bin.
    """
    bottom, right = TOP + SIDE, LEFT + SIDE
    what = f"Share said of the first answer and how often it was right. {' '.join(NOT_FIELD_LINES)}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{SIDE + 120}" height="{SIDE + 130}" font-size="13"',
        ' font-family="sans-serif" fill="#1b1b1b" role="img" aria-labelledby="what">',
        f'<title id="what">{what}</title>',
        f'<rect width="{SIDE + 120}" height="{SIDE + 130}" fill="#ffffff"/>',
        f'<rect x="{LEFT}" y="{TOP}" width="{SIDE}" height="{SIDE}" fill="none" stroke="#1b1b1b"/>',
        f'<line x1="{LEFT}" y1="{bottom}" x2="{right}" y2="{TOP}" stroke="#6b6b6b" stroke-dasharray="5 4"/>',
    ]
    for tick in range(0, 11, 2):
        x, y = LEFT + SIDE * tick / 10, bottom - SIDE * tick / 10
        parts.append(f'<text x="{x}" y="{bottom + 18}" text-anchor="middle">{tick / 10}</text>')
        parts.append(f'<text x="{LEFT - 8}" y="{y + 4}" text-anchor="end">{tick / 10}</text>')
    across, up = "share said of the first answer", "how often it was right"
    parts.append(f'<text x="{LEFT + SIDE / 2}" y="{bottom + 38}" text-anchor="middle">{across}</text>')
    turned = f"translate(18 {TOP + SIDE / 2}) rotate(-90)"
    parts.append(f'<text transform="{turned}" text-anchor="middle">{up}</text>')
    for place, (name, bins) in enumerate(bins_of.items()):
        most = max((one["answers"] for one in bins), default=1)
        for one in bins:
            x, y = LEFT + SIDE * one["said"], TOP + SIDE - SIDE * one["right"]
            parts.append(_mark(SHAPES[place % 2], x, y, 3 + 7 * (one["answers"] / most) ** 0.5))
        y = TOP + SIDE + 62 + 20 * place
        parts.append(_mark(SHAPES[place % 2], LEFT + 8, y - 4, 6))
        parts.append(f'<text x="{LEFT + 24}" y="{y}">{escape(name)}</text>')
    for line, words in enumerate(NOT_FIELD_LINES):
        parts.append(f'<text x="{LEFT + 150}" y="{bottom + 62 + 20 * line}">{words}</text>')
    return "\n".join((*parts, "</svg>", ""))


def _mark(shape: str, x: float, y: float, radius: float) -> str:
    if shape == "circle":
        place = f'cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"'
        return f'<circle {place} fill="none" stroke="#1b1b1b" stroke-width="2"/>'
    place = f'x="{x - radius:.1f}" y="{y - radius:.1f}" width="{2 * radius:.1f}" height="{2 * radius:.1f}"'
    return f'<rect {place} fill="#1b1b1b" fill-opacity="0.55"/>'
