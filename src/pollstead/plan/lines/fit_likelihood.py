"""Log-likelihood of two service laws for timed samples, some of them still going when the watch stopped.

Both laws are told by the same two numbers, the logarithms of mean and spread (standard deviation over mean),
so that one search serves both. Lognormal: sigma**2 = ln(1 + cv**2), mu = ln mean - sigma**2 / 2. Gamma: shape
k = 1 / cv**2, scale = mean / k. A sample still going after t seconds counts with the chance of taking longer.
"""

from __future__ import annotations

import enum
import math
from collections import Counter
from collections.abc import Callable, Iterable
from statistics import NormalDist

from pollstead.plan.lines.intervals import beta_cdf

FEWEST_SPREAD, MOST_SPREAD = math.log(0.01), math.log(3.0)
"""The search stays between a spread of 1 % and of 300 %: a station type holds no more."""

_STEP = 1e-4


class FittedLaw(enum.StrEnum):
    """A law that samples are fitted with."""

    LOGNORMAL = "lognormal"
    GAMMA = "gamma"


class Likelihood:
    """The log-likelihood of samples under one law, by log mean and log spread; times in seconds > 0."""

    def __init__(self, law: FittedLaw, done: Iterable[float], going: Iterable[float] = ()) -> None:
        times = list(done)
        logs = [math.log(t) for t in times]
        self.law = law
        self.n = len(times)
        self._sum = math.fsum(times)
        self._logs = math.fsum(logs)
        self._center = self._logs / self.n if self.n else 0.0
        self._squares = math.fsum((y - self._center) ** 2 for y in logs)
        self._going = sorted(Counter(going).items())

    def at(self, log_mean: float, log_cv: float) -> float:
        """The log-likelihood; any constant that both laws share is kept, so that they compare."""
        if self.law is FittedLaw.LOGNORMAL:
            return self._lognormal(log_mean, log_cv)
        return self._gamma(log_mean, log_cv)

    def _lognormal(self, log_mean: float, log_cv: float) -> float:
        mu, sigma = lognormal_terms(log_mean, log_cv)
        apart = self._squares + self.n * (self._center - mu) ** 2
        told = -self._logs - self.n * (math.log(sigma) + 0.5 * math.log(2 * math.pi)) - apart / (2 * sigma**2)
        return told + math.fsum(
            times * log_normal_tail((math.log(t) - mu) / sigma) for t, times in self._going
        )

    def _gamma(self, log_mean: float, log_cv: float) -> float:
        shape = math.exp(-2 * log_cv)
        scale = math.exp(log_mean) / shape
        told = (shape - 1) * self._logs - self._sum / scale
        told -= self.n * (math.lgamma(shape) + shape * math.log(scale))
        return told + math.fsum(times * log_gamma_tail(shape, t / scale) for t, times in self._going)

    def best(self) -> tuple[float, float, float]:
        """The greatest log-likelihood and where it is: log mean, log spread, value. Newton's method, damped.

        Raises ValueError without a sample that was timed to its end.
        """
        if not self.n:
            raise ValueError("done must hold a sample that was timed to its end, got none")
        every = self.n + sum(times for _, times in self._going)
        total = self._sum + sum(t * times for t, times in self._going)
        a = math.log(total / every)
        b = _held(0.5 * math.log(math.expm1(min(self._squares / self.n, 2.0)) + 1e-4))
        value = self.at(a, b)
        for _ in range(100):
            step_a, step_b = self._newton(a, b, value)
            size = 1.0
            while size > 1e-9:
                near = (a + size * step_a, _held(b + size * step_b))
                found = self.at(*near)
                if found >= value:
                    break
                size /= 2
            else:
                break
            moved, (a, b), value = abs(near[0] - a) + abs(near[1] - b), near, found
            if moved < 1e-9:
                break
        return a, b, value

    def _newton(self, a: float, b: float, value: float) -> tuple[float, float]:
        """The step of Newton's method; where the surface is not bent downward, a short step uphill."""
        h = _STEP
        right, left = self.at(a + h, b), self.at(a - h, b)
        up, down = self.at(a, b + h), self.at(a, b - h)
        grad = ((right - left) / (2 * h), (up - down) / (2 * h))
        aa, bb = (right - 2 * value + left) / h**2, (up - 2 * value + down) / h**2
        cross = self.at(a + h, b + h) - self.at(a + h, b - h) - self.at(a - h, b + h) + self.at(a - h, b - h)
        ab = cross / (4 * h**2)
        det = aa * bb - ab * ab
        if aa < 0 and det > 0:
            step = ((-bb * grad[0] + ab * grad[1]) / det, (ab * grad[0] - aa * grad[1]) / det)
        else:
            size = math.hypot(*grad) or 1.0
            step = (grad[0] / size, grad[1] / size)
        longest = max(abs(step[0]), abs(step[1]), 1e-300)
        shrink = min(1.0, 1.0 / longest)
        return step[0] * shrink, step[1] * shrink

    def mean_bounds(self, a: float, b: float, value: float, chance: float = 0.95) -> tuple[float, float]:
        """Interval of the log mean by profile likelihood; see `_drop` for how far it may fall."""
        return self._bounds(lambda mean: self._along(lambda cv: self.at(mean, cv), b), a, value, chance)

    def spread_bounds(self, a: float, b: float, value: float, chance: float = 0.95) -> tuple[float, float]:
        """Interval of the log spread by profile likelihood, inside the bounds of the search."""
        low, high = self._bounds(lambda cv: self._along(lambda m: self.at(m, cv), a), b, value, chance)
        return _held(low), _held(high)

    def _bounds(
        self, profile: Callable[[float], float], at: float, value: float, chance: float
    ) -> tuple[float, float]:
        floor = value - self._drop(chance)
        ends = []
        for sign in (-1.0, 1.0):
            inside, width = at, 0.05
            while profile(at + sign * width) > floor and width < 8:
                inside, width = at + sign * width, width * 2
            ends.append(_crossing(lambda x: profile(x) - floor, inside, at + sign * width))
        return ends[0], ends[1]

    def _along(self, value: Callable[[float], float], start: float) -> float:
        """The greatest value along one line: Newton's method from `start`."""
        x, best, h = start, value(start), 1e-3
        for _ in range(40):
            up, down = value(x + h), value(x - h)
            bend, slope = (up - 2 * best + down) / h**2, (up - down) / (2 * h)
            step = -slope / bend if bend < 0 else math.copysign(0.1, slope)
            step = max(-0.5, min(0.5, step))
            while abs(step) > 1e-7 and (found := value(x + step)) < best:
                step /= 2
            if abs(step) <= 1e-7:
                break
            x, best = x + step, found
            if abs(step) < 1e-4:
                break
        return best

    def _drop(self, chance: float) -> float:
        """How far the log-likelihood may fall inside the interval: n/2 ln(1 + t**2 / (n - 1)).

        This is exact for the mean of normal values (the interval of Student's t as a likelihood ratio; Cox
        and Hinkley 1974, "Theoretical statistics", from memory) and tends to the usual 1.92 as n grows.
        """
        if self.n < 2:
            return 10.0
        t = student_quantile(1 - (1 - chance) / 2, self.n - 1)
        return self.n / 2 * math.log1p(t**2 / (self.n - 1))


