"""How a report changes what is thought of a site: states that fit it are kept, the others go.

A count of people is wrong by a tenth or so, is rounded to fives and tens, now and then takes in those being
served or the line at the exit, and a zero may stand for "nobody looked". Each of these has its chance here;
they are our assumptions, given in docs/guides/waits-today.md. A report that no state fits makes room for
what the model does not know (a bus load, a stopped station): some states take the told line as it is.
"""

from __future__ import annotations

from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from pollstead.plan.lines.now_cloud import Cloud
    from pollstead.plan.terms.now import LineReport

    Ints = np.ndarray[Any, np.dtype[np.int64]]
    Floats = np.ndarray[Any, np.dtype[np.float64]]

MINUTE_MS = 60_000
NORMAL = NormalDist()
COUNT_ERROR = 0.12
"""Relative error of a count of people standing in a line."""
WITH_SERVED, ANYTHING, DEFAULT_ZERO = 0.07, 0.02, 0.15
"""Chances that a count takes in those being served, that it is anything, that a zero was never counted."""
WAIT_ERROR, WAIT_ERROR_MS = 0.25, 3 * MINUTE_MS
"""Relative and least error of a wait that somebody timed or posted."""
STANDING_ERROR = 0.25
"""That part of it where a told wait stands: it is the word of many moments."""
LATE_MS = 2 * MINUTE_MS
"""How far the minute written beside a counter may be from that of its reading."""
UNKNOWN_CHANCE, UNKNOWN_EVERY = 0.1, 4
"""Chance that something outside the model changed the line; every so many states take it up."""
KEEP = 0.97
"""How much of each unknown stays with its state when states are chosen anew (Liu and West 2001)."""
STAGE_OF = (0, 1, 3)
"""Check-in, marking and casting among the stages."""


def step_of(told: int, unit: int = 1) -> int:
    """The step in which a number seems to be told: 10, 5 or 1 units."""
    for step in (10, 5):
        if told >= 2 * step * unit and told % (step * unit) == 0:
            return step * unit
    return unit


def _normal(told: float, model: Floats, variance: Floats) -> Floats:
    made: Floats = np.exp(-0.5 * (told - model) ** 2 / variance) / np.sqrt(2 * np.pi * variance)
    return made


def line_chance(told: int, model: Floats, served: Floats) -> Floats:
    """The chance of a told number in line for each state's number in line and number being served."""
    step = step_of(told)
    small = 1.0 + step**2 / 12
    plain = _normal(told, model, small + (COUNT_ERROR * model) ** 2)
    with_served = _normal(told, model + served, small + (COUNT_ERROR * (model + served)) ** 2)
    mixed = (1 - WITH_SERVED - ANYTHING) * plain + WITH_SERVED * with_served + ANYTHING / (60 + 2 * told)
    made: Floats = (1 - DEFAULT_ZERO) * mixed + DEFAULT_ZERO if told == 0 else mixed
    return made


def strange_share(told: int, chance: Floats) -> Floats:
    """The part of `line_chance` that comes from counts that may be anything."""
    zero = 1 - DEFAULT_ZERO if told == 0 else 1.0
    made: Floats = zero * ANYTHING / (60 + 2 * told) / chance
    return made


def check_in_chance(told: int, model: Floats, elapsed_ms: int) -> Floats:
    """The chance of a told number of check-ins since the last report, for each state's."""
    late = max(told, 1) * LATE_MS / max(elapsed_ms, LATE_MS)
    variance = np.full(len(model), 1.0 + late**2 + (0.01 * told) ** 2 + step_of(told) ** 2 / 12)
    made: Floats = (1 - ANYTHING) * _normal(told, model, variance) + ANYTHING / (120 + 2 * told)
    return made


def wait_chance(told_ms: int, model_ms: Floats) -> Floats:
    """The chance of a told wait for each state's wait."""
    step = step_of(told_ms, MINUTE_MS)
    variance = WAIT_ERROR_MS**2 + (WAIT_ERROR * model_ms) ** 2 + step**2 / 12
    wide = 3_600_000 + 2 * told_ms
    mixed = (1 - ANYTHING) * _normal(told_ms, model_ms, variance) + ANYTHING / wide
    if told_ms == 0:
        mixed = (1 - DEFAULT_ZERO) * mixed + DEFAULT_ZERO / WAIT_ERROR_MS
    made: Floats = mixed
    return made


