"""Generator one, by hand slips: somebody reads a right number and writes a wrong one on the form.

Every slip is an act of eye or hand on one number, or on two lines that change places. Its odds are a tree:
which number, which mechanism, which outcome; each outcome of a mechanism is as likely as the next. Among
slips of digits the shares keep within the ranges that N. R. Wagner, *The Laws of Cryptography: Verhoeff's
Decimal Error Detection* (2002), gives after Verhoeff's study of 1969: one wrong digit 60 to 95 % of all
errors, neighbors exchanged 10 to 20 %, a digit left out or added 10 to 20 %. How often a line, a column or
a hand count is wrong is our own guess; no source; varies by county.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import pairwise
from typing import NamedTuple

from bench.counts import clean
from bench.counts.night import Fault, Seeded, residuals
from bench.counts.site_days import SiteDay

HANDWRITING = ("17", "49", "38", "35", "06", "27", "56", "08")
"""Pairs that a tired hand writes alike; read wrongly both ways. Own guess."""
SEGMENTS = {
    "0": "abcdef",
    "1": "bc",
    "2": "abdeg",
    "3": "abcdg",
    "4": "bcfg",
    "5": "acdfg",
    "6": "acdefg",
    "7": "abc",
    "8": "abcdefg",
    "9": "abcdfg",
}
"""Bars of a seven-segment display; two digits are confused where one bar more or less makes the other."""
KEYPAD = {"7": (0, 0), "8": (1, 0), "9": (2, 0), "4": (0, 1), "5": (1, 1), "6": (2, 1)} | {
    "1": (0, 2),
    "2": (1, 2),
    "3": (2, 2),
    "0": (0, 3),
}
"""A numeric keypad as column and row; a finger lands on a key beside, above or below."""

READ_BY_EYE = 1.0
COUNTED_BY_HAND = 1.4
COPIED_BY_MACHINE = 0.15
READ_YESTERDAY = 0.1
TWO_LINES = 0.03
"""The part of all slips in which two lines change places."""

PACK = 50
COUNTED = frozenset(
    (
        "ballots_unused",
        "ballots_spoiled",
        "ballots_fled",
        "ballots_auxiliary",
        "check_ins_added",
        "ballots_issued",
        "ballots_reissued",
        "provisional_issued",
        "provisional_envelopes",
        "provisional_entries",
    )
)
"""Numbers that are counted by hand before they are written."""
ON_SCREEN = ("public_counter", "lifetime_counter", "check_ins")

MECHANISMS = (
    ("handwriting", 0.17),
    ("display", 0.12),
    ("keypad", 0.14),
    ("other digit", 0.10),
    ("exchanged digits", 0.12),
    ("digit left out", 0.07),
    ("digit twice", 0.04),
    ("line above or below", 0.06),
    ("other column", 0.04),
    ("nothing written, zero", 0.02),
    ("sheets and ballots", 0.04),
    ("counted off by a few", 0.22),
    ("pack counted off", 0.06),
)
"""Each mechanism and its share; one that cannot happen to a number leaves its share to the others."""
LINES_EXCHANGED = "lines exchanged"
OFF_BY = ((1, 0.34), (-1, 0.34), (2, 0.09), (-2, 0.09), (10, 0.04), (-10, 0.04), (3, 0.03), (-3, 0.03))


class _Outcome(NamedTuple):
    label: str
    written: int
    share: float


class HandSlips:
    """The generator; `days` are the site-days in turn, night i is of site-day i modulo their number."""

    name = "hand slips"

    def __init__(self, days: tuple[SiteDay, ...]) -> None:
        self.days = days

    def draw(self, seed: int, index: int, faults: int) -> Seeded:
        """Night `index` with so many slips on different numbers; the same seed gives the same night."""
        chance = random.Random(f"{seed}/{self.name}/{index}/{faults}")  # noqa: S311 - faults are drawn
        day = self.days[index % len(self.days)]
        truth = clean.numbers_of(day, clean.draw_day(day, chance))
        read, made = dict(truth), []
        while len(made) < faults:
            fault = _draw_slip(day, truth, chance)
            if any(read[key] != truth[key] for key, _, _ in fault.changes):
                continue
            read |= {key: written for key, _, written in fault.changes}
            made.append(fault)
        return Seeded(day=day, truth=truth, read=read, faults=tuple(made))

    def explanations(self, night: Seeded) -> tuple[tuple[Fault, float], ...]:
        """Every single slip behind this night with its odds, by the generator's own tree."""
        found: list[tuple[Fault, float]] = []
        for numbers, keys in _clean_nights(night):
            base = clean.log_odds(night.day, numbers)
            if base == -math.inf:
                continue
            for label, odds in _odds(night.day, numbers, night.read, keys):
                changes = tuple(sorted((key, numbers[key], night.read[key]) for key in keys))
                found.append((Fault(label, changes), base + math.log(odds)))
        if not found:
            return ()
        most = max(weight for _, weight in found)
        return tuple((fault, math.exp(weight - most)) for fault, weight in found)


def _clean_nights(night: Seeded) -> Iterator[tuple[dict[str, int], tuple[str, ...]]]:
    """Each night without a slip that one slip may have made this one, with the keys it would touch."""
    day, read = night.day, dict(night.read)
    wrong = residuals(day, read)
    for key in day.keys:
        ratios = {
            off / step if step else math.nan
            for off, step in zip(wrong, day.columns[key], strict=True)
            if off or step
        }
        if len(ratios) != 1:
            continue
        (ratio,) = ratios
        if ratio and ratio == int(ratio):
            yield read | {key: read[key] - int(ratio)}, (key,)
    for one, other in _neighbors(day):
        if read[one] != read[other]:
            back = read | {one: read[other], other: read[one]}
            if not any(residuals(day, back)):
                yield back, (one, other)


