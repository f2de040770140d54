"""A day run voter by voter, for the second generator: each voter is an event without a name.

Arrivals come hour by hour; a voter is checked in at the desk or at the curb, may spoil a ballot and get
another, may leave, drops the ballot into the bin while no device works, or feeds it to a device; jams are
fed again; one device may be exchanged at noon. What is counted along the way is what the closing form asks
for. All rates are our own guess (no source; varies by county) and are not those of the first generator.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import dataclass, field

from bench.counts.site_days import SiteDay

STEADINESS = 25.0
"""Shape of the gamma law of a day's rate: about 20 % up or down."""
HOURS = (9, 7, 6, 7, 8, 9, 7, 6, 7, 9, 11, 9, 5)
"""Arrivals by hour, in hundredths of a day."""
NOON = 5
AT_CURB = 0.03
SPOILS = 0.012
LEAVES = 0.0007
WRONG_NAME = 0.0012
"""A check-in of a wrong name that is cancelled before the right one."""
NOT_ON_LIST = 0.02
NO_DEVICE = 0.06
BIN_MEAN = 20.0
JAMS = 0.6
"""Jams of a device in a day that are written down."""
FIRST_COUNTER = (1_000, 90_000)
PACK = 25
RESUPPLY = 0.1
RESUPPLIES = (2, 4, 8)
CENTER_PACKS = (4, 30)


@dataclass
class Day:
    """The tallies that grow as the day runs."""

    day: SiteDay
    voters: int = 0
    at_curb: int = 0
    cancelled: int = 0
    spoiled: int = 0
    left: int = 0
    in_bin: int = 0
    provisional: int = 0
    cast: list[int] = field(default_factory=list)
    public_open: list[int] = field(default_factory=list)
    lifetime_open: list[int] = field(default_factory=list)
    received: int = 0
    resupplied: int = 0
    jams: list[int] = field(default_factory=list)

    def handed_out(self) -> int:
        """Ballots that left the stock."""
        return self.voters + self.spoiled + self.provisional

    def unused(self) -> int:
        """Ballots left in the stock, with those printed."""
        printed = self.handed_out() if self.day.on_demand else 0
        return self.received + self.resupplied + printed - self.handed_out()


def run_day(day: SiteDay, chance: random.Random) -> Day:
    """One day from opening to closing; a day whose stock runs out or whose bin overtakes it is run again."""
    while True:
        made = _begin(day, chance)
        rate = chance.gammavariate(STEADINESS, 1 / STEADINESS)
        # A day with an exchange has no other trouble, so that the odds of its devices stay simple.
        trouble = not exchanged(day) and chance.random() < NO_DEVICE
        waiting_for_bin = 1 + int(chance.expovariate(-math.log1p(-1 / BIN_MEAN))) if trouble else 0
        into_bin = waiting_for_bin
        for hour, share in enumerate(HOURS):
            for _ in range(_arrivals(chance, rate * day.voters * share / sum(HOURS))):
                if _voter(made, chance, hour, to_bin=waiting_for_bin > 0):
                    waiting_for_bin -= 1
        made.provisional = _arrivals(chance, NOT_ON_LIST * day.voters)
        if made.in_bin == into_bin and made.unused() >= 0:
            return made


def _begin(day: SiteDay, chance: random.Random) -> Day:
    made = Day(day=day)
    low, high = opened(day)
    for device in day.devices:
        before = 0 if device.startswith("device/spare/") else chance.randint(low, high) * day.sheets
        made.public_open.append(before)
        made.lifetime_open.append(before + chance.randint(*FIRST_COUNTER))
        made.cast.append(0)
        made.jams.append(_arrivals(chance, JAMS))
    made.received = PACK * chance.randint(*packs(day))
    if chance.random() < RESUPPLY:
        made.resupplied = PACK * chance.choice(RESUPPLIES)
    return made


def _voter(made: Day, chance: random.Random, hour: int, *, to_bin: bool) -> bool:
    """One voter from the door to the exit; says whether the ballot went into the bin."""
    made.voters += 1
    if chance.random() < AT_CURB:
        made.at_curb += 1
    if chance.random() < WRONG_NAME:
        made.cancelled += 1
    while chance.random() < SPOILS:
        made.spoiled += 1
    if chance.random() < LEAVES:
        made.left += 1
        return False
    if to_bin:
        made.in_bin += 1
        return True
    made.cast[_device(made.day, chance, hour)] += 1
    return False


def _device(day: SiteDay, chance: random.Random, hour: int) -> int:
    """Which device a ballot is fed to; an exchanged one works till noon and its spare from then on."""
    if not exchanged(day):
        return int(chance.random() * len(day.devices))
    place = int(chance.random() * (len(day.devices) - 1))
    return place + (place == len(day.devices) - 2 and hour >= NOON)


def exchanged(day: SiteDay) -> bool:
    """Whether a device was exchanged at noon; its spare is then the last."""
    return day.devices[-1].startswith("device/spare/")


def device_shares(day: SiteDay) -> tuple[float, ...]:
    """The part of all fed ballots that each device gets."""
    if not exchanged(day):
        return (1 / len(day.devices),) * len(day.devices)
    each = 1 / (len(day.devices) - 1)
    morning = sum(HOURS[:NOON]) / sum(HOURS)
    return (*((each,) * (len(day.devices) - 2)), each * morning, each * (1 - morning))


