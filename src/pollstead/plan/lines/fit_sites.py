"""Service at each site, drawn to what sites have in common: a site with few samples borrows."""

from __future__ import annotations

import math
from collections.abc import Mapping

from pollstead.election.timings import Band, Samples
from pollstead.election.values import Value
from pollstead.plan.lines.fit_laws import FEWEST, band
from pollstead.plan.lines.fit_likelihood import FittedLaw, Likelihood, student_quantile

FEWEST_SITES = 5
_MOST_APART = 1.0
_STEPS = 100
"""The standard deviation between the sites' log means is looked for from 0 to 1 in steps of 0.01."""


class SiteService(Value, frozen=True, kw_only=True):
    """One site: its samples, the mean of its own, and the mean drawn to the others with a 95 % interval.

    `own_weight_ppm` says how much of the drawn logarithm is the site's own. A site without samples enough
    of its own (see `FEWEST`) has `own_ms` None and the common mean, with the interval of a new site.
    """

    site: str
    samples: int
    own_ms: int | None
    own_weight_ppm: int
    drawn_ms: Band


class AcrossSites(Value, frozen=True, kw_only=True):
    """The mean over sites as alike as these, with an interval that knows that sites differ.

    `apart_ppm` is the standard deviation of the sites' log means, in ppm (100,000: sites differ by 10 %).
    """

    mean_ms: Band
    apart_ppm: int
    sites: tuple[SiteService, ...]


def fit_sites(by_site: Mapping[str, Samples], law: FittedLaw) -> AcrossSites | None:
    """Random effects on the logarithm of the mean; None below `FEWEST_SITES` sites with samples enough.

    Weights 1 / (own variance + variance between), as DerSimonian and Laird 1986, Controlled Clinical
    Trials 7, 177-188; interval with Student's t after Hartung and Knapp 2001, Statistics in Medicine 20,
    3875-3889; flat prior of the spread between sites after Gelman 2006, Bayesian Analysis 1, 515-534 (all
    from memory). A site's drawn value is the posterior mean.
    """
    own: dict[str, tuple[float, float]] = {}
    for site, samples in sorted(by_site.items()):
        if len(samples.done_ms) >= FEWEST:
            likelihood = Likelihood(
                law, [t / 1000 for t in samples.done_ms], [t / 1000 for t in samples.going_ms]
            )
            a, b, value = likelihood.best()
            low, high = likelihood.mean_bounds(a, b, value)
            # The profile's own half width as standard error, at the t that the profile was cut with.
            own[site] = (a, ((high - low) / 2 / student_quantile(0.975, len(samples.done_ms) - 1)) ** 2)
    if len(own) < FEWEST_SITES:
        return None
    between = _between(list(own.values()))
    weights = {site: 1 / (variance + between) for site, (_, variance) in own.items()}
    total = math.fsum(weights.values())
    common = math.fsum(weights[site] * a for site, (a, _) in own.items()) / total
    spread = (
        math.fsum(weights[site] * (a - common) ** 2 for site, (a, _) in own.items()) / (len(own) - 1) / total
    )
    error = math.sqrt(max(spread, 1 / total))
    t = student_quantile(0.975, len(own) - 1)
    return AcrossSites(
        mean_ms=_band(common, t * error),
        apart_ppm=round(1_000_000 * math.sqrt(between)),
        sites=tuple(
            _site(site, samples, own.get(site), common, between, error, t)
            for site, samples in sorted(by_site.items())
        ),
    )


def _between(own: list[tuple[float, float]]) -> float:
    """Variance between sites: its mean over a flat prior of its root, by the restricted likelihood.

    The estimate by moments is often 0 with few sites, and would then draw every site to the same value.
    """
    weighed = []
    for step in range(_STEPS + 1):
        between = (_MOST_APART * step / _STEPS) ** 2
        weights = [1 / (variance + between) for _, variance in own]
        total = math.fsum(weights)
        middle = math.fsum(w * a for w, (a, _) in zip(weights, own, strict=True)) / total
        apart = math.fsum(w * (a - middle) ** 2 for w, (a, _) in zip(weights, own, strict=True))
        weighed.append((0.5 * (math.fsum(map(math.log, weights)) - math.log(total) - apart), between))
    top = max(told for told, _ in weighed)
    mass = [(math.exp(told - top), between) for told, between in weighed]
    return math.fsum(m * between for m, between in mass) / math.fsum(m for m, _ in mass)


def _site(
    site: str,
    samples: Samples,
    own: tuple[float, float] | None,
    common: float,
    between: float,
    error: float,
    t: float,
) -> SiteService:
    if own is None:
        return SiteService(
            site=site,
            samples=len(samples),
            own_ms=None,
            own_weight_ppm=0,
            drawn_ms=_band(common, t * math.sqrt(between + error**2)),
        )
    a, variance = own
    weight = between / (between + variance)
    drawn = weight * a + (1 - weight) * common
    return SiteService(
        site=site,
        samples=len(samples),
        own_ms=round(1000 * math.exp(a)),
        own_weight_ppm=round(1_000_000 * weight),
        # Morris 1983, JASA 78, 47-55 (from memory): the common mean is itself an estimate.
        drawn_ms=_band(drawn, t * math.sqrt(weight * variance + ((1 - weight) * error) ** 2)),
    )


def _band(log_mean: float, half: float) -> Band:
    mean = 1000 * math.exp(log_mean)
    return band(mean, mean * math.exp(-half), mean * math.exp(half))
