"""The line at the receiving tables: waits by number of tables, first come, first served.

Arrivals are minutes after closing, normal; service times lognormal. Both are invented figures until a county
has timed its own: common practice, no source; varies by county.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence

import numpy as np

from pollstead.election.values import Value, require

MOST_TABLES = 4


class Evening(Value, frozen=True, kw_only=True):
    """What one evening is drawn from: sites, and minutes of arrival (mean, spread) and service (mean, sigma).

    `service_sigma_milli` is the standard deviation of the logarithm of a service time, in thousandths.
    """

    sites: int
    arrival_mean_min: int = 50
    arrival_spread_min: int = 22
    service_mean_min: int = 6
    service_sigma_milli: int = 500

    def __post_init__(self) -> None:
        require(self.sites >= 0, f"sites must be >= 0, got {self.sites}")
        require(self.service_mean_min >= 1, f"service must be 1 min or more, got {self.service_mean_min}")
        require(self.arrival_spread_min >= 0, f"spread must be >= 0, got {self.arrival_spread_min}")
        require(self.service_sigma_milli >= 0, f"sigma must be >= 0, got {self.service_sigma_milli}")


class TablesWait(Value, frozen=True, kw_only=True):
    """Waits with so many tables, over all evenings: mean wait, mean of the longest wait, last one done.

    All in seconds; `last_done_s` is how long after closing the last site leaves, on the average.
    """

    tables: int
    mean_wait_s: int
    longest_wait_s: int
    last_done_s: int


def waits(arrivals: Sequence[float], services: Sequence[float], tables: int) -> tuple[float, ...]:
    """The wait of each arrival, in the order of arriving, at so many tables; any one unit of time.

    First come, first served by whichever table is free first (the recursion of Kiefer and Wolfowitz, 1955,
    from memory). Raises ValueError unless there are as many service times as arrivals, in ascending order.
    """
    require(tables >= 1, f"tables must be 1 or more, got {tables}")
    require(len(arrivals) == len(services), f"{len(arrivals)} arrivals and {len(services)} service times")
    free = [0.0] * tables
    found = []
    last = -math.inf
    for arrives, takes in zip(arrivals, services, strict=True):
        require(arrives >= last, "arrivals must be in ascending order")
        last = arrives
        begins = max(arrives, heapq.heappop(free))
        heapq.heappush(free, begins + takes)
        found.append(begins - arrives)
    return tuple(found)


def waits_by_tables(
    evening: Evening, *, seed: int, evenings: int = 200, most: int = MOST_TABLES
) -> tuple[TablesWait, ...]:
    """Waits for 1 to `most` tables; every number of tables meets the same drawn evenings.

    The time is evenings × tables × sites; the same seed gives the same answer.
    """
    require(evenings >= 1, f"evenings must be 1 or more, got {evenings}")
    if not evening.sites:
        return tuple(
            TablesWait(tables=n, mean_wait_s=0, longest_wait_s=0, last_done_s=0) for n in range(1, most + 1)
        )
    random = np.random.default_rng(seed)
    shape = (evenings, evening.sites)
    arrivals = np.sort(
        np.maximum(random.normal(evening.arrival_mean_min, evening.arrival_spread_min, shape), 0.0), axis=1
    )
    sigma = evening.service_sigma_milli / 1000
    # The mean of a lognormal is exp(mu + sigma² / 2).
    services = random.lognormal(math.log(evening.service_mean_min) - sigma**2 / 2, sigma, shape)
    made = []
    for tables in range(1, most + 1):
        all_waits = [
            waits(come, take, tables) for come, take in zip(arrivals.tolist(), services.tolist(), strict=True)
        ]
        table = np.array(all_waits)
        made.append(
            TablesWait(
                tables=tables,
                mean_wait_s=round(float(table.mean()) * 60),
                longest_wait_s=round(float(table.max(axis=1).mean()) * 60),
                last_done_s=round(float((arrivals + table + services).max(axis=1).mean()) * 60),
            )
        )
    return tuple(made)
