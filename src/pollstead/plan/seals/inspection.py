"""How many seals to look at a second time so that one of a few that were swapped is likely among them.

Seals drawn by lot without putting back: how many swapped ones are among them is hypergeometric. Whole
numbers decide, so no rounding can change a count. Every seal is looked at at opening; this is advice for
the second look after it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Final

from pollstead.election.station_type import NumberPolicy
from pollstead.election.values import Value, require
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import ExpectedSeal, PlanVersion

CHANCE_PERCENT: Final = 95
"""How likely at least one swapped seal is to be drawn. Common practice, no source; varies by county."""

ONE_IN: Final = (100, 200, 500)
"""Swapped seals that the advice speaks of, as one in so many. Our own setting."""


class SecondLook(Value, frozen=True, kw_only=True):
    """If `swapped` of `seals` were swapped, `looks` drawn by lot hold at least one of them, so likely."""

    seals: int
    swapped: int
    looks: int
    percent: int


def look_words(look: SecondLook) -> Message:
    """The advice in one sentence."""
    return message(
        N_(
            "advice: if {swapped} of the {seals} seals on closures were swapped, a second look at {looks} "
            "of them, drawn by lot, meets at least one with a chance of {percent} in 100."
        ),
        swapped=look.swapped,
        seals=look.seals,
        looks=look.looks,
        percent=look.percent,
    )


def draws(seals: int, swapped: int, looks: int) -> tuple[int, int]:
    """Chance that `looks` seals drawn by lot hold no swapped one, as two whole numbers to divide.

    C(seals − swapped, looks) / C(seals, looks), written over the smaller of the two factors.
    """
    require(0 <= swapped <= seals, f"swapped must be 0 to {seals}, got {swapped}")
    require(0 <= looks <= seals, f"looks must be 0 to {seals}, got {looks}")
    none = every = 1
    for number in range(swapped):
        none *= seals - looks - number
        every *= seals - number
        if not none:
            # More looks than seals that were not swapped: one is always among them.
            return 0, 1
    return none, every


def looks_for(seals: int, swapped: int, percent: int = CHANCE_PERCENT) -> int:
    """The fewest looks that hold at least one of `swapped` seals with a chance of `percent` of 100."""
    require(1 <= percent <= 100, f"percent must be 1 to 100, got {percent}")
    require(1 <= swapped <= seals, f"swapped must be 1 to {seals}, got {swapped}")

    def enough(looks: int) -> bool:
        none, every = draws(seals, swapped, looks)
        return 100 * none <= (100 - percent) * every

    low, high = 1, seals
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle + 1, high)
    return low


def second_looks(seals: int, percent: int = CHANCE_PERCENT) -> tuple[SecondLook, ...]:
    """The advice for a county with so many seals on closures: one line for each share; () without seals."""
    counts = dict.fromkeys(-(-seals // share) for share in ONE_IN) if seals else ()
    return tuple(
        SecondLook(seals=seals, swapped=n, looks=looks_for(seals, n, percent), percent=percent)
        for n in counts
    )


class SealPlace(Value, frozen=True, kw_only=True):
    """One seal to look at: where it is, never its number; `station` is the device of a spare."""

    site: str
    station: str
    closure: str
    name: str
    position: int

    @property
    def key(self) -> str:
        """What the lot is drawn on: the closure and the position on it."""
        return f"{self.closure}/{self.position}"


def seal_places(plan: PlanVersion) -> tuple[SealPlace, ...]:
    """Every seal with a recorded number of the plan's stations and spares."""
    held: list[tuple[str, str, ExpectedSeal]] = [
        (site.site, station.id, seal)
        for site in plan.sites
        for station in site.stations
        for seal in station.seals
    ]
    held += [("", spare.device, seal) for spare in plan.spares for seal in spare.seals]
    places = {
        place.key: place
        for site, station, seal in held
        if seal.number_policy is NumberPolicy.RECORDED and seal.number
        for place in (
            SealPlace(
                site=site, station=station, closure=seal.closure, name=seal.name, position=seal.position
            ),
        )
    }
    return tuple(places.values())


def drawn(places: Iterable[SealPlace], looks: int, lot: str) -> tuple[SealPlace, ...]:
    """The first `looks` places in the order that the lot fixes, so that anybody can draw again.

    The order is that of SHA-256 over lot, newline and key. `lot` are digits thrown in public after the seals
    are on; more looks add places and take none away.
    """
    ordered = sorted(places, key=lambda p: hashlib.sha256(f"{lot}\n{p.key}".encode()).digest())
    require(0 <= looks <= len(ordered), f"looks must be 0 to {len(ordered)}, got {looks}")
    return tuple(ordered[:looks])
