"""The line at the receiving tables: against a reference simulation, a closed form, and its own shape."""

from __future__ import annotations

import random

import pytest
import simpy
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.plan.lines.formulas import settled_line
from pollstead.plan.receiving.queue import Evening, waits, waits_by_tables


def _by_simpy(arrivals: list[float], services: list[float], tables: int) -> list[float]:
    """The same line by simpy, a general simulation library: one resource, first come, first served."""
    environment = simpy.Environment()
    crew = simpy.Resource(environment, capacity=tables)
    found = [0.0] * len(arrivals)

    def lead(place: int) -> object:
        yield environment.timeout(arrivals[place])
        with crew.request() as turn:
            yield turn
            found[place] = environment.now - arrivals[place]
            yield environment.timeout(services[place])

    for place in range(len(arrivals)):
        environment.process(lead(place))  # type: ignore[arg-type]
    environment.run()
    return found


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), tables=st.integers(1, 4), sites=st.integers(1, 40))
def test_waits_are_those_of_a_general_simulation_library(seed: int, tables: int, sites: int) -> None:
    """Given the same arrivals and service times, every single wait is the one that simpy gives."""
    draw = random.Random(seed)
    arrivals = sorted(draw.gauss(200, 22) for _ in range(sites))
    services = [draw.lognormvariate(1.7, 0.5) for _ in range(sites)]
    assert list(waits(arrivals, services, tables)) == pytest.approx(_by_simpy(arrivals, services, tables))


@pytest.mark.parametrize(("tables", "rate"), [(1, 0.6), (3, 2.4)])
def test_a_long_line_has_the_mean_wait_of_the_settled_formula(tables: int, rate: float) -> None:
    """Random arrivals and exponential service settle at the M/M/c mean (Erlang's formula, from memory)."""
    draw = random.Random(7)
    now, arrivals = 0.0, []
    for _ in range(120_000):
        now += draw.expovariate(rate)
        arrivals.append(now)
    found = waits(arrivals, [draw.expovariate(1.0) for _ in arrivals], tables)
    assert sum(found) / len(found) == pytest.approx(settled_line(rate, 1.0, tables).wait, rel=0.06)


def test_nobody_waits_where_each_site_comes_as_the_last_one_leaves() -> None:
    """Every 6 minutes one site, 6 minutes of work: no wait; 7 minutes of work: each waits a minute more."""
    arrivals = [6.0 * n for n in range(10)]
    assert waits(arrivals, [6.0] * 10, 1) == (0.0,) * 10
    assert waits(arrivals, [7.0] * 10, 1) == tuple(float(n) for n in range(10))


def test_more_tables_never_make_a_longer_wait_and_a_seed_gives_one_answer() -> None:
    """Each number of tables meets the same evenings; one table for 28 sites waits far beyond 10 minutes."""
    found = waits_by_tables(Evening(sites=28), seed=3, evenings=60)
    means = [one.mean_wait_s for one in found]
    assert means == sorted(means, reverse=True)
    assert means[0] > 30 * 60 and means[2] < 5 * 60
    assert found == waits_by_tables(Evening(sites=28), seed=3, evenings=60)
    assert found != waits_by_tables(Evening(sites=28), seed=4, evenings=60)


def test_no_site_waits_nothing_and_wrong_input_is_named() -> None:
    """A county without sites has no wait; unsorted arrivals and no table raise."""
    assert waits_by_tables(Evening(sites=0), seed=1)[0].mean_wait_s == 0
    with pytest.raises(ValueError, match="tables must be 1 or more"):
        waits([], [], 0)
    with pytest.raises(ValueError, match="ascending"):
        waits([2.0, 1.0], [1.0, 1.0], 1)
