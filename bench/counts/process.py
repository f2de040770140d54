"""Generator two, by process: a day is run voter by voter and something in its process is left out.

Beside omissions (`omissions`) numbers are copied wrongly in the ways of `by_ear`. The odds of a fault are a
tree again: omission or copy, which one, where, how large; each computed from the day as it was.
"""

from __future__ import annotations

import datetime as dt
import math
import random
from collections.abc import Iterator, Mapping
from functools import cache

from bench.counts import by_ear, day_run, omissions
from bench.counts.night import Fault, JamNote, Seeded, residuals
from bench.counts.site_days import SiteDay, swapped

COPIED = 0.4
"""The part of all faults that are copying errors."""
EXCHANGED_DAYS = 0.08
"""The part of site-days on which a device is exchanged at noon."""
NOTED = 0.7
"""How often a jam that ended badly was written down."""
OF_JAMS = ("jammed, fed again, counted twice", "jammed, in the box, not counted")


_Others = Mapping[str, Mapping[str, int]]


class Process:
    """The generator; night i is of site-day i modulo their number."""

    name = "process"

    def __init__(self, days: tuple[SiteDay, ...]) -> None:
        self.days = days
        self._county: dict[tuple[dt.date, int], dict[str, dict[str, int]]] = {}

    def draw(self, seed: int, index: int, faults: int) -> Seeded:
        """Night `index` with so many faults that touch different numbers."""
        chance = random.Random(f"{self.name} {seed} {index} {faults}")  # noqa: S311 - faults are drawn
        day = self.days[index % len(self.days)]
        if chance.random() < EXCHANGED_DAYS:
            day = swapped(day)
        others = self.elsewhere(day)
        made = day_run.run_day(day, chance)
        form = day_run.form_of(made)
        read, seeded, jams = dict(form), [], list(made.jams)
        while len(seeded) < faults:
            fault = _draw_fault(day, form, others, chance)
            if any(read[key] != form[key] for key, _, _ in fault.changes):
                continue
            read |= {key: written for key, _, written in fault.changes}
            seeded.append(fault)
            if fault.label in OF_JAMS and chance.random() < NOTED:
                jams[day.devices.index(_device_of(fault))] += 1
        notes = tuple(JamNote(d, n) for d, n in zip(day.devices, jams, strict=True) if n)
        return Seeded(day=day, truth=form, read=read, faults=tuple(seeded), jams=notes, elsewhere=others)

    def elsewhere(self, day: SiteDay) -> Mapping[str, Mapping[str, int]]:
        """The numbers of the other sites of that day: one night of theirs, the same for every night here."""
        key = (day.date, day.sheets)
        if key not in self._county:
            same = {one.site: one for one in self.days if (one.date, one.sheets) == key}
            self._county[key] = {
                site: day_run.form_of(
                    day_run.run_day(one, random.Random(f"{self.name} {site} {key}"))  # noqa: S311
                )
                for site, one in sorted(same.items())
            }
        return {site: numbers for site, numbers in self._county[key].items() if site != day.site}

    def explanations(self, night: Seeded) -> tuple[tuple[Fault, float], ...]:
        """Every single fault behind this night with its odds, by the generator's own tree."""
        found: dict[Fault, float] = {}
        for changes, form in _faultless(night):
            base = day_run.log_odds(night.day, form)
            if base == -math.inf:
                continue
            for label, odds in _odds(night.day, form, changes, night.elsewhere):
                fault = _omission(label, changes)
                found[fault] = base + math.log(odds * _of_notes(fault, night))
        if not found:
            return ()
        most = max(found.values())
        return tuple((fault, math.exp(weight - most)) for fault, weight in found.items())


def _of_notes(fault: Fault, night: Seeded) -> float:
    """How much likelier the jam notes are with this fault than without any."""
    if fault.label not in OF_JAMS:
        return 1.0
    notes = sum(jam.times for jam in night.jams if jam.device == _device_of(fault))
    return 1 - NOTED + NOTED * notes / day_run.JAMS


def _device_of(fault: Fault) -> str:
    return next(key for key, _, _ in fault.changes).partition("@")[2]


