"""What chance decides on one site-day, in plain Python: the definition that the engine must equal.

Every draw is a function of (key, day, voter, purpose) alone: the finaliser of SplitMix64 (Steele, Lea and
Flood 2014, "Fast splittable pseudorandom number generators") over a counter. So a draw depends neither on
threads, nor on order, nor on how many stations there are: two layouts meet the same voters.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.plan.lines.laws import HIGH_TAIL, LOW_TAIL

if TYPE_CHECKING:
    from collections.abc import Sequence

MASK_64 = (1 << 64) - 1
GOLDEN = 0x9E3779B97F4A7C15
MIX_1 = 0xBF58476D1CE4E5B9
MIX_2 = 0x94D049BB133111EB

VOTER_BITS = 24
PURPOSE_BITS = 3
GAP, CLASS, CHECK_IN, MARK, CAST = range(5)
"""What a word is drawn for; a voter's service times keep their purpose whatever the path.

A voter at the curb has one service, drawn with the purpose of check-in.
"""

REPAIR = (5, 6, 7)
"""How long the station is out that fails after this voter's check-in, marking, casting."""

OTHER_KEY = 0x5851F42D4C957F2D
"""The second family of purposes lies under ``key ^ OTHER_KEY``."""

JAM_TIME, PATIENCE = range(2)
"""Purposes of the second family."""

CHANCE_BITS = 24
"""The last bits of a word, which neither times nor classes read: there a service's station fails, a ballot
jams."""

SHARE_BITS = 28
"""The day's arrivals are placed on a scale of 2**28 steps between opening and close."""


def mix(counter: int) -> int:
    """SplitMix64's finaliser: a 64-bit word for a 64-bit counter."""
    z = counter & MASK_64
    z = ((z ^ (z >> 30)) * MIX_1) & MASK_64
    z = ((z ^ (z >> 27)) * MIX_2) & MASK_64
    return z ^ (z >> 31)


def word(key: int, day: int, voter: int, purpose: int) -> int:
    """The 64-bit word that chance gives to (day, voter, purpose) under `key`."""
    counter = (((day << VOTER_BITS) | voter) << PURPOSE_BITS) | purpose
    return mix(key + GOLDEN * counter)


def quantile(table: Sequence[int], bits: int) -> int:
    """The law's value for one word, in whole ms: 8 bits choose the cell, 8 the tail's, 24 the place."""
    at = bits >> 56
    if at == 0:
        at = LOW_TAIL + ((bits >> 48) & 255)
    elif at == 255:
        at = HIGH_TAIL + ((bits >> 48) & 255)
    low = int(table[at])
    part = (bits >> 24) & 0xFFFFFF
    return (low + (((int(table[at + 1]) - low) * part) >> 24) + 128) >> 8


def opening_line(voters: int, opening_line_share_ppm: int) -> int:
    """How many of the day's voters stand in line when the doors are set to open (halves round up)."""
    return (voters * opening_line_share_ppm + 500_000) // 1_000_000


def arrivals_ms(
    key: int,
    day: int,
    voters: int,
    waiting: int,
    edges_ms: Sequence[int],
    cumulative: Sequence[int],
    gaps: Sequence[int],
) -> list[int]:
    """When each voter arrives: `waiting` of them at opening, the others a Poisson process given their number.

    Given its number, a Poisson process is a sorted sample; sorted uniforms are running sums of exponential
    gaps over the sum with one gap more. `edges_ms` are the slots' edges, `cumulative` the share of the day's
    arrivals before each edge on the scale of 2**28. Source: Devroye 1986, "Non-uniform random variate
    generation", chapter V (from memory).
    """
    sums = []
    total = 0
    for voter in range(waiting, voters + 1):
        total += quantile(gaps, word(key, day, voter, GAP))
        sums.append(total)
    times = [int(edges_ms[0])] * waiting
    slot = 0
    for reached in sums[:-1]:
        place = (reached << SHARE_BITS) // total
        while place >= cumulative[slot + 1]:
            slot += 1
        before, after = int(cumulative[slot]), int(cumulative[slot + 1])
        width = int(edges_ms[slot + 1]) - int(edges_ms[slot])
        times.append(int(edges_ms[slot]) + (place - before) * width // (after - before))
    return times


def accessible_threshold(share_ppm: int) -> int:
    """A class word below this bound belongs to a voter who needs an accessible station; at most 2**62."""
    return (share_ppm << 62) // 1_000_000


def needs_accessible(key: int, day: int, voter: int, threshold: int) -> bool:
    """Whether this voter needs an accessible voting station."""
    return (word(key, day, voter, CLASS) >> 2) < threshold


def at_curb(key: int, day: int, voter: int, threshold: int) -> bool:
    """Whether this voter votes at the curb; `threshold` from the share as in `accessible_threshold`.

    Read from the other end of the word of the class, so nobody is of both.
    """
    return (word(key, day, voter, CLASS) >> 2) >= (1 << 62) - threshold


def chance_threshold(chance_ppm: int) -> int:
    """The last bits of a word below this bound come up with the given chance; at most 2**24."""
    return (chance_ppm << CHANCE_BITS) // 1_000_000


def jams(key: int, day: int, voter: int, threshold: int) -> bool:
    """Whether this voter's ballot jams: by the last bits of the word of the class."""
    return word(key, day, voter, CLASS) & ((1 << CHANCE_BITS) - 1) < threshold


def use_rate(mean_use_ms: int) -> int:
    """Failures a millisecond of use, in units of 2**-48."""
    return (1 << 48) // mean_use_ms


def fails(bits: int, service_ms: int, rate: int) -> bool:
    """Whether the station fails at the end of the service that the word `bits` gave.

    Chance 1 - exp(-x), x being use over mean use between failures, in whole numbers: x - x**2/2 + x**3/6 in
    units of 2**-24, x at most 1 (below a tenth it is right to 4 in a million). As x is never less than the
    chance, the first comparison alone settles nearly every service.
    """
    x = min((service_ms * rate) >> CHANCE_BITS, 1 << CHANCE_BITS)
    drawn = bits & ((1 << CHANCE_BITS) - 1)
    if drawn >= x:
        return False
    square = (x * x) >> CHANCE_BITS
    return drawn < x - (square >> 1) + ((square * x) >> CHANCE_BITS) // 6
