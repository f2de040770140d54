"""Voters of a site-day and of each quarter hour as percentiles over the draws."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pollstead.election.units import PPM
from pollstead.plan.terms.demand import DemandDraws, QuantileRow, SiteDayDemand
from pollstead.plan.terms.part import derive_seed

if TYPE_CHECKING:
    import numpy as np


def summarize(draws: DemandDraws, seed: int) -> tuple[SiteDayDemand, ...]:
    """P10, P50 and P90 of each site-day, in all and by quarter hour.

    A quarter hour's count is a Poisson draw around the draw's total times the slot's share; those
    in line at opening are counted in the first quarter hour, when they are first seen.
    """
    import numpy as np

    rows = []
    for column, day in enumerate(draws.site_days):
        totals = draws.totals[:, column]
        weights = draws.slot_weights[column].astype(np.float64)
        n_slots = -(-(day.closes_min - day.opens_min) // 15)
        line = draws.opening_line_ppm / PPM
        shares = weights[:n_slots] / weights[:n_slots].sum() * (1.0 - line)
        shares[0] += line
        purpose = f"slots {day.opens_min - day.closes_min} {(day.date.toordinal())}"
        rng = np.random.Generator(np.random.PCG64(derive_seed(seed, "demand", day.seed_key, purpose)))
        slots = rng.poisson(totals[:, None] * shares[None, :])
        rows.append(
            SiteDayDemand(
                site=day.site,
                date=day.date,
                opens_min=day.opens_min,
                closes_min=day.closes_min,
                voters=_rows(totals[:, None])[0],
                slots=_rows(slots),
            )
        )
    return tuple(rows)


def _rows(counts: np.ndarray[Any, Any]) -> tuple[QuantileRow, ...]:
    """The percentiles of each column of whole numbers."""
    import numpy as np

    low, middle, high = np.quantile(counts, (0.1, 0.5, 0.9), axis=0, method="nearest").tolist()
    return tuple(
        QuantileRow(p10=int(a), p50=int(b), p90=int(c)) for a, b, c in zip(low, middle, high, strict=True)
    )
