"""The arithmetic of the figures: shares with their standard errors, calibration, the worse of two."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from bench.counts.acts import Played
from bench.counts.judge import Verdict

BINS = 10
FIELDS = 25
"""Numbers that people write at a site on a night, about; from the balance of Larkmoor's sites."""
WRONG_PER_NUMBER = 0.0075
"""Between 0.5 % and 1 % of numbers copied by hand; own guess within published rates of manual entry."""
DOUBLE_PER_SINGLE = (FIELDS - 1) / 2 * WRONG_PER_NUMBER / (1 - WRONG_PER_NUMBER)
"""How many nights with two faults come to one with a single fault: the ratio of two binomial terms."""


class Bin(NamedTuple):
    """One bin of the reliability table: answers, their mean share and how often they were right."""

    low: float
    high: float
    answers: float
    said: float
    right: float


def share_of(hits: Iterable[bool]) -> tuple[float, float]:
    """A share and its standard error; (nan, nan) of nothing."""
    counted = list(hits)
    if not counted:
        return math.nan, math.nan
    share = sum(counted) / len(counted)
    return share, math.sqrt(share * (1 - share) / len(counted))


def mean(values: Iterable[float]) -> float:
    """The mean; nan of nothing."""
    counted = list(values)
    return sum(counted) / len(counted) if counted else math.nan


def at(values: Sequence[float], part: float) -> float:
    """The value below which `part` of all stand; nan of nothing."""
    ordered = sorted(values)
    return ordered[min(int(len(ordered) * part), len(ordered) - 1)] if ordered else math.nan


def reliability(answers: Iterable[tuple[float, bool, float]]) -> tuple[Bin, ...]:
    """Bins of equal width over (share said, whether right, weight); empty bins are left out."""
    sums = [[0.0, 0.0, 0.0] for _ in range(BINS)]
    for said, right, weight in answers:
        place = min(int(said * BINS), BINS - 1)
        for index, value in enumerate((weight, weight * said, weight * right)):
            sums[place][index] += value
    return tuple(
        Bin(place / BINS, (place + 1) / BINS, weight, said / weight, right / weight)
        for place, (weight, said, right) in enumerate(sums)
        if weight
    )


def calibration_error(bins: Sequence[Bin]) -> float:
    """The expected calibration error: the mean distance of share said and share right, by answers."""
    whole = sum(one.answers for one in bins)
    return sum(one.answers * abs(one.said - one.right) for one in bins) / whole if whole else math.nan


def first_answers(singles: Sequence[Verdict], doubles: Sequence[Verdict]) -> list[tuple[float, bool, float]]:
    """The first group of each night with a difference, nights weighted as often as they come."""
    found = []
    for nights, weight in (
        (singles, 1.0),
        (doubles, DOUBLE_PER_SINGLE * len(singles) / max(len(doubles), 1)),
    ):
        found += [(*one.shares[0], weight) for one in nights if one.differs and one.shares]
    return found


def figures(
    singles: Sequence[Verdict], doubles: Sequence[Verdict], clean: Sequence[Verdict]
) -> dict[str, float]:
    """The figures of one generator."""
    told = [one for one in singles if one.differs]
    told_doubles = [one for one in doubles if one.differs]
    top1, top1_error = share_of(one.rank == 1 for one in told)
    top5, top5_error = share_of(0 < one.rank <= 5 for one in told_doubles)
    timed = [one.milliseconds for one in (*told, *told_doubles)]
    return {
        "single_top1": top1,
        "single_top3": share_of(0 < one.rank <= 3 for one in told)[0],
        "single_top1_bound": mean(one.bound_named for one in told),
        "single_top1_standard_error": top1_error,
        "single_first_explanation_right": share_of(one.first_right for one in told)[0],
        "single_one_answer_bound": mean(one.bound for one in told),
        "corrections_in_first_group": mean(float(one.named) for one in told if one.offered),
        "groups_offered": mean(float(len(one.shares)) for one in told),
        "double_top1": share_of(one.rank == 1 for one in told_doubles)[0],
        "double_top5": top5,
        "double_top5_standard_error": top5_error,
        "false_alarms": sum(one.told or one.offered for one in clean),
        "calibration_error": calibration_error(reliability(first_answers(singles, doubles))),
        "ms_per_site": mean(timed),
        "ms_per_site_99_percent": at(timed, 0.99),
        "singles": len(singles),
        "singles_without_a_difference": len(singles) - len(told),
        "doubles": len(doubles),
        "doubles_without_a_difference": len(doubles) - len(told_doubles),
        "clean_nights": len(clean),
    }


def acts_figures(played: Sequence[Played]) -> dict[str, float]:
    """How many differences the suggested acts settle: of those that looking can settle, and of all."""
    findable = [one for one in played if one.findable]
    return {
        "acts_settle_of_those_a_look_can_settle": share_of(one.closed for one in findable)[0],
        "first_act_settles_of_those": share_of(one.closed and one.acts == 1 for one in findable)[0],
        "acts_settle_of_all": share_of(one.closed for one in played)[0],
        "a_look_can_settle_of_all": share_of(one.findable for one in played)[0],
        "an_act_is_suggested": share_of(one.offered for one in played)[0],
        "acts_done": mean(float(one.acts) for one in played),
    }


HIGHER_IS_BETTER = ("single_top1", "single_top3", "single_top1_bound", "double_top5")
LOWER_IS_BETTER = ("false_alarms", "calibration_error", "ms_per_site")


def worse_of(generators: Sequence[dict[str, float]]) -> dict[str, float]:
    """The worse figure of the generators, for each key at the top of the result.

    The bound stands beside the recall that it bounds: it is that of the generator with the worse top-1.
    """
    worst = min(generators, key=lambda one: one["single_top1"])
    found = {key: min(one[key] for one in generators) for key in HIGHER_IS_BETTER}
    found["single_top1_bound"] = worst["single_top1_bound"]
    return found | {key: max(one[key] for one in generators) for key in LOWER_IS_BETTER}
