"""What holds a number of a split where it is: a person, a least or most number, room, power, devices."""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING

from pollstead.election.values import Value
from pollstead.plan.lines.split_policies import ACCESSIBLE
from pollstead.plan.lines.split_tables import four, range_of, within_bounds

if TYPE_CHECKING:
    from pollstead.plan.terms.split import SplitAnswer, SplitGiven, SplitSite


class Hold(enum.StrEnum):
    """Why a number is not one higher, or not one lower."""

    FIXED = "fixed by a person"
    NO_DEVICE = "takes no counted device"
    ONE = "one is the least"
    LAW_LEAST = "least number of law or accessibility"
    LEAST = "least number of the kind of site"
    MOST = "most of the kind of site"
    BOUND = "room or power"
    DEVICES = "no device left"


class NumberHeld(Value, frozen=True, kw_only=True):
    """What holds the number of one stage (its place in `SIZED`) at one site.

    `bound`, `unit` and `most` name the bound of the room or the power, `kind` the kind of device.
    """

    site: str
    stage: int
    hold: Hold
    bound: str = ""
    unit: str = ""
    most: int = 0
    kind: str = ""


def numbers_held(given: SplitGiven, answer: SplitAnswer) -> tuple[NumberHeld, ...]:
    """What holds each number of a split, by seed key and stage; a number that nothing holds has no line.

    Least numbers come before most numbers; a device that is short holds a number only where one more of it
    would save waiting (its worth is above 0).
    """
    by_site = {one.site: one for one in answer.sites}
    dear = {price.kind for price in answer.prices if price.worth_ms > 0}
    found: list[NumberHeld] = []
    for site in sorted(given.sites, key=lambda one: one.key):
        split = by_site[site.id]
        allowed = range_of(site, given.fleet)
        for k in range(4):
            if not site.lines.path.limited()[k]:
                continue
            if site.lines.fixed.by_stage()[k] is not None:
                found.append(NumberHeld(site=site.id, stage=k, hold=Hold.FIXED))
            elif not allowed.chosen[k]:
                found.append(NumberHeld(site=site.id, stage=k, hold=Hold.NO_DEVICE))
            else:
                found += _of_chosen(given, site, split.counts, k, dear)
    return tuple(found)


def _of_chosen(
    given: SplitGiven, site: SplitSite, counts: tuple[int, int, int, int], k: int, dear: set[str]
) -> list[NumberHeld]:
    found: list[NumberHeld] = []
    floor, ceiling = site.lines.floor.by_stage()[k], site.lines.ceiling.by_stage()[k]
    if counts[k] <= max(1, floor):
        law = counts[k] <= max(1, site.law_floor[k])
        one = counts[k] == 1 and k != ACCESSIBLE
        hold = Hold.ONE if one else Hold.LAW_LEAST if law else Hold.LEAST
        found.append(NumberHeld(site=site.id, stage=k, hold=hold))
    if ceiling is not None and counts[k] >= ceiling:
        found.append(NumberHeld(site=site.id, stage=k, hold=Hold.MOST, most=ceiling))
    more = list(counts)
    more[k] += 1
    if not within_bounds(site, four(more)):
        for bound in site.bounds:
            if sum(a * b for a, b in zip(bound.each, more, strict=True)) > bound.most:
                held = NumberHeld(
                    site=site.id, stage=k, hold=Hold.BOUND, bound=bound.name, unit=bound.unit, most=bound.most
                )
                found.append(held)
    if not found:
        found += [
            NumberHeld(site=site.id, stage=k, hold=Hold.DEVICES, kind=kind.id)
            for kind, row in zip(given.fleet, site.takes, strict=True)
            if row[k] and kind.id in dear
        ]
    return found