def _odds(
    day: SiteDay, numbers: Mapping[str, int], read: Mapping[str, int], keys: tuple[str, ...]
) -> Iterator[tuple[str, float]]:
    """The odds that a slip on `keys` makes `read` of `numbers`, by mechanism."""
    if len(keys) == 2:
        yield LINES_EXCHANGED, TWO_LINES / len(_neighbors(day))
        return
    (key,) = keys
    weights = _key_weights(day)
    mine = (1 - TWO_LINES) * weights[key] / sum(weights.values())
    outcomes = _outcomes(day, numbers, key)
    whole = sum(one.share for one in outcomes)
    for one in outcomes:
        if one.written == read[key]:
            yield one.label, mine * one.share / whole


def _draw_slip(day: SiteDay, numbers: Mapping[str, int], chance: random.Random) -> Fault:
    while True:
        if chance.random() < TWO_LINES:
            one, other = chance.choice(_neighbors(day))
            if numbers[one] != numbers[other]:
                return Fault(
                    LINES_EXCHANGED,
                    tuple(
                        sorted(((one, numbers[one], numbers[other]), (other, numbers[other], numbers[one])))
                    ),
                )
            continue
        weights = _key_weights(day)
        (key,) = chance.choices(list(weights), weights=list(weights.values()))
        outcomes = _outcomes(day, numbers, key)
        (drawn,) = chance.choices(outcomes, weights=[one.share for one in outcomes])
        return Fault(drawn.label, ((key, numbers[key], drawn.written),))


@cache
def _key_weights(day: SiteDay) -> dict[str, float]:
    """How often each number is the one that goes wrong."""
    found = {}
    for key in day.keys:
        term = key.partition("@")[0]
        if "/" in term:
            found[key] = READ_YESTERDAY
        elif term == "memory_count_close":
            found[key] = COPIED_BY_MACHINE
        else:
            found[key] = COUNTED_BY_HAND if term in COUNTED else READ_BY_EYE
    return found


@cache
def _neighbors(day: SiteDay) -> tuple[tuple[str, str], ...]:
    """Lines that stand one below the other on one sheet: the site's, or that of one device."""
    lines = [key for key in day.keys if "/" not in key.partition("@")[0] and not key.startswith("memory_")]
    return tuple(
        (one, other) for one, other in pairwise(lines) if one.partition("@")[2] == other.partition("@")[2]
    )


def _outcomes(day: SiteDay, numbers: Mapping[str, int], key: str) -> list[_Outcome]:
    """Every wrong number that may be written for `key`, with its share of all."""
    made: list[_Outcome] = []
    for label, share in MECHANISMS:
        results = [one for one in _results(label, day, numbers, key) if one[0] != numbers[key]]
        whole = sum(weight for _, weight in results)
        made += [_Outcome(label, written, share * weight / whole) for written, weight in results]
    return made


def _results(label: str, day: SiteDay, numbers: Mapping[str, int], key: str) -> Iterator[tuple[int, float]]:
    was = numbers[key]
    digits = str(was)
    term = key.partition("@")[0].rpartition("/")[2]
    if label in ("handwriting", "display", "keypad", "other digit"):
        if label == "display" and not term.startswith(ON_SCREEN):
            return
        for place, digit in enumerate(digits):
            for other in _ALIKE[label][digit]:
                yield int(digits[:place] + other + digits[place + 1 :]), 1.0
    elif label == "exchanged digits":
        for place in range(len(digits) - 1):
            yield int(digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]), 1.0
    elif label == "digit left out" and len(digits) > 1:
        for place in range(len(digits)):
            yield int(digits[:place] + digits[place + 1 :]), 1.0
    elif label == "digit twice":
        for place, digit in enumerate(digits):
            yield int(digits[:place] + digit + digits[place:]), 1.0
    elif label == "line above or below":
        for one, other in _neighbors(day):
            if key in (one, other):
                yield numbers[other if key == one else one], 1.0
    elif label == "other column":
        name, _, device = key.partition("@")
        for other in day.devices if device else ():
            if other != device and f"{name}@{other}" in numbers:
                yield numbers[f"{name}@{other}"], 1.0
        if f"{day.previous}/{key}" in numbers:
            yield numbers[f"{day.previous}/{key}"], 1.0
    elif label == "nothing written, zero":
        yield 0, 1.0
    elif label == "sheets and ballots" and day.sheets > 1:
        if was % day.sheets == 0:
            yield was // day.sheets, 1.0
        yield was * day.sheets, 1.0
    elif label == "counted off by a few" and term in COUNTED:
        for off, weight in OFF_BY:
            if was + off >= 0:
                yield was + off, weight
    elif label == "pack counted off" and term in ("ballots_unused", "ballots_received"):
        for off in (PACK, -PACK):
            if was + off >= 0:
                yield was + off, 1.0


def _alike() -> dict[str, dict[str, tuple[str, ...]]]:
    ten = "0123456789"
    hand = {one: tuple(o for o in ten if one + o in HANDWRITING or o + one in HANDWRITING) for one in ten}
    display = {
        one: tuple(o for o in ten if o != one and len(set(SEGMENTS[one]) ^ set(SEGMENTS[o])) == 1)
        for one in ten
    }
    keys = {one: tuple(o for o in ten if _apart(KEYPAD[one], KEYPAD[o]) == 1) for one in ten}
    rest = {one: tuple(o for o in ten if o != one) for one in ten}
    return {"handwriting": hand, "display": display, "keypad": keys, "other digit": rest}


def _apart(one: tuple[int, int], other: tuple[int, int]) -> int:
    return abs(one[0] - other[0]) + abs(one[1] - other[1])


_ALIKE = _alike()