class Heard:
    """What a site's check-in counter said last, and the check-ins and lines of the states then."""

    def __init__(self, cloud: Cloud) -> None:
        self.told, self.at_ms = 0, cloud.now_ms
        self.keep(cloud)

    def keep(self, cloud: Cloud) -> None:
        """Take the states' check-ins and lines as they are now."""
        self.model, self.queue = cloud.done.copy(), cloud.queue[:, 0].copy()

    def take(self, chosen: Ints) -> None:
        """Follow the states that were chosen."""
        self.model, self.queue = self.model[chosen], self.queue[chosen]


def hear(cloud: Cloud, report: LineReport, heard: Heard) -> bool:
    """Weigh the states by a report and choose anew; whether the report fits the model.

    The cloud stands at the report's moment.
    """
    rng = cloud.chance("report")
    counter = report.check_ins if report.check_ins is not None and report.check_ins >= heard.told else None
    came = None if counter is None else counter - heard.told
    odd = np.arange(cloud.states) % UNKNOWN_EVERY == UNKNOWN_EVERY - 1
    weights, strange = np.ones(cloud.states), np.zeros(cloud.states)
    unknown = np.ones(cloud.states)
    had = cloud.queue[:, 0].copy()
    if report.counts_a_line:
        chances, strange = _line_weights(cloud, report)
        weights *= chances
        unknown *= _unknown_chance(report)
        taking = odd if _word_of(report) is None else odd | cloud.words.stands
        _take_up(cloud, report, taking, rng)
        some = int(odd.sum())
        cloud.shape[odd] += rng.normal(0.0, 0.3, some)
        cloud.factors[odd] *= np.exp(rng.normal(0.0, 0.1, (some, cloud.factors.shape[1])))
    if came is not None:
        model = (cloud.done - heard.model).astype(np.float64)
        chances = check_in_chance(came, model, report.at_ms - heard.at_ms)
        weights *= chances
        # What changed the line may have left check-in as it was, or not.
        unknown *= (chances + 1 / (120 + 2 * came)) / 2
        # What came to the door by the report, over what came in the state: that is how far the rate was off.
        arrived = np.maximum(0, came + cloud.queue[:, 0] - heard.queue) + 5.0
        expected = np.maximum(0, model + had - heard.queue) + 5.0
        cloud.shape[odd] += np.clip(np.log(arrived / expected), -1.5, 1.5)[odd]
    share = float(odd.mean())
    weights *= (1 - UNKNOWN_CHANCE) / (1 - share)
    weights[odd] = UNKNOWN_CHANCE / share * unknown[odd]
    weights /= float(weights.sum())
    strange[odd] = 1.0
    fits = float((weights * strange).sum()) < 0.5
    chosen = _systematic(weights, rng)
    cloud.take(chosen)
    heard.take(chosen)
    _loosen(cloud, rng)
    if report.counts_a_line:
        cloud.words.hear(_word_of(report), report.at_ms, rng)
    if counter is not None:
        heard.told, heard.at_ms = counter, report.at_ms
        heard.keep(cloud)
    for told, stage in zip(report.open_stations, STAGE_OF, strict=True):
        if told is not None and cloud.model.here[stage] == 1 and cloud.doors_open:
            cloud.told_open(stage, told)
    cloud.stretch += 1
    return fits


def _line_weights(cloud: Cloud, report: LineReport) -> tuple[Floats, Floats]:
    """The chance of the told line in each state, and how much of it is that the count may be anything."""
    queue, served = cloud.queue.astype(np.float64), cloud.busy().astype(np.float64)
    weights, plain = np.ones(cloud.states), np.ones(cloud.states)
    for told, stages in zip(report.by_stage, ([0], [1, 2], [3]), strict=True):
        if told is not None:
            chance = line_chance(told, queue[:, stages].sum(axis=1), served[:, stages].sum(axis=1))
            weights *= chance
            plain *= 1 - strange_share(told, chance)
    if report.in_line is not None and report.by_stage[0] is None:
        chance = line_chance(report.in_line, queue.sum(axis=1), served.sum(axis=1))
        weights *= chance
        plain *= 1 - strange_share(report.in_line, chance)
    word = _word_of(report)
    if word is not None:
        fresh = wait_chance(word, cloud.rough_wait_ms())
        chance, anywhere = cloud.words.chance(word, report.at_ms, fresh, step_of(word, MINUTE_MS))
        weights *= chance
        plain *= 1 - anywhere
    return weights, 1 - plain


