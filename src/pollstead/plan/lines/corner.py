"""The corner where a search starts: for each stage the least number that keeps the limit alone.

At check-in no smaller number can do, whatever stands behind it; at the other stages nearly so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.plan.lines.box import MOST_STATIONS, NO_LINES, Box, with_stage
from pollstead.plan.lines.loads import load_milli_erlangs
from pollstead.plan.terms.lines import WHOLE_PPM, ArrivalDay, SiteLines

if TYPE_CHECKING:
    from pollstead.plan.lines.busiest import Busiest
    from pollstead.plan.lines.looks import Looks
    from pollstead.plan.lines.trials import Counts

START_BELOW_LOAD_PPM = 850_000


class Corner:
    """Finds the corner of one site-day on its search days; more than `most_over` of `days` are too many."""

    def __init__(
        self,
        site: SiteLines,
        day: ArrivalDay,
        busiest: Busiest,
        looks: Looks,
        days: int,
        most_over: int,
    ) -> None:
        self._site, self._day, self._busiest, self._looks = site, day, busiest, looks
        self._days, self._most_over = days, most_over

    def of(self, box: Box) -> tuple[Counts, bool]:
        """For each stage the least number that keeps the limit alone; False when one has none in the box."""
        counts = box.low
        possible = True
        for k in range(4):
            low, high = box.low[k], box.high[k] or MOST_STATIONS
            if low == high or low == 0:
                continue
            guess = load_milli_erlangs(self._site, self._day, k) * START_BELOW_LOAD_PPM // WHOLE_PPM // 1000
            least = self._least_alone(k, low, high, min(max(guess + 1, low), high))
            while least is not None and not self._alone_meets(k, least):
                least = least + 1 if least < high else None
            counts = with_stage(counts, k, high if least is None else least)
            possible = possible and least is not None
        return counts, possible

    def bounded_stages_can(self, box: Box) -> bool:
        """Whether the stages with a bound, at their most and with no line elsewhere, can keep the limit."""
        most = (box.high[0] or 0, box.high[1] or 0, box.high[2] or 0, box.high[3] or 0)
        return most == NO_LINES or bool(self._looks.within([most], self._days, self._most_over))

    def _alone_meets(self, stage: int, count: int) -> bool:
        alone = with_stage(NO_LINES, stage, count)
        return bool(self._looks.within([alone], self._days, self._most_over))

    def _least_alone(self, stage: int, low: int, high: int, guess: int) -> int | None:
        """The least number of one stage, without lines at the others, that is not hopeless; None if none is.

        Alone, one station more never lengthens anybody's wait, so a window can be moved to the edge.
        """
        seen: dict[int, bool] = {}
        first, width = guess, 4
        while True:
            window = [c for c in range(first, min(first + width, high + 1)) if c not in seen]
            if window:
                tried = [with_stage(NO_LINES, stage, c) for c in window]
                found = self._busiest.looks.look(tried, self._busiest.days)
                seen.update(
                    {c: one[0] < self._busiest.hopeless for c, one in zip(window, found, strict=True)}
                )
            good = [c for c, fits in seen.items() if fits]
            if not good:
                if first + width > high:
                    return None
                first, width = first + width, width * 2
                continue
            least = min(good)
            if least == low or least - 1 in seen:
                return least
            first, width = max(low, least - 4), min(4, least - low)
