"""When an item runs out at a site by its own use so far: a minute with a range, worked out in the open."""

from __future__ import annotations

import itertools
import math

from pollstead.election.values import Value

NINETY = 1.6448536269514722
"""The standard normal's 95 % point: two limits with it hold nine times of ten."""


class Level(Value, frozen=True, kw_only=True):
    """What was left at a minute of the operating day, and what had come in since the telling before."""

    at_min: int
    left: int
    came: int = 0


class RunOut(Value, frozen=True, kw_only=True):
    """The forecast from the last telling. Minutes are of the operating day; None where no end is in sight.

    `used` is what went in `over_min` minutes. `early_min` and `late_min` are the ends of a range that would
    hold nine times of ten if use went on as it did.
    """

    at_min: int
    left: int
    used: int
    over_min: int
    middle_min: int | None
    early_min: int | None
    late_min: int | None


def poisson_limits(count: int) -> tuple[float, float]:
    """Limits for the mean behind a count, nine times of ten, by Byar's approximation.

    Breslow and Day, Statistical Methods in Cancer Research II (IARC, 1987), equations 2.9 and 2.10: close to
    the exact limits from the chi-square distribution for every count.
    """
    if count < 0:
        raise ValueError(f"a count must be >= 0, got {count}")
    high = count + 1
    upper = high * (1 - 1 / (9 * high) + NINETY / (3 * math.sqrt(high))) ** 3
    if count == 0:
        return 0.0, upper
    lower = count * (1 - 1 / (9 * count) - NINETY / (3 * math.sqrt(count))) ** 3
    return max(0.0, lower), upper


def run_out(levels: tuple[Level, ...]) -> RunOut | None:
    """The forecast from tellings in order of time; None with fewer than two, or no minute between them.

    Stretches in which more was left than before, though nothing came, tell nothing of the use and are left
    out; what came in between two tellings counts as used when it is gone.
    """
    used, over = 0, 0
    for before, after in itertools.pairwise(levels):
        gone = before.left + after.came - after.left
        if after.at_min > before.at_min and gone >= 0:
            used, over = used + gone, over + after.at_min - before.at_min
    if over == 0:
        return None
    last = levels[-1]
    low, high = poisson_limits(used)

    def minute(rate_count: float) -> int | None:
        return None if rate_count <= 0 else last.at_min + math.floor(last.left * over / rate_count)

    return RunOut(
        at_min=last.at_min,
        left=last.left,
        used=used,
        over_min=over,
        middle_min=minute(used),
        early_min=minute(high) if used else None,
        late_min=minute(low),
    )


def backwards(levels: tuple[Level, ...]) -> tuple[Level, ...]:
    """The tellings at which more was left than before, though not so much had come."""
    return tuple(
        after for before, after in itertools.pairwise(levels) if after.left > before.left + after.came
    )
