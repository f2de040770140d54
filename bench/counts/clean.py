"""A night without a fault, for the first generator: what happened is drawn, the numbers follow from it.

Each quantity has its own law, so that the odds of any night's numbers are known exactly (`log_odds`). The
shares of spoiled, provisional and curbside ballots are those that one precinct's lead published after six
elections (58, 98 and 170 of 6,595 ballots); every other figure is our own guess. Common practice, no
source; varies by county.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from typing import NamedTuple

from bench.counts.site_days import SiteDay

SPREAD = 40.0
"""Shape of the negative binomial law of voters: a standard deviation of about 16 % of the usual number."""
SPOILED = 58 / 6_595
PROVISIONAL = 98 / 6_595
CURBSIDE = 170 / 6_595
CANCELLED_MEAN = 0.6
FLED_MEAN = 0.4
BIN_USED = 0.1
BIN_MEAN = 15.0
RESUPPLIED = 0.12
RESUPPLIES = (50, 100, 150, 200)
FIRST_LIFETIME = (300, 40_000)
CENTER_STOCK = (80, 500)
"""Ballots that a vote center keeps beside those that it prints."""


class Day(NamedTuple):
    """What happened at a site: voters with a regular ballot and how each ballot ended; starting values."""

    voters: int
    curbside: int
    cancelled: int
    fled: int
    in_bin: int
    spoiled: int
    provisional: int
    cast: tuple[int, ...]
    public_open: tuple[int, ...]
    lifetime_open: tuple[int, ...]
    received: int
    resupplied: int


def draw_day(day: SiteDay, chance: random.Random) -> Day:
    """One day by the laws above; days whose stock would run out are drawn again."""
    while True:
        voters = _poisson(chance, chance.gammavariate(SPREAD, day.voters / SPREAD))
        in_bin = 0
        if chance.random() < BIN_USED:
            in_bin = 1 + _geometric(chance, 1 / BIN_MEAN)
        fled = _poisson(chance, FLED_MEAN)
        through = voters - fled - in_bin
        if through < 0:
            continue
        cast: list[int] = []
        for left in range(len(day.devices), 0, -1):
            cast.append(_binomial(chance, through - sum(cast), 1 / left))
        opened = _opened(day)
        public = tuple(chance.randint(*opened) * day.sheets for _ in day.devices)
        made = Day(
            voters=voters,
            curbside=_binomial(chance, voters, CURBSIDE),
            cancelled=_poisson(chance, CANCELLED_MEAN),
            fled=fled,
            in_bin=in_bin,
            spoiled=_binomial(chance, voters, SPOILED),
            provisional=_poisson(chance, PROVISIONAL * day.voters),
            cast=tuple(cast),
            public_open=public,
            lifetime_open=tuple(before + chance.randint(*FIRST_LIFETIME) for before in public),
            received=chance.randint(*_stock(day)),
            resupplied=chance.choice(RESUPPLIES) if chance.random() < RESUPPLIED else 0,
        )
        if unused(day, made) >= 0:
            return made


def unused(day: SiteDay, made: Day) -> int:
    """Blank ballots left at closing."""
    handed_out = made.voters + made.spoiled + made.provisional
    printed = handed_out if day.on_demand else 0
    return made.received + made.resupplied + printed - handed_out


def numbers_of(day: SiteDay, made: Day) -> dict[str, int]:
    """Every number of the closing form on such a day."""
    found = {
        "ballots_received": made.received,
        "ballots_resupplied": made.resupplied,
        "ballots_printed": made.voters + made.spoiled + made.provisional,
        "ballots_unused": unused(day, made),
        "ballots_spoiled": made.spoiled,
        "ballots_fled": made.fled,
        "ballots_auxiliary": made.in_bin,
        "check_ins": made.voters + made.cancelled - made.curbside,
        "check_ins_added": made.curbside,
        "check_ins_cancelled": made.cancelled,
        "ballots_issued": made.voters + made.spoiled,
        "ballots_reissued": made.spoiled,
        "provisional_issued": made.provisional,
        "provisional_envelopes": made.provisional,
        "provisional_entries": made.provisional,
        f"{day.previous}/ballots_unused": made.received,
    }
    for device, cast, public, lifetime in zip(
        day.devices, made.cast, made.public_open, made.lifetime_open, strict=True
    ):
        moved = cast * day.sheets
        found |= {
            f"public_counter_open@{device}": public,
            f"public_counter_close@{device}": public + moved,
            f"lifetime_counter_open@{device}": lifetime,
            f"lifetime_counter_close@{device}": lifetime + moved,
            f"report_count_close@{device}": public + moved,
            f"memory_count_close@{device}": public + moved,
            f"{day.previous}/public_counter_close@{device}": public,
            f"{day.previous}/lifetime_counter_close@{device}": lifetime,
        }
    return {key: found[key] for key in day.keys}


def log_odds(day: SiteDay, numbers: Mapping[str, int]) -> float:
    """The logarithm of the odds of these numbers on a night without a fault.

    Up to a constant of the site-day. The numbers must meet every row; minus infinity where none is drawn so.
    """
    fled, in_bin = numbers["ballots_fled"], numbers["ballots_auxiliary"]
    spoiled, provisional = numbers["ballots_spoiled"], numbers["provisional_issued"]
    voters = numbers["ballots_issued"] - spoiled
    curbside, cancelled = numbers["check_ins_added"], numbers["check_ins_cancelled"]
    through = voters - fled - in_bin
    resupplied = numbers["ballots_resupplied"]
    if min(*numbers.values(), voters, through) < 0 or spoiled > voters or curbside > voters:
        return -math.inf
    low, high = _stock(day)
    if not low <= numbers["ballots_received"] <= high:
        return -math.inf
    if resupplied and resupplied not in RESUPPLIES:
        return -math.inf
    if day.on_demand and numbers["ballots_printed"] != voters + spoiled + provisional:
        return -math.inf
    cast, opened = [], _opened(day)
    for device in day.devices:
        public = numbers[f"public_counter_open@{device}"]
        lifetime = numbers[f"lifetime_counter_open@{device}"]
        moved = numbers[f"public_counter_close@{device}"] - public
        ballots = public // day.sheets
        first = lifetime - public
        if moved % day.sheets or public % day.sheets or moved < 0:
            return -math.inf
        if not opened[0] <= ballots <= opened[1] or not FIRST_LIFETIME[0] <= first <= FIRST_LIFETIME[1]:
            return -math.inf
        cast.append(moved // day.sheets)
    found = _log_voters(voters, day.voters) + _log_poisson(fled, FLED_MEAN)
    found += (
        math.log(1 - BIN_USED)
        if not in_bin
        else (math.log(BIN_USED / BIN_MEAN) + (in_bin - 1) * math.log1p(-1 / BIN_MEAN))
    )
    found += math.lgamma(through + 1) - sum(math.lgamma(one + 1) for one in cast)
    found -= through * math.log(len(cast))
    found += _log_binomial(curbside, voters, CURBSIDE) + _log_binomial(spoiled, voters, SPOILED)
    found += _log_poisson(cancelled, CANCELLED_MEAN)
    found += _log_poisson(provisional, PROVISIONAL * day.voters)
    return found + math.log(RESUPPLIED / len(RESUPPLIES) if resupplied else 1 - RESUPPLIED)


def _opened(day: SiteDay) -> tuple[int, int]:
    """The least and the most ballots on a device's public counter at opening."""
    usual = day.day_number * day.voters // len(day.devices)
    return usual * 8 // 10, usual * 12 // 10