def opened(day: SiteDay) -> tuple[int, int]:
    """The least and the most ballots on a carried public counter at opening."""
    usual = day.day_number * day.voters / len(day.devices)
    return int(usual * 0.7), int(usual * 1.3)


def packs(day: SiteDay) -> tuple[int, int]:
    """The least and the most packs of blank ballots at opening."""
    return (
        CENTER_PACKS
        if day.on_demand
        else (day.voters * 120 // 100 // PACK + 1, day.voters * 170 // 2_500 + 4)
    )


def form_of(made: Day) -> dict[str, int]:
    """The closing form of the day, filled in without a fault."""
    day = made.day
    found = {
        "ballots_received": made.received,
        "ballots_resupplied": made.resupplied,
        "ballots_printed": made.handed_out(),
        "ballots_unused": made.unused(),
        "ballots_spoiled": made.spoiled,
        "ballots_fled": made.left,
        "ballots_auxiliary": made.in_bin,
        "check_ins": made.voters - made.at_curb + made.cancelled,
        "check_ins_added": made.at_curb,
        "check_ins_cancelled": made.cancelled,
        "ballots_issued": made.voters + made.spoiled,
        "ballots_reissued": made.spoiled,
        f"{day.previous}/ballots_unused": made.received,
    }
    for term in ("provisional_issued", "provisional_envelopes", "provisional_entries"):
        found[term] = made.provisional
    for place, device in enumerate(day.devices):
        public, lifetime = made.public_open[place], made.lifetime_open[place]
        fed = made.cast[place] * day.sheets
        for term in ("public_counter_close", "report_count_close", "memory_count_close"):
            found[f"{term}@{device}"] = public + fed
        found[f"public_counter_open@{device}"] = found[f"{day.previous}/public_counter_close@{device}"] = (
            public
        )
        found[f"lifetime_counter_open@{device}"] = lifetime
        found[f"{day.previous}/lifetime_counter_close@{device}"] = lifetime
        found[f"lifetime_counter_close@{device}"] = lifetime + fed
    return {key: found[key] for key in day.keys}


def log_odds(day: SiteDay, form: Mapping[str, int]) -> float:
    """The logarithm of the odds of a form without a fault, up to a constant of the site-day.

    The form must meet every row; minus infinity where no day can end so.
    """
    spoiled, left, in_bin = form["ballots_spoiled"], form["ballots_fled"], form["ballots_auxiliary"]
    voters = form["ballots_issued"] - spoiled
    at_curb, cancelled = form["check_ins_added"], form["check_ins_cancelled"]
    provisional, resupplied = form["provisional_issued"], form["ballots_resupplied"]
    fed = voters - left - in_bin
    low, high = packs(day)
    if (
        min(*form.values(), voters, fed) < 0
        or max(at_curb, cancelled) > voters
        or form["ballots_received"] % PACK
        or not low <= form["ballots_received"] // PACK <= high
        or (resupplied and resupplied not in {PACK * n for n in RESUPPLIES})
        or (day.on_demand and form["ballots_printed"] != voters + spoiled + provisional)
    ):
        return -math.inf
    found = math.lgamma(voters + STEADINESS) - math.lgamma(voters + 1)
    found += voters * math.log(day.voters / (day.voters + STEADINESS))
    found += _some(at_curb, voters, AT_CURB) + _some(cancelled, voters, WRONG_NAME)
    found += math.lgamma(voters + spoiled) - math.lgamma(max(voters, 1)) - math.lgamma(spoiled + 1)
    found += spoiled * math.log(SPOILS) + voters * math.log1p(-SPOILS)
    found += _some(left, voters, LEAVES)
    found += provisional * math.log(NOT_ON_LIST * day.voters) - math.lgamma(provisional + 1)
    if exchanged(day):
        found += -math.inf if in_bin else 0.0
    elif in_bin:
        found += math.log(NO_DEVICE / BIN_MEAN) + (in_bin - 1) * math.log1p(-1 / BIN_MEAN)
    else:
        found += math.log(1 - NO_DEVICE)
    found += math.log(RESUPPLY / len(RESUPPLIES) if resupplied else 1 - RESUPPLY)
    found += math.lgamma(fed + 1)
    least, most = opened(day)
    for device, share in zip(day.devices, device_shares(day), strict=True):
        public = form[f"public_counter_open@{device}"]
        moved = form[f"public_counter_close@{device}"] - public
        first = form[f"lifetime_counter_open@{device}"] - public
        spare = device.startswith("device/spare/")
        begun = public == 0 if spare else least <= public // day.sheets <= most
        if moved < 0 or moved % day.sheets or public % day.sheets or not begun:
            return -math.inf
        if not FIRST_COUNTER[0] <= first <= FIRST_COUNTER[1]:
            return -math.inf
        found += moved // day.sheets * math.log(share) - math.lgamma(moved // day.sheets + 1)
    return found


def _some(count: int, of: int, share: float) -> float:
    ways = math.lgamma(of + 1) - math.lgamma(count + 1) - math.lgamma(of - count + 1)
    return ways + count * math.log(share) + (of - count) * math.log1p(-share)


def _arrivals(chance: random.Random, mean: float) -> int:
    """A Poisson number, from gaps between arrivals."""
    count, until = 0, mean
    while (until := until - chance.expovariate(1.0)) > 0:
        count += 1
    return count
