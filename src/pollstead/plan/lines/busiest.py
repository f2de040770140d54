"""The busiest days of one site-day: first looks go to them, since they part the candidates.

Most days are over the limit with no candidate, or with all. Which are over depends on the voters more than on
anything else, so that the largest of demand's draws tell as much as five times as many of all of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from pollstead.election.values import frozen_array
from pollstead.plan.lines.intervals import hopeless_from
from pollstead.plan.lines.looks import Looks
from pollstead.plan.lines.trials import Trials
from pollstead.plan.terms.lines import WHOLE_PPM

if TYPE_CHECKING:
    from pollstead.plan.terms.lines import ArrivalDay, SiteLines

LEAST_PART_PPM = 200_000
"""The part of the draws that is taken, at least; twice the accepted risk where that is more."""

BUSIEST_FROM = 1 << 19
"""Days from this number on are kept for these looks; neither the search days nor the fresh ones draw them."""


TOGETHER = 16
"""Days that the compiled engine does at a time."""

ONCE_IN = 10
"""A candidate is dropped with more of these days over the limit than chance gives once in so many."""


class Busiest:
    """Days with the largest of demand's draws, of `days` search days the part that these are."""

    def __init__(self, site: SiteLines, day: ArrivalDay, key: int, days: int) -> None:
        import numpy as np

        risk_ppm = site.limit.risk_ppm
        part_ppm = min(WHOLE_PPM, max(LEAST_PART_PPM, 2 * risk_ppm))
        largest = np.sort(day.totals)[::-1][: -(-len(day.totals) * part_ppm // WHOLE_PPM)]
        self.days = max(1, days * part_ppm // WHOLE_PPM // TOGETHER) * TOGETHER
        spread = np.arange(self.days) * len(largest) // self.days
        totals = frozen_array(largest[spread], "int64")
        self.trials = Trials(site.path, msgspec.structs.replace(day, totals=totals), site.limit, key)
        self.looks = Looks(self.trials, BUSIEST_FROM)
        # Were all other days within the limit, these would be over it this often at the accepted risk.
        self.hopeless = hopeless_from(self.days, risk_ppm * WHOLE_PPM // part_ppm, ONCE_IN)
        """The least number of these days over the limit with which a candidate is dropped."""
