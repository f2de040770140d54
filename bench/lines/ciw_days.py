"""One plain day of the same model in ciw: opening line and accessible stations, no breaks, no failures.

Draws are made beforehand with numpy; they count, and so does reading the records that the library keeps.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import ciw
import numpy as np
from bench.lines.voters import Told, draw_day

if TYPE_CHECKING:
    from bench.lines.county import SiteDay

GENERAL, APART = "general", "accessible"
NODES = 4


def tell(one: SiteDay, random: np.random.Generator) -> Told:
    """Tell one plain day (``SiteDay.plain``)."""
    drawn = draw_day(one, random)
    voters = len(drawn.arrives)
    if voters == 0:
        return Told(0, (0.0, 0.0, 0.0, 0.0, 0.0), 0.0, 0, float(one.day.close_ms))
    present = [takes is not None for takes in drawn.takes]
    gaps, routes, services = {}, {}, {}
    for name, mine in ((GENERAL, ~drawn.accessible), (APART, drawn.accessible)):
        marking = 2 if name == APART else 1
        here = [0, *(stage for stage in (marking, 3) if present[stage])]
        first = _Next([*np.diff(drawn.arrives[mine], prepend=0.0).tolist(), float("inf")])
        gaps[name] = [first, None, None, None]
        services[name] = [
            # Each step's times go to voters in their order there, which is as random as any.
            _Next(drawn.takes[stage][mine].tolist() if stage in here else [])
            for stage in range(NODES)
        ]
        after = dict(pairwise(here))
        routes[name] = ciw.routing.NetworkRouting(
            routers=[
                ciw.routing.Direct(to=after[stage] + 1) if stage in after else ciw.routing.Leave()
                for stage in range(NODES)
            ]
        )
    network = ciw.create_network(
        arrival_distributions=gaps,
        service_distributions=services,
        routing=routes,
        number_of_servers=[count or float("inf") for count in one.counts],
    )
    simulation = ciw.Simulation(network)
    simulation.simulate_until_max_customers(voters, method="Finish")
    return _told(one, voters, simulation.get_all_records())


class _Next(ciw.dists.Distribution):
    """The numbers of a list, one after the other."""

    def __init__(self, numbers: list[float]) -> None:
        super().__init__()
        self._next = iter(numbers)

    def sample(self, t: float | None = None, ind: Any = None) -> float:
        """The next number."""
        return next(self._next)


def _told(one: SiteDay, voters: int, records: list[Any]) -> Told:
    by_stage, by_voter, last = [0.0] * 5, [0.0] * (voters + 1), 0.0
    for record in records:
        by_stage[record.node - 1] += record.waiting_time
        by_voter[record.id_number] += record.waiting_time
        last = max(last, record.exit_date)
    a, b, c, d, e = by_stage
    over = sum(waited > one.limit.limit_ms for waited in by_voter)
    return Told(voters, (a, b, c, d, e), max(by_voter), over, last + one.day.open_ms)