def _stock(day: SiteDay) -> tuple[int, int]:
    """The least and the most blank ballots at opening."""
    return CENTER_STOCK if day.on_demand else (day.voters * 115 // 100 + 20, day.voters * 155 // 100 + 60)


def _log_voters(count: int, mean: float) -> float:
    share = mean / (mean + SPREAD)
    return (
        math.lgamma(count + SPREAD)
        - math.lgamma(SPREAD)
        - math.lgamma(count + 1)
        + SPREAD * math.log1p(-share)
        + count * math.log(share)
    )


def _log_poisson(count: int, mean: float) -> float:
    return count * math.log(mean) - mean - math.lgamma(count + 1)


def _log_binomial(count: int, of: int, share: float) -> float:
    ways = math.lgamma(of + 1) - math.lgamma(count + 1) - math.lgamma(of - count + 1)
    return ways + count * math.log(share) + (of - count) * math.log1p(-share)


def _poisson(chance: random.Random, mean: float) -> int:
    """By the waiting times between events; sums of small means keep the exponential away from zero."""
    total = 0
    while mean > 400:
        total += _poisson(chance, 400)
        mean -= 400
    limit, product = math.exp(-mean), chance.random()
    while product > limit:
        total += 1
        product *= chance.random()
    return total


def _binomial(chance: random.Random, of: int, share: float) -> int:
    if share >= 1:
        return of
    return sum(chance.random() < share for _ in range(of))


def _geometric(chance: random.Random, share: float) -> int:
    """Failures before the first success."""
    return int(math.log(1 - chance.random()) / math.log1p(-share))
