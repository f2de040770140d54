"""A day's voters drawn with numpy, for the libraries: the same laws, their own random numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pollstead.plan.lines.draws import opening_line
from pollstead.plan.lines.voters import slot_edges_ms
from pollstead.plan.terms.lines import WHOLE_PPM, LawKind, ServiceLaw

if TYPE_CHECKING:
    from bench.lines.county import SiteDay

    Floats = np.ndarray[Any, np.dtype[np.float64]]


@dataclass(frozen=True, slots=True)
class Told:
    """What a library's telling of one day keeps: what the fast engine's row has, in ms.

    `waits_ms` at check-in, general and accessible marking, casting, and the curb.
    """

    voters: int
    waits_ms: tuple[float, float, float, float, float]
    longest_ms: float
    over: int
    last_out_ms: float


@dataclass(frozen=True, slots=True)
class DrawnDay:
    """The voters of one day in order of arrival: moments from opening on, needs, times by stage, ms."""

    arrives: Floats
    accessible: Any
    takes: tuple[Floats | None, Floats | None, Floats | None, Floats | None]


def sample(law: ServiceLaw, size: int, random: np.random.Generator) -> Floats:
    """Times of a law, in ms."""
    mean, cv = float(law.mean_ms), law.cv_ppm / WHOLE_PPM
    if law.kind is LawKind.EXPONENTIAL:
        return random.exponential(mean, size)
    if law.kind is LawKind.DETERMINISTIC or (law.kind is not LawKind.EMPIRICAL and cv == 0.0):
        return np.full(size, mean)
    if law.kind is LawKind.GAMMA:
        return random.gamma(1 / cv**2, mean * cv**2, size)
    if law.kind is LawKind.EMPIRICAL:
        knots = np.array(law.quantiles_ms, np.float64)
        drawn = np.interp(random.random(size), np.linspace(0, 1, len(knots)), knots)
        return np.asarray(drawn * (mean / ((knots[:-1] + knots[1:]).mean() / 2)))
    spread = math.log1p(cv**2)
    return random.lognormal(math.log(mean) - spread / 2, math.sqrt(spread), size)


def draw_day(one: SiteDay, random: np.random.Generator) -> DrawnDay:
    """The voters of one simulated day."""
    day = one.day
    voters = int(random.choice(day.totals))
    waiting = opening_line(voters, day.opening_line_share_ppm)
    edges = np.array(slot_edges_ms(day), np.float64) - day.open_ms
    weights = day.slot_weights[: day.slots].astype(np.float64)
    slots = random.choice(day.slots, voters - waiting, p=weights / weights.sum())
    later = edges[slots] + random.random(voters - waiting) * np.diff(edges)[slots]
    a, b, c, d = (None if work is None else sample(work.law, voters, random) for work in one.path.works())
    return DrawnDay(
        arrives=np.concatenate([np.zeros(waiting), np.sort(later)]),
        accessible=random.random(voters) < one.path.accessible_share_ppm / WHOLE_PPM,
        takes=(a, b, c, d),
    )
