"""From timed samples to a service law: mean and spread with intervals, which law, is it enough."""

from __future__ import annotations

import math

from pollstead.election.timings import Band, Samples
from pollstead.election.values import Value
from pollstead.plan.lines.fit_likelihood import FittedLaw, Likelihood, law_quantile

FEWEST = 8
"""Below so many samples timed to their end no law is fitted: our choice."""

CLEAR = 2.0
"""By so much must one law's log-likelihood pass the other's (7 times as likely) to be taken: our choice."""

WANTED_WIDTH = 0.10
SHOWN_CHANCES = (0.1, 0.5, 0.9)
WHOLE_PPM = 1_000_000


class LawFit(Value, frozen=True, kw_only=True):
    """One law fitted: mean and spread with 95 % intervals, its times at 10, 50 and 90 %.

    `log_likelihood_milli` compares the laws on the same samples.
    """

    law: FittedLaw
    mean_ms: Band
    cv_ppm: Band
    quantiles_ms: tuple[int, ...]
    log_likelihood_milli: int


class ServiceFit(Value, frozen=True, kw_only=True):
    """What samples say of one step: the fits, the one chosen (None where there are too few samples).

    `clear` where the samples tell the laws apart. `wanted` is about how many samples give the mean within
    10 %; `thin` where the interval is wider than that. `seen_ms` are the samples' own times at 10, 50 and
    90 %, 0 where too many were still going to tell.
    """

    done: int
    going: int
    fits: tuple[LawFit, ...]
    chosen: FittedLaw | None
    clear: bool
    wanted: int
    thin: bool
    seen_ms: tuple[int, ...]

    @property
    def fit(self) -> LawFit | None:
        """The fit of the law chosen."""
        return next((one for one in self.fits if one.law is self.chosen), None)


def fit_service(samples: Samples) -> ServiceFit:
    """Fit both laws by maximum likelihood with samples still going; intervals by profile likelihood.

    Where the samples do not tell the laws apart the lognormal one is taken, as in the rest of the model.
    """
    done = [ms / 1000 for ms in samples.done_ms]
    going = [ms / 1000 for ms in samples.going_ms]
    seen = tuple(round(1000 * t) for t in kaplan_meier(done, going, SHOWN_CHANCES))
    if len(done) < FEWEST:
        return ServiceFit(
            done=len(done),
            going=len(going),
            fits=(),
            chosen=None,
            clear=False,
            wanted=samples_wanted(_own_spread(done)),
            thin=True,
            seen_ms=seen,
        )
    fits = tuple(_fit(law, done, going) for law in FittedLaw)
    lognormal, gamma = (one.log_likelihood_milli / 1000 for one in fits)
    chosen = fits[1] if gamma - lognormal >= CLEAR else fits[0]
    half = max(chosen.mean_ms.high - chosen.mean_ms.value, chosen.mean_ms.value - chosen.mean_ms.low)
    return ServiceFit(
        done=len(done),
        going=len(going),
        fits=fits,
        chosen=chosen.law,
        clear=abs(gamma - lognormal) >= CLEAR,
        wanted=samples_wanted(chosen.cv_ppm.value / WHOLE_PPM),
        thin=half > WANTED_WIDTH * chosen.mean_ms.value,
        seen_ms=seen,
    )


def _fit(law: FittedLaw, done: list[float], going: list[float]) -> LawFit:
    likelihood = Likelihood(law, done, going)
    a, b, value = likelihood.best()
    mean = likelihood.mean_bounds(a, b, value)
    spread = likelihood.spread_bounds(a, b, value)
    return LawFit(
        law=law,
        mean_ms=band(1000 * math.exp(a), *(1000 * math.exp(end) for end in mean)),
        cv_ppm=band(WHOLE_PPM * math.exp(b), *(WHOLE_PPM * math.exp(end) for end in spread)),
        quantiles_ms=tuple(round(1000 * law_quantile(law, a, b, u)) for u in SHOWN_CHANCES),
        log_likelihood_milli=round(1000 * value),
    )


def band(value: float, low: float, high: float) -> Band:
    """Whole numbers, the interval rounded outwards."""
    return Band(
        value=round(value), low=min(round(value), math.floor(low)), high=max(round(value), math.ceil(high))
    )


def samples_wanted(spread: float, width: float = WANTED_WIDTH) -> int:
    """About how many samples give the mean within `width`, 95 times of 100: (1.96 spread / width)**2.

    Source: the usual interval of a mean from its standard error.
    """
    return max(FEWEST, math.ceil((1.96 * spread / width) ** 2))


def _own_spread(done: list[float]) -> float:
    """The samples' own spread, at least 50 %: so few can look alike by chance."""
    if len(done) < 2:
        return 0.5
    mean = math.fsum(done) / len(done)
    return max(0.5, math.sqrt(math.fsum((t - mean) ** 2 for t in done) / (len(done) - 1)) / mean)


def kaplan_meier(done: list[float], going: list[float], chances: tuple[float, ...]) -> tuple[float, ...]:
    """The samples' own quantiles, still-going ones counted as such; 0 where they cannot be told.

    Source: Kaplan and Meier 1958, JASA 53, 457-481 (from memory). At equal times those done go first.
    """
    rest = len(done) + len(going)
    staying, result = 1.0, [0.0] * len(chances)
    for time, is_going in sorted([(t, False) for t in done] + [(t, True) for t in going]):
        if not is_going:
            staying *= (rest - 1) / rest
            for place, chance in enumerate(chances):
                if not result[place] and 1 - staying >= chance - 1e-12:
                    result[place] = time
        rest -= 1
    return tuple(result)
