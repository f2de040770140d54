"""What sites told of their lines on a day, as it stood at a moment: each count with who, when and how."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

from pollstead.election.instants import OperatingDay
from pollstead.election.values import Value
from pollstead.reconcile.counts.terms import hour_of
from pollstead.reconcile.observed import Observation, What, short_site
from pollstead.record.event import Part
from pollstead.record.fold import Fact, Fold, Reading
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.lines import LineCounted

NUMBERS = (
    "in_line",
    "at_check_in",
    "at_mark",
    "at_cast",
    "check_ins",
    "open_check_in",
    "open_mark",
    "open_cast",
    "wait_min",
)
"""The fields of a count that are numbers, in the order in which they are asked and shown."""


class LineTold(Value, frozen=True, kw_only=True):
    """One count of a site's lines. `at_ms` counts from the beginning of the operating day, as time passed.

    `numbers` follow `NUMBERS`, None where nobody said. `giver` counted ("" where the author did).
    `corrected` says that it took the place of an earlier entry.
    """

    event: str
    site: str
    at_min: int
    at_ms: int
    numbers: tuple[int | None, ...]
    utc_ms: int
    author: str
    giver: str = ""
    by_phone: bool = False
    way: str = ""
    sheet: str = ""
    corrected: bool = False

    def number(self, name: str) -> int | None:
        """One of `NUMBERS`."""
        return self.numbers[NUMBERS.index(name)]

    def named(self) -> tuple[tuple[str, int | None], ...]:
        """Each of `NUMBERS` with its number."""
        return tuple(zip(NUMBERS, self.numbers, strict=True))


def lines_told(folded: Fold, day: OperatingDay, now_ms: int) -> dict[str, tuple[LineTold, ...]]:
    """The standing counts of a day entered by a moment, by site, in the order of their minutes.

    A correction that came later than the moment is not known yet.
    """
    found: dict[str, list[LineTold]] = defaultdict(list)
    for fact in folded.named(LineCounted.kind):
        if fact.day == day.date.isoformat():
            for reading in _standing(fact, now_ms):
                told = _told(fact, reading, day)
                found[told.site].append(told)
    return {
        site: tuple(sorted(mine, key=lambda one: (one.at_ms, one.utc_ms, one.event)))
        for site, mine in found.items()
    }


def _standing(fact: Fact, now_ms: int) -> list[Reading]:
    made = [reading for reading in fact.readings if reading.utc_ms <= now_ms]
    known = {reading.event for reading in made}
    return [one for one in made if not one.withdrawn and not known & set(one.replaced_by)]


def _told(fact: Fact, reading: Reading, day: OperatingDay) -> LineTold:
    value = reading.value
    minute = _number(value, "at_min") or 0
    return LineTold(
        event=reading.event,
        site=short_site(fact.subject),
        at_min=minute,
        at_ms=day.at_wall_clock(minute).utc_ms - day.start().utc_ms,
        numbers=tuple(_number(value, name) for name in NUMBERS),
        utc_ms=reading.utc_ms,
        author=next((p.person for p in reading.people if p.part is Part.AUTHOR), ""),
        giver=next((p.person for p in reading.people if p.part is Part.GIVER), ""),
        by_phone=bool(reading.by_phone),
        way=str(value.get("way", "")),
        sheet=reading.sheet,
        corrected=bool(reading.corrects),
    )


def _number(value: FrozenObject, name: str) -> int | None:
    found = value.get(name)
    return found if isinstance(found, int) and not isinstance(found, bool) else None


def check_ins_told(
    observations: tuple[Observation, ...], date: dt.date, now_ms: int
) -> dict[str, tuple[tuple[int, int, str], ...]]:
    """Check-ins read at set hours of a day: by site (minute, check-ins, event); only what stands."""
    found: dict[str, list[tuple[int, int, str]]] = defaultdict(list)
    for seen in observations:
        hour = hour_of(seen.detail) if seen.what is What.COUNT else None
        mine = seen.day == date.isoformat() and seen.utc_ms <= now_ms and seen.stands
        if hour is not None and mine and seen.number is not None and seen.detail.startswith("check_ins_at_"):
            found[seen.site].append((hour, seen.number, seen.event))
    return {site: tuple(sorted(mine)) for site, mine in found.items()}
