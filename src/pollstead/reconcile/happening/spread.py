"""The same thing at several sites within minutes: more than the day's own rate would let one expect?

The test is stated in full, so that anybody can do it by hand. It advises and decides nothing.
"""

from __future__ import annotations

import math
from collections import defaultdict

from pollstead.election.rules import CountyRules
from pollstead.election.values import Value
from pollstead.reconcile.happening.incidents import Incident

PPM = 1_000_000


class Spread(Value, frozen=True, kw_only=True):
    """One thing told by several sites in a short stretch.

    `expected_milli` is how many sites, in thousandths, the day's own rate would give in such a stretch;
    `chance_ppm` the chance of at least as many by the Poisson distribution with that mean.
    """

    what: str
    sites: tuple[str, ...]
    from_min: int
    to_min: int
    incidents: tuple[str, ...]
    expected_milli: int
    chance_ppm: int

    @property
    def minutes(self) -> int:
        """How long the stretch is, at least 1 min."""
        return max(1, self.to_min - self.from_min)


def poisson_tail_ppm(at_least: int, mean: float) -> int:
    """The chance of `at_least` or more events where `mean` are expected, in parts per million.

    The upper tail of the Poisson distribution: 1 minus the sum of exp(-m) m^k / k! for k below `at_least`.
    """
    if at_least <= 0:
        return PPM
    term, below = math.exp(-mean), 0.0
    for k in range(at_least):
        below += term
        term *= mean / (k + 1)
    return max(0, round((1.0 - below) * PPM))


def calls_begin_min(first_opening_min: int, rules: CountyRules) -> int:
    """The minute from which something may be told: when crews are expected inside, before the first opening.

    Counted from the opening itself, the first bad minutes of the morning would be their own measure.
    """
    return max(0, first_opening_min - rules.whole("heard-crew"))


def spreads_of(incidents: tuple[Incident, ...], rules: CountyRules, begins_min: int) -> tuple[Spread, ...]:
    """Each thing that came from several sites in one stretch more often than the day's rate explains.

    `begins_min` is from when on something may be told, minutes of the operating day. The rate is that of the
    same thing before the stretch, with one more counted over one more stretch, so that a quiet morning is not
    taken for never. Each site counts once in a stretch, whatever number of calls it made. The widest stretch
    of each thing is told; what is told of it later in the day takes its place beside it.
    """
    window = max(1, rules.whole("incident-spread-window"))
    sites, most_ppm = rules.whole("incident-spread-sites"), rules.whole("incident-spread-chance")
    by_what: dict[str, list[Incident]] = defaultdict(list)
    for one in incidents:
        if not one.into:
            by_what[one.what].append(one)
    found: list[Spread] = []
    for what, told in sorted(by_what.items()):
        told.sort(key=lambda one: (one.began_min, one.subject))
        best: list[Spread] = []
        for last in range(len(told)):
            spread = _ending_at(what, told, last, window, begins_min)
            if len(spread.sites) < max(2, sites) or spread.chance_ppm > most_ppm:
                continue
            if best and spread.from_min <= best[-1].to_min:
                # One burst is told once: by the stretch that shows most sites of it.
                if len(spread.sites) > len(best[-1].sites):
                    best[-1] = spread
                continue
            best.append(spread)
        found.extend(best)
    return tuple(sorted(found, key=lambda one: (-one.to_min, one.what)))


def _ending_at(what: str, told: list[Incident], last: int, window: int, begins_min: int) -> Spread:
    end = told[last].began_min
    inside = [one for one in told[: last + 1] if one.began_min > end - window]
    start = end - window
    before = sum(one.began_min <= start for one in told)
    minutes = max(0, start - begins_min)
    expected = window * (before + 1) / (minutes + window)
    sites = tuple(dict.fromkeys(one.site for one in inside))
    return Spread(
        what=what,
        sites=sites,
        from_min=inside[0].began_min,
        to_min=end,
        incidents=tuple(one.subject for one in inside),
        expected_milli=round(expected * 1000),
        chance_ppm=poisson_tail_ppm(len(sites), expected),
    )
