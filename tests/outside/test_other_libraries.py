"""The same day in two public simulation libraries with their own random numbers: simpy and ciw.

Voters' path, demand and stations are alike; failures, breaks and jams are off. What is compared: wait at each
step, mean wait, the wait that one voter in ten passes, the share of voters over the limit, the day's longest
wait and when the last voter leaves. Each figure is made for each day, so that days tell the error.
"""

from __future__ import annotations

import datetime as dt
import math

import ciw
import msgspec
import numpy as np
import pytest
import simpy

from pollstead.election.values import frozen_array
from pollstead.plan.lines.engine import LAST_OUT
from pollstead.plan.lines.trials import FRESH_FROM, Counts, Trials
from pollstead.plan.terms.lines import HOUR_MS, ArrivalDay, ServiceLaw, SitePath, StageWork, WaitLimit

pytestmark = pytest.mark.full

COUNTS: Counts = (3, 9, 1, 1)
CHECK_IN, MARK, ACCESSIBLE, CAST = range(4)
SERVICES = ((85.0, 0.6), (300.0, 0.5), (600.0, 0.5), (30.0, 0.8))
"""Mean in seconds and spread (standard deviation over mean), lognormal, in the order of `COUNTS`."""
WEIGHTS = [9, 8, 7, 6, 4, 4, 4, 4, 5, 6, 8, 9, 8, 6, 4, 3] * 2
VOTERS, AT_THE_DOOR, NEED_ACCESSIBLE, LIMIT_S = 600, 0.03, 0.03, 600
FIGURES = ("check-in", "marking", "casting", "mean", "one in ten", "over the limit", "longest", "last out")
SIMPY_DAYS, CIW_DAYS, OUR_DAYS, CHANGED_DAYS = 45, 30, 400, 150
Z = 2.576
"""Half a 99 % interval in standard errors: eight figures of two libraries, which share no draw with ours."""


class Demand:
    """One day's voters: when each comes, in seconds, and whether he or she needs an accessible station."""

    def __init__(self, random: np.random.Generator) -> None:
        total = int(random.poisson(VOTERS))
        waiting = round(total * AT_THE_DOOR)
        shares = np.array(WEIGHTS) / sum(WEIGHTS)
        slots = random.choice(len(WEIGHTS), total - waiting, p=shares)
        times = np.sort(900 * (slots + random.random(total - waiting)))
        self.comes = np.concatenate([np.zeros(waiting), times])
        self.special = random.random(total) < NEED_ACCESSIBLE


def of_the_log(mean: float, cv: float) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm of a lognormal law."""
    variance = math.log1p(cv * cv)
    return math.log(mean) - variance / 2, math.sqrt(variance)


def figures(waits: np.ndarray, last_out: float) -> list[float]:
    """The day's figures from waits in seconds, shape (voters, 3)."""
    whole = waits.sum(axis=1)
    return [
        *waits.mean(axis=0).tolist(),
        float(whole.mean()),
        float(np.quantile(whole, 0.9)),
        float((whole > LIMIT_S).mean()),
        float(whole.max()),
        last_out,
    ]


def simpy_day(seed: int) -> list[float]:
    """The day in simpy: a process for each voter, a resource for each stage."""
    random = np.random.default_rng([1, seed])
    demand, world = Demand(random), simpy.Environment()
    stages = [simpy.Resource(world, count) for count in COUNTS]
    laws = [of_the_log(*service) for service in SERVICES]
    waits = np.zeros((len(demand.comes), 3))

    def voter(number: int) -> simpy.events.ProcessGenerator:
        yield world.timeout(demand.comes[number])
        for step, stage in enumerate((CHECK_IN, ACCESSIBLE if demand.special[number] else MARK, CAST)):
            with stages[stage].request() as turn:
                reached = world.now
                yield turn
                waits[number, step] = world.now - reached
                yield world.timeout(random.lognormal(*laws[stage]))

    for number in range(len(demand.comes)):
        world.process(voter(number))
    world.run()
    return figures(waits, world.now)


