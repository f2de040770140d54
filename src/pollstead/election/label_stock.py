"""Sheets of labels as plain geometry: how many across and down, how large, how far apart."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from pollstead.election.values import Value, require

PAPERS_UM: Final = MappingProxyType({"letter": (215_900, 279_400), "a4": (210_000, 297_000)})
"""Width and height in micrometers (ANSI letter 8.5 × 11 in; ISO 216 A4)."""


class LabelStock(Value, frozen=True, kw_only=True):
    """One kind of label sheet; all lengths in micrometers. The pitch is from label to label, edge to edge."""

    id: str
    paper: str = "letter"
    columns: int
    rows: int
    width_um: int
    height_um: int
    left_um: int
    top_um: int
    pitch_x_um: int
    pitch_y_um: int

    def __post_init__(self) -> None:
        require(self.paper in PAPERS_UM, f"{self.id}: paper must be letter or a4, got {self.paper!r}")
        require(
            1 <= self.columns <= 20 and 1 <= self.rows <= 50,
            f"{self.id}: columns must be 1 to 20 and rows 1 to 50, got {self.columns} and {self.rows}",
        )
        require(
            self.width_um <= self.pitch_x_um and self.height_um <= self.pitch_y_um,
            f"{self.id}: labels overlap: a pitch must not be less than the label's size",
        )
        wide, high = PAPERS_UM[self.paper]
        right = self.left_um + (self.columns - 1) * self.pitch_x_um + self.width_um
        bottom = self.top_um + (self.rows - 1) * self.pitch_y_um + self.height_um
        require(
            min(self.left_um, self.top_um) >= 0 and right <= wide and bottom <= high,
            f"{self.id}: the labels must fit the paper, {wide / 1000:g} × {high / 1000:g} mm; they reach "
            f"{right / 1000:g} × {bottom / 1000:g} mm",
        )

    @property
    def per_sheet(self) -> int:
        """Labels on one sheet."""
        return self.columns * self.rows


def _inches(
    name: str, columns: int, rows: int, size: tuple[int, int], at: tuple[int, int], pitch: tuple[int, int]
) -> LabelStock:
    """A letter sheet by lengths in thousandths of an inch."""
    return LabelStock(
        id=name,
        columns=columns,
        rows=rows,
        width_um=size[0] * 254 // 10,
        height_um=size[1] * 254 // 10,
        left_um=at[0] * 254 // 10,
        top_um=at[1] * 254 // 10,
        pitch_x_um=pitch[0] * 254 // 10,
        pitch_y_um=pitch[1] * 254 // 10,
    )


COMMON: Final = (
    _inches("3x10", 3, 10, (2625, 1000), (188, 500), (2750, 1000)),
    _inches("2x10", 2, 10, (4000, 1000), (156, 500), (4188, 1000)),
    _inches("2x5", 2, 5, (4000, 2000), (156, 500), (4188, 2000)),
    _inches("2x3", 2, 3, (4000, 3333), (156, 500), (4188, 3333)),
    LabelStock(
        id="2x7-a4",
        paper="a4",
        columns=2,
        rows=7,
        width_um=99_100,
        height_um=38_100,
        left_um=4_650,
        top_um=15_150,
        pitch_x_um=101_600,
        pitch_y_um=38_100,
    ),
    LabelStock(
        id="3x8-a4",
        paper="a4",
        columns=3,
        rows=8,
        width_um=70_000,
        height_um=35_000,
        left_um=0,
        top_um=8_500,
        pitch_x_um=70_000,
        pitch_y_um=35_000,
    ),
)
"""Sheet sizes that are common in shops, as plain geometry; measured sizes vary, so print the test page."""