def _held(log_cv: float) -> float:
    return max(FEWEST_SPREAD, min(MOST_SPREAD, log_cv))


def _crossing(f: Callable[[float], float], inside: float, outside: float) -> float:
    """Where `f` crosses 0 between `inside` (>= 0) and `outside`: regula falsi, the Illinois way."""
    a, b = inside, outside
    fa, fb = f(a), f(b)
    if fb >= 0:
        return b
    if fa <= 0:
        return a
    for _ in range(60):
        x = b - fb * (b - a) / (fb - fa)
        fx = f(x)
        if abs(fx) < 1e-4 or abs(b - a) < 1e-7:
            return x
        if (fx > 0) == (fb > 0):
            fa /= 2
        else:
            a, fa = b, fb
        b, fb = x, fx
    return b


def lognormal_terms(log_mean: float, log_cv: float) -> tuple[float, float]:
    """mu and sigma of the normal law of the logarithm."""
    variance = math.log1p(math.exp(2 * log_cv))
    return log_mean - variance / 2, math.sqrt(variance)


def log_normal_tail(z: float) -> float:
    """Logarithm of the chance that a standard normal value is above z."""
    if z < 25:
        return math.log(math.erfc(z / math.sqrt(2)) / 2)
    # Abramowitz and Stegun 26.2.12, first terms (from memory).
    return -z * z / 2 - math.log(z * math.sqrt(2 * math.pi)) + math.log1p(-1 / z**2 + 3 / z**4)


def log_gamma_tail(shape: float, x: float) -> float:
    """Logarithm of the regularised upper incomplete gamma function Q(shape, x).

    The power series below shape + 1 (NIST DLMF 8.7.1), the continued fraction above (8.9.2, by Lentz).
    """
    if x <= 0:
        return 0.0
    front = shape * math.log(x) - x - math.lgamma(shape)
    if x < shape + 1:
        term = total = 1.0 / shape
        for n in range(1, 10_000):
            term *= x / (shape + n)
            total += term
            if term < total * 1e-16:
                break
        return math.log1p(-min(1.0 - 1e-16, math.exp(front) * total))
    tiny = 1e-300
    b = x + 1 - shape
    c, d = 1 / tiny, 1 / b
    value = d
    for n in range(1, 10_000):
        a = -n * (n - shape)
        b += 2
        d = 1 / (a * d + b or tiny)
        c = b + a / c or tiny
        value *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return front + math.log(value)


def law_quantile(law: FittedLaw, log_mean: float, log_cv: float, chance: float) -> float:
    """The time that the law stays under with this chance, in the unit of the mean."""
    if law is FittedLaw.LOGNORMAL:
        mu, sigma = lognormal_terms(log_mean, log_cv)
        return math.exp(mu + sigma * NormalDist().inv_cdf(chance))
    shape, wanted = math.exp(-2 * log_cv), math.log1p(-chance)
    low, high = 0.0, 1.0
    while log_gamma_tail(shape, shape * high) > wanted:
        low, high = high, high * 2
    for _ in range(60):
        middle = (low + high) / 2
        if log_gamma_tail(shape, shape * middle) > wanted:
            low = middle
        else:
            high = middle
    return high * math.exp(log_mean)


def student_quantile(chance: float, freedom: int) -> float:
    """Quantile of Student's t, chance >= 0.5, by the incomplete beta function (NIST DLMF 8.17)."""
    low, high = 0.0, 2.0

    def above(t: float) -> float:
        return beta_cdf(freedom / 2, 0.5, freedom / (freedom + t * t)) / 2

    while above(high) > 1 - chance:
        low, high = high, high * 2
    for _ in range(60):
        middle = (low + high) / 2
        if above(middle) > 1 - chance:
            low = middle
        else:
            high = middle
    return high