def _word_of(report: LineReport) -> int | None:
    """The wait that was told where nobody counted people."""
    return report.wait_ms if report.in_line is None and report.by_stage[0] is None else None


def _unknown_chance(report: LineReport) -> float:
    """The chance of what was told where any line is as likely as any other, up to a good deal more."""
    chance = 1.0
    if report.by_stage[0] is not None:
        for told in report.by_stage:
            chance *= 1.0 if told is None else 1 / (60 + 3 * told)
    elif report.in_line is not None:
        chance = 1 / (60 + 3 * report.in_line)
    elif report.wait_ms is not None:
        chance = 1 / (3_600_000 + 3 * report.wait_ms)
    return chance


def _take_up(cloud: Cloud, report: LineReport, odd: Any, rng: np.random.Generator) -> None:
    """The odd states take the line as told, give or take the error of a count, whatever they had."""
    errors = _even_errors(int(odd.sum()), rng)
    if report.by_stage[0] is not None:
        for told, stage in zip(report.by_stage, STAGE_OF, strict=True):
            if told is not None:
                spread = np.sqrt(1.0 + step_of(told) ** 2 / 12 + (COUNT_ERROR * told) ** 2)
                cloud.queue[odd, stage] = np.maximum(0, np.round(told + errors * spread)).astype(np.int64)
    else:
        if report.in_line is not None:
            told = report.in_line
            spread = np.sqrt(1.0 + step_of(told) ** 2 / 12 + (COUNT_ERROR * told) ** 2)
            wanted = np.maximum(0.0, told + errors * spread)
        else:
            told_ms = report.wait_ms or 0
            spread = np.sqrt(WAIT_ERROR_MS**2 + (WAIT_ERROR * told_ms) ** 2)
            spread = np.where(cloud.words.stands[odd], STANDING_ERROR * spread, spread)
            wait = np.maximum(0.0, told_ms + errors * spread)
            wanted = np.maximum(0.0, wait * cloud.served_rate()[odd] - 1)
        had = cloud.queue[odd].astype(np.float64)
        whole = had.sum(axis=1)
        shares = np.where(whole[:, None] > 0, had / np.maximum(whole, 1)[:, None], [[1.0, 0, 0, 0]])
        cloud.queue[odd] = np.round(shares * wanted[:, None]).astype(np.int64)


def _even_errors(many: int, rng: np.random.Generator) -> Floats:
    """So many errors of a normal law, evenly over its chances: their middle is 0 whatever chance does."""
    at = (rng.permutation(many) + 0.5) / max(1, many)
    return np.array([NORMAL.inv_cdf(one) for one in at.tolist()])


def _systematic(weights: Floats, rng: np.random.Generator) -> Ints:
    """Which states to keep: systematic resampling (Kitagawa 1996), one random number for all."""
    sums = np.cumsum(weights)
    sums[-1] = 1.0
    at = (np.arange(len(weights)) + rng.random()) / len(weights)
    made: Ints = np.searchsorted(sums, at).astype(np.int64)
    return made


def _loosen(cloud: Cloud, rng: np.random.Generator) -> None:
    """Move the unknowns of kept states a little apart without changing their middle or spread."""
    away = np.sqrt(1 - KEEP**2)
    logs = np.log(cloud.factors)
    for values in (cloud.total[:, None], logs):
        middle, spread = values.mean(axis=0), values.std(axis=0)
        values *= KEEP
        values += (1 - KEEP) * middle + away * spread * rng.normal(0.0, 1.0, values.shape)
    cloud.factors = np.exp(logs)
