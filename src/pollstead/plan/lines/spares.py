"""Spares of a kind of device: how many to hold back, and where, when failures come by chance.

Failures of many devices over a day are taken as Poisson with mean devices × hours of use / mean hours between
failures (Palm's theorem lets the number in repair be Poisson whatever the repair times are; from memory). A
spare takes a failed device's place; the day runs out of spares when more fail than are held.
"""

from __future__ import annotations

import heapq
import math
from typing import TYPE_CHECKING

from pollstead.election.values import Value, require
from pollstead.plan.terms.lines import WHOLE_PPM

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_MEAN = 500.0
"""Failures expected in a day beyond which a number is a slip of the keys."""


def failure_chance(hours: float, hours_between_failures: float) -> float:
    """The chance that a device fails within `hours` of use, 1 − exp(−hours / mean hours between failures).

    Not hours divided by the mean: that is the first term of it, and too high.
    """
    if hours < 0 or hours_between_failures <= 0:
        raise ValueError(f"hours must be >= 0 and the mean > 0, got {hours} and {hours_between_failures}")
    return -math.expm1(-hours / hours_between_failures)


def poisson_at_most(spares: int, mean: float) -> float:
    """The chance of at most `spares` failures when `mean` are expected; 0 for spares below 0."""
    _require_mean(mean)
    return math.fsum(_chances(spares, mean))


def expected_unmet(spares: int, mean: float) -> float:
    """The expected number of failures beyond `spares` (expected backorders of a stock of one for one)."""
    _require_mean(mean)
    chances = _chances(spares, mean)
    return mean - spares + math.fsum((spares - x) * chance for x, chance in enumerate(chances))


def _chances(most: int, mean: float) -> list[float]:
    found, chance = [], math.exp(-mean)
    for x in range(most + 1):
        found.append(chance)
        chance *= mean / (x + 1)
    return found


def _require_mean(mean: float) -> None:
    if not 0 <= mean <= MOST_MEAN:
        raise ValueError(f"failures expected in a day must be 0 to {MOST_MEAN:.0f}, got {mean}")


def least_spares(mean: float, risk_ppm: int) -> int:
    """The fewest spares with which the day runs out of them at most with the chance `risk_ppm`."""
    if not 0 < risk_ppm <= WHOLE_PPM:
        raise ValueError(f"risk_ppm must be 1 to 1,000,000, got {risk_ppm}")
    _require_mean(mean)
    spares, chance = 0, math.exp(-mean)
    reached, wanted = chance, 1 - risk_ppm / WHOLE_PPM
    while reached < wanted:
        spares += 1
        chance *= mean / spares
        reached += chance
        if spares > 20 * MOST_MEAN:
            raise ArithmeticError(f"no number of spares reaches {wanted}")
    return spares


def place_spares(spares: int, means: Sequence[float]) -> tuple[int, ...]:
    """Where to keep `spares`: by zone, so that the fewest failures of all zones go unmet; ties to the first.

    The next one always goes where it helps most. That is best, because each further one in a zone helps less
    (marginal allocation).
    """
    placed = [0] * len(means)
    if not means:
        return ()

    def helps(zone: int) -> float:
        return expected_unmet(placed[zone], means[zone]) - expected_unmet(placed[zone] + 1, means[zone])

    heap = [(-helps(zone), zone) for zone in range(len(means))]
    heapq.heapify(heap)
    for _ in range(spares):
        _, zone = heapq.heappop(heap)
        placed[zone] += 1
        heapq.heappush(heap, (-helps(zone), zone))
    return tuple(placed)


class FailureHours(Value, frozen=True, kw_only=True):
    """Mean hours of use between a kind's failures; `own` says that the county measured it."""

    hours_between: int
    own: bool = False

    def __post_init__(self) -> None:
        require(self.hours_between >= 1, f"hours_between must be 1 or more, got {self.hours_between}")


class ZoneSpares(Value, frozen=True, kw_only=True):
    """One zone: its devices, spares that it needs by itself, and those that go there of a given number."""

    zone: str
    devices: int
    alone: int
    placed: int


class KindSpares(Value, frozen=True, kw_only=True):
    """The spares of one kind of device.

    `by_share`: what the county's rule of a share asks for; `by_risk`: the fewest that run out with at most
    `risk_ppm`; `held`: the greater. `run_out_ppm`: the chance that `held` run out, rounded up. `by_zone` is
    the number where each zone keeps its own and the chance that any runs out is `risk_ppm`.
    """

    kind: str
    owned: int
    at_sites: int
    hours: int
    failures: FailureHours
    risk_ppm: int
    expected_ppm: int
    by_share: int
    by_risk: int
    run_out_ppm: int
    zones: tuple[ZoneSpares, ...] = ()

    @property
    def held(self) -> int:
        """Spares held back."""
        return max(self.by_share, self.by_risk)

    @property
    def by_zone(self) -> int:
        """Spares when each zone keeps its own, the chance that any runs out being the same."""
        return sum(zone.alone for zone in self.zones)


def kind_spares(
    kind: str,
    owned: int,
    at_sites: dict[str, int],
    *,
    hours: int,
    failures: FailureHours,
    share_ppm: int,
    risk_ppm: int,
) -> KindSpares:
    """The spares of a kind; `at_sites`: its devices at sites by zone; `hours` of use of each in a day."""
    devices = sum(at_sites.values())
    each = hours / failures.hours_between
    mean = devices * each
    # Apart, every zone must last: together they then run out as seldom as one store does.
    zone_risk = 1 - (1 - risk_ppm / WHOLE_PPM) ** (1 / max(1, len(at_sites)))
    zone_ppm = max(1, math.floor(zone_risk * WHOLE_PPM))
    by_share = -(-owned * share_ppm // WHOLE_PPM)
    by_risk = least_spares(mean, risk_ppm)
    held = max(by_share, by_risk)
    zones = sorted(at_sites)
    placed = place_spares(held, [at_sites[zone] * each for zone in zones])
    return KindSpares(
        kind=kind,
        owned=owned,
        at_sites=devices,
        hours=hours,
        failures=failures,
        risk_ppm=risk_ppm,
        expected_ppm=round(mean * WHOLE_PPM),
        by_share=by_share,
        by_risk=by_risk,
        run_out_ppm=math.ceil((1 - poisson_at_most(held, mean)) * WHOLE_PPM),
        zones=tuple(
            ZoneSpares(
                zone=zone,
                devices=at_sites[zone],
                alone=least_spares(at_sites[zone] * each, zone_ppm),
                placed=count,
            )
            for zone, count in zip(zones, placed, strict=True)
        ),
    )