def ciw_day(seed: int) -> list[float]:
    """The day in ciw: a network of four nodes, two classes of customers with listed arrivals."""
    ciw.seed(seed)
    demand = Demand(np.random.default_rng([2, seed]))
    never = 1e9
    gaps = {
        name: ciw.dists.Sequential([*np.diff(demand.comes[who], prepend=0.0).tolist(), never])
        for name, who in (("general", ~demand.special), ("special", demand.special))
    }
    services = [ciw.dists.Lognormal(*of_the_log(*service)) for service in SERVICES]
    onward = {"general": [MARK, CAST, None, None], "special": [ACCESSIBLE, None, CAST, None]}
    routes = {
        name: [[float(then == node) for node in range(4)] for then in steps] for name, steps in onward.items()
    }
    network = ciw.create_network(
        arrival_distributions={name: [gap, None, None, None] for name, gap in gaps.items()},
        service_distributions=dict.fromkeys(gaps, services),
        routing=routes,
        number_of_servers=list(COUNTS),
    )
    world = ciw.Simulation(network)
    world.simulate_until_max_time(86_400)
    records = world.get_all_records()
    place = {number: at for at, number in enumerate(sorted({one.id_number for one in records}))}
    waits = np.zeros((len(place), 3))
    for one in records:
        waits[place[one.id_number], (0, 1, 1, 2)[one.node - 1]] = one.waiting_time
    assert len(place) == len(demand.comes)
    return figures(waits, max(one.exit_date for one in records))


def our_days(path: SitePath, days: int) -> np.ndarray:
    """Our days, figures by day; waits in whole milliseconds made seconds."""
    day = ArrivalDay(
        date=dt.date(2028, 11, 7),
        open_ms=0,
        close_ms=8 * HOUR_MS,
        slot_weights=frozen_array(WEIGHTS, "int64"),
        totals=frozen_array(np.random.default_rng(3).poisson(VOTERS, days), "int64"),
        opening_line_share_ppm=round(AT_THE_DOOR * 1e6),
    )
    trials = Trials(path, day, WaitLimit(limit_ms=LIMIT_S * 1000, risk_ppm=50_000), 31)
    last_out = trials.rows([COUNTS], FRESH_FROM, days)[0][:, LAST_OUT] / 1000
    return np.array(
        [
            figures(trials.one_day(COUNTS, FRESH_FROM + n)[1:4].T / 1000, float(last_out[n]))
            for n in range(days)
        ]
    )


def step(stage: int, slower: float = 1.0) -> StageWork:
    """One of our steps; `slower` stretches its mean."""
    mean, cv = SERVICES[stage]
    return StageWork(law=ServiceLaw(mean_ms=round(mean * 1000 * slower), cv_ppm=round(cv * 1e6)))


PATH = SitePath(
    check_in=step(CHECK_IN),
    mark=step(MARK),
    accessible=step(ACCESSIBLE),
    accessible_share_ppm=round(NEED_ACCESSIBLE * 1e6),
    cast=step(CAST),
)


def intervals(days: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The 99 % intervals of each figure's mean over the days."""
    error = Z * days.std(axis=0, ddof=1) / math.sqrt(len(days))
    return days.mean(axis=0) - error, days.mean(axis=0) + error


def apart(ours: np.ndarray, theirs: np.ndarray) -> dict[str, str]:
    """The figures whose intervals do not overlap."""
    (low, high), (their_low, their_high) = intervals(ours), intervals(theirs)
    return {
        name: f"{low[k]:.1f} to {high[k]:.1f} against {their_low[k]:.1f} to {their_high[k]:.1f}"
        for k, name in enumerate(FIGURES)
        if low[k] > their_high[k] or their_low[k] > high[k]
    }


@pytest.fixture(scope="module")
def simpy_days() -> np.ndarray:
    """Days in simpy."""
    return np.array([simpy_day(seed) for seed in range(SIMPY_DAYS)])


@pytest.fixture(scope="module")
def ciw_days() -> np.ndarray:
    """Days in ciw."""
    return np.array([ciw_day(seed) for seed in range(CIW_DAYS)])


def test_another_library_tells_the_same_day(simpy_days: np.ndarray, ciw_days: np.ndarray) -> None:
    """All eight 99 % intervals of simpy and of ciw meet ours, and theirs are narrow enough to tell."""
    ours = our_days(PATH, OUR_DAYS)
    for theirs in (simpy_days, ciw_days):
        assert not apart(ours, theirs)
        low, high = intervals(theirs)
        assert ((high - low)[:5] < 0.5 * ours.mean(axis=0)[:5]).all()


@pytest.mark.parametrize(("name", "stage"), [("check_in", CHECK_IN), ("mark", MARK), ("cast", CAST)])
def test_a_service_a_tenth_longer_is_told_apart(
    name: str, stage: int, simpy_days: np.ndarray, ciw_days: np.ndarray
) -> None:
    """The same comparison with one step's mean 10 % longer fails at that step, against either library."""
    ours = our_days(msgspec.structs.replace(PATH, **{name: step(stage, 1.1)}), CHANGED_DAYS)
    waits_there = {CHECK_IN: "check-in", MARK: "marking", CAST: "casting"}[stage]
    assert waits_there in apart(ours, simpy_days)
    assert waits_there in apart(ours, ciw_days)
