"""What demand gives to the other parts: joint draws of in-person voters and the day's shape."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from pollstead.election.values import Value, require

if TYPE_CHECKING:
    import numpy as np


class SiteDay(Value, frozen=True, kw_only=True):
    """One operating day of one site, in minutes of the wall clock."""

    site: str
    seed_key: str
    date: dt.date
    opens_min: int
    closes_min: int


class DemandDraws(Value, frozen=True, kw_only=True):
    """Joint draws: one row a draw of the whole county, one column a site-day.

    `totals` is int32 of shape (draws, site days), voters. `slot_weights` is int64 of shape
    (site days, slots), whole-number weights of the quarter hours from opening; weights past
    closing are 0. `opening_line_ppm` is the share of the day's voters in line at opening.
    """

    site_days: tuple[SiteDay, ...]
    totals: np.ndarray[Any, Any]
    slot_weights: np.ndarray[Any, Any]
    opening_line_ppm: int

    def __post_init__(self) -> None:
        n = len(self.site_days)
        require(self.totals.ndim == 2 and self.totals.shape[1] == n, "totals must be (draws, site days)")
        require(
            self.slot_weights.ndim == 2 and self.slot_weights.shape[0] == n,
            "slot_weights: (site days, slots)",
        )
        require(not self.totals.flags.writeable, "totals must be read-only, see frozen_array")
        require(not self.slot_weights.flags.writeable, "slot_weights must be read-only, see frozen_array")


class QuantileRow(Value, frozen=True, kw_only=True):
    """Voters at the 10th, 50th and 90th percentile over the draws."""

    p10: int
    p50: int
    p90: int


class SiteDayDemand(Value, frozen=True, kw_only=True):
    """Voters of one site-day and of each of its quarter hours, as percentiles.

    `fixed` when a person set the middle of the range, with the reason and the middle computed.
    """

    site: str
    date: dt.date
    opens_min: int
    closes_min: int
    voters: QuantileRow
    slots: tuple[QuantileRow, ...]
    fixed: bool = False
    reason: str = ""
    computed: int | None = None
