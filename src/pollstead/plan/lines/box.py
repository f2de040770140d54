"""Between which numbers of stations a search may choose."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pollstead.plan.lines.trials import Counts
    from pollstead.plan.terms.lines import SiteLines

MOST_STATIONS = 500
NO_LINES: Counts = (0, 0, 0, 0)
"""Always room inside: what is left is the line at the curb."""


@dataclass(frozen=True, slots=True)
class Box:
    """The least and the most stations of each stage; `high` None: no bound; both 0: no line there."""

    low: Counts
    high: tuple[int | None, int | None, int | None, int | None]

    def raised(self, counts: Counts, part: int = MOST_STATIONS + 1) -> Iterator[Counts]:
        """The counts with one station more, or one in `part` more, at one stage, inside the box."""
        for k in range(4):
            most = min(self.high[k] or MOST_STATIONS, MOST_STATIONS)
            if self.low[k] > 0 and counts[k] < most:
                yield with_stage(counts, k, min(most, counts[k] + max(1, counts[k] // part)))

    def lowered(self, counts: Counts) -> Iterator[Counts]:
        """The counts with one station fewer at one stage, inside the box."""
        for k in range(4):
            if counts[k] > self.low[k]:
                yield with_stage(counts, k, counts[k] - 1)


def with_stage(counts: Counts, stage: int, count: int) -> Counts:
    """`counts` with another number at one stage."""
    changed = list(counts)
    changed[stage] = count
    return (changed[0], changed[1], changed[2], changed[3])


def box_of(site: SiteLines) -> Box:
    """The bounds of a site's numbers: what is fixed wins; a floor wins over a ceiling below it."""
    low: list[int] = []
    high: list[int | None] = []
    rows = zip(
        site.path.limited(),
        site.floor.by_stage(),
        site.ceiling.by_stage(),
        site.fixed.by_stage(),
        strict=True,
    )
    for limited, floor, ceiling, fixed in rows:
        if not limited:
            low.append(0)
            high.append(0)
        elif fixed is not None:
            low.append(fixed)
            high.append(fixed)
        else:
            low.append(max(1, floor))
            high.append(None if ceiling is None else max(1, floor, ceiling))
    return Box((low[0], low[1], low[2], low[3]), (high[0], high[1], high[2], high[3]))