def _draw_fault(day: SiteDay, form: Mapping[str, int], others: _Others, chance: random.Random) -> Fault:
    if chance.random() < COPIED:
        key = chance.choice(by_ear.copied(day))
        numbers = _copies(day, form, key, others)
        ((label, written, _),) = chance.choices(numbers, weights=[share for _, _, share in numbers])
        return Fault(label, ((key, form[key], written),))
    possible = {label: tuple(omissions.ways(label, day, form)) for label in omissions.WEIGHTS}
    possible = {label: moves for label, moves in possible.items() if moves}
    (label,) = chance.choices(list(possible), weights=[omissions.WEIGHTS[one] for one in possible])
    move = chance.choice(possible[label])
    ((size, _),) = chance.choices(move.sizes, weights=[share for _, share in move.sizes])
    return _omission(label, _changes(form, {key: step * size for key, step in move.direction}))


def _omission(label: str, changes: tuple[tuple[str, int, int], ...]) -> Fault:
    """An omission with what ought to be written: test sheets belong into the opening counter."""
    if label != omissions.OPENED_AFTER_TEST:
        return Fault(label, changes)
    device = changes[0][0].partition("@")[2]
    sheets = changes[0][2] - changes[0][1]
    opening = f"public_counter_open@{device}"
    return Fault(label, changes, meant=((opening, sheets),))


def _changes(form: Mapping[str, int], moved: Mapping[str, int]) -> tuple[tuple[str, int, int], ...]:
    return tuple((key, form[key], form[key] + by) for key, by in sorted(moved.items()))


def _copies(day: SiteDay, form: Mapping[str, int], key: str, others: _Others) -> list[tuple[str, int, float]]:
    """Every wrong number that copying may leave for `key`: way, number, share of all (they add up to 1)."""
    found = []
    for way, weight in by_ear.WAYS.items():
        numbers = [(n, share) for n, share in by_ear.heard(way, day, form, key, others) if n != form[key]]
        whole = sum(share for _, share in numbers)
        found += [(way, number, weight * share / whole) for number, share in numbers]
    whole = sum(share for _, _, share in found)
    return [(way, number, share / whole) for way, number, share in found]


def _odds(
    day: SiteDay,
    form: Mapping[str, int],
    changes: tuple[tuple[str, int, int], ...],
    others: _Others,
) -> Iterator[tuple[str, float]]:
    """The odds of each fault that makes exactly these changes on such a day, by its label."""
    if len(changes) == 1:
        ((key, _, written),) = changes
        keys = by_ear.copied(day)
        if key in keys:
            shares: dict[str, float] = {}
            for label, number, share in _copies(day, form, key, others):
                if number == written:
                    shares[label] = shares.get(label, 0.0) + share
            for label, share in shares.items():
                yield label, COPIED * share / len(keys)
    moved = {key: written - was for key, was, written in changes}
    possible = {label: tuple(omissions.ways(label, day, form)) for label in omissions.WEIGHTS}
    whole = sum(omissions.WEIGHTS[label] for label, moves in possible.items() if moves)
    for label, moves in possible.items():
        share = sum(
            part / len(moves)
            for move in moves
            for size, part in move.sizes
            if {key: step * size for key, step in move.direction} == moved
        )
        if share:
            yield label, (1 - COPIED) * omissions.WEIGHTS[label] / whole * share


def _faultless(night: Seeded) -> Iterator[tuple[tuple[tuple[str, int, int], ...], dict[str, int]]]:
    """Each set of changes that one fault may have made, with the form as it was; no set twice."""
    day, read = night.day, night.read
    wrong = residuals(day, read)
    seen = set()
    for direction, steps in _directions(day):
        ratios = {
            off / step if step else math.nan for off, step in zip(wrong, steps, strict=True) if off or step
        }
        if len(ratios) != 1:
            continue
        (ratio,) = ratios
        if not ratio or ratio != int(ratio):
            continue
        changes = tuple((key, read[key] - step * int(ratio), read[key]) for key, step in sorted(direction))
        if changes not in seen:
            seen.add(changes)
            yield changes, {**read, **{key: was for key, was, _ in changes}}


_Direction = tuple[tuple[str, int], ...]


@cache
def _directions(day: SiteDay) -> tuple[tuple[_Direction, tuple[int, ...]], ...]:
    """Every direction in which a fault can move numbers, with what it does to the rows."""
    found: list[_Direction] = [((key, 1),) for key in day.keys]
    anything = {key: 0 if key.startswith("public_counter_open") else 1_000 for key in day.keys}
    for label in omissions.WEIGHTS:
        found += [move.direction for move in omissions.ways(label, day, anything)]
    return tuple(
        (one, tuple(sum(step * day.columns[key][row] for key, step in one) for row in range(len(day.rows))))
        for one in dict.fromkeys(found)
    )
