"""The gamma law's quantile function, for tables of service times."""

from __future__ import annotations

import math
from statistics import NormalDist

NARROW_SHAPE = 10_000.0
"""From this shape on (spread of 1 % and less) the cube of a normal score is nearer than anybody can tell."""

MOST_STEPS = 60


def gamma_share(shape: float, x: float) -> float:
    """The share of a gamma law (scale 1) below `x`: the regularized incomplete gamma function P.

    Series below shape + 1, continued fraction (modified Lentz) above; about 14 digits. Source: Abramowitz and
    Stegun 1964, 6.5.29 and 6.5.31 (from memory).
    """
    if x <= 0:
        return 0.0
    front = math.exp(shape * math.log(x) - x - math.lgamma(shape))
    if x < shape + 1:
        term = total = 1 / shape
        above = shape
        while term > total * 1e-16:
            above += 1
            term *= x / above
            total += term
        return front * total
    b = x + 1 - shape
    c = 1e300
    d = 1 / b
    h = d
    for k in range(1, 10_000):
        a = -k * (k - shape)
        b += 2
        d = 1 / (a * d + b)
        c = b + a / c
        h *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return 1 - front * h


def gamma_quantile(shape: float, u: float) -> float:
    """The value below which the share `u` (between 0 and 1) of a gamma law with scale 1 lies.

    Start: Wilson and Hilferty 1931 (a cubed normal score), or the law's first term near 0; then Newton's
    steps on the logarithm, kept between bounds.
    """
    score = NormalDist().inv_cdf(u)
    ninth = 1 / (9 * shape)
    cubed = shape * max(0.0, 1 - ninth + score * math.sqrt(ninth)) ** 3
    if shape >= NARROW_SHAPE:
        return cubed
    first_term = math.exp((math.log(u) + math.lgamma(shape + 1)) / shape)
    x = cubed if shape >= 1 and cubed > 0.1 * shape else min(first_term, max(cubed, shape))
    low, high = 0.0, math.inf
    for _ in range(MOST_STEPS):
        off = gamma_share(shape, x) - u
        low, high = (x, high) if off < 0 else (low, x)
        slope = math.exp(shape * math.log(x) - x - math.lgamma(shape))  # d share / d ln x
        new = x * math.exp(max(-2.0, min(2.0, -off / slope))) if slope > 0 else x
        if not low <= new <= high:
            new = (low + high) / 2 if high < math.inf else 2 * x
        if abs(new - x) <= 1e-12 * x:
            return new
        x = new
    return x
