"""Where the labels of marks on a map stand: beside the mark, else a little away with a line to it. Pure.

No label covers a mark, another label or a line, and no line runs through a label or another mark. Where
there is no such place the mark has no label: the list beside the drawing names it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from pollstead.election.values import Value

LETTER: Final = 9
"""Width of a letter, in drawing units."""
MARK: Final = 16
"""Width and height that a mark takes."""
RINGS: Final = (30, 42, 56, 72, 90)
DIRECTIONS: Final = 16


class Box(NamedTuple):
    """A rectangle in drawing units from the top left."""

    left: int
    top: int
    right: int
    bottom: int

    def crosses(self, other: Box) -> bool:
        """Whether the two share any room."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


class Line(Value, frozen=True):
    """A straight line from a mark to its label."""

    x1: int
    y1: int
    x2: int
    y2: int

    def crosses(self, box: Box) -> bool:
        """Whether any of the line lies inside the box (clipped after Liang and Barsky, 1984; from memory)."""
        dx, dy = self.x2 - self.x1, self.y2 - self.y1
        start, end = 0.0, 1.0
        for step, room in (
            (-dx, self.x1 - box.left),
            (dx, box.right - self.x1),
            (-dy, self.y1 - box.top),
            (dy, box.bottom - self.y1),
        ):
            if step == 0:
                if room <= 0:
                    return False
            elif step < 0:
                start = max(start, room / step)
            else:
                end = min(end, room / step)
        return start < end


class Label(NamedTuple):
    """Where a text stands, how it is anchored, and the line to its mark where it stands away from it."""

    x: int
    y: int
    anchor: str
    line: Line | None


def mark_box(x: int, y: int) -> Box:
    """The room that a mark takes."""
    return Box(x - MARK // 2, y - MARK // 2, x + MARK // 2, y + MARK // 2)


def text_box(x: int, y: int, anchor: str, letters: int) -> Box:
    """The room that a text of so many letters takes."""
    wide = letters * LETTER
    left = x - {"start": 0, "end": wide, "middle": wide // 2}[anchor]
    return Box(left, y - 12, left + wide, y + 2)


def place_labels(marks: Sequence[tuple[int, int, int]], ground: Box) -> tuple[Label | None, ...]:
    """A label for each mark (x, y, letters of its text), the first marks first; None where none fits."""
    taken = [mark_box(x, y) for x, y, _ in marks]
    lines: list[Line] = []
    found: list[Label | None] = [None] * len(marks)
    for away in (False, True):
        for index, (x, y, letters) in enumerate(marks):
            if found[index] is not None:
                continue
            places = _away(x, y) if away else _beside(x, y)
            label = _first_free(places, mark_box(x, y), letters, taken, lines, ground)
            if label is None:
                continue
            found[index] = label
            taken.append(text_box(label.x, label.y, label.anchor, letters))
            if label.line is not None:
                lines.append(label.line)
    return tuple(found)


def _beside(x: int, y: int) -> Iterable[Label]:
    """Right of, left of, above and below a mark."""
    yield Label(x + MARK // 2 + 3, y + 5, "start", None)
    yield Label(x - MARK // 2 - 3, y + 5, "end", None)
    yield Label(x, y - MARK // 2 - 4, "middle", None)
    yield Label(x, y + MARK // 2 + 14, "middle", None)


def _away(x: int, y: int) -> Iterable[Label]:
    """Around a mark in rings, the nearest first, each with a line from the mark's edge."""
    for ring in RINGS:
        for step in range(DIRECTIONS):
            turn = math.tau * step / DIRECTIONS
            east, down = math.cos(turn), math.sin(turn)
            end_x, end_y = round(x + ring * east), round(y + ring * down)
            start = Line(round(x + MARK / 2 * east), round(y + MARK / 2 * down), end_x, end_y)
            if abs(east) > abs(down):
                side = 3 if east > 0 else -3
                yield Label(end_x + side, end_y + 5, "start" if east > 0 else "end", start)
            else:
                yield Label(end_x, end_y + (14 if down > 0 else -4), "middle", start)


def _first_free(
    places: Iterable[Label],
    own: Box,
    letters: int,
    taken: Sequence[Box],
    lines: Sequence[Line],
    ground: Box,
) -> Label | None:
    for label in places:
        box = text_box(label.x, label.y, label.anchor, letters)
        if box.left < ground.left or box.right > ground.right:
            continue
        if box.top < ground.top or box.bottom > ground.bottom:
            continue
        if any(box.crosses(other) for other in taken) or any(line.crosses(box) for line in lines):
            continue
        if label.line is not None and any(label.line.crosses(other) for other in taken if other != own):
            continue
        return label
    return None
