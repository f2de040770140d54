"""What the central place and the canvass do after the doors close, with planted slips; all of it invented.

Every number is what really happened at the sites (the play's own counts), added up here by hand; no balance
equation is looked at. `README.md` lists what is planted.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable
from typing import Any

from pollstead.record.event import Part, Person
from pollstead.record.kinds import canvass
from pollstead.record.kinds.body import Body

READER, SECOND_READER = "P005", "P006"
TYPIST, SECOND_TYPIST = "P004", "P007"
UPLOADS_FROM_MIN = 20 * 60 + 25
CANVASS_DAYS_AFTER = 6

READ_TWICE = "S04"
"""The first machine of this site is read at 20:25 and again near midnight."""
NEVER_READ = "S14"
"""The last machine of this site lies in its case, and nobody reads its memory device."""
DIGITS_EXCHANGED = "S22"
"""The canvass has the check-ins of this site with two digits exchanged."""

Write = Callable[[Body, str, str, tuple[Person, ...]], None]
"""Writes one event: body, subject, site, people."""


def memory_devices_read(
    days: Iterable[Any], write: Write, someone: Callable[..., Person]
) -> dict[tuple[str, str], int]:
    """Each machine's memory device is read once, by two people; gives what the place has of a site and mode."""
    pair = (someone(READER), someone(SECOND_READER, Part.SECOND))
    taken: dict[tuple[str, str], int] = defaultdict(int)
    again = []
    for day in days:
        place = (day.plan.site, _mode(day))
        machines = _counting(day)
        for number, (device, ids) in enumerate(machines, start=1):
            count = day.counts[f"memory_count_close@{device}"]
            if not day.packs(ids[0]) or (place[0] == NEVER_READ and number == len(machines)):
                continue
            write(canvass.MemoryUploaded(count=count), f"memory/{ids[0]}", f"site/{place[0]}", pair)
            taken[place] += count
            if place[0] == READ_TWICE and number == 1:
                again.append((count, ids[0], place))
    for count, memory, place in again:
        write(canvass.MemoryUploaded(count=count), f"memory/{memory}", f"site/{place[0]}", pair)
        taken[place] += count
    return dict(taken)


def canvass_typed(
    days: Iterable[Any],
    uploaded: dict[tuple[str, str], int],
    lacking: frozenset[str],
    write: Write,
    someone: Callable[..., Person],
) -> None:
    """Ballots cast, voters checked in and envelopes of each site and mode, typed by two people.

    The ballots are what the central place has of the memory devices; a site in `lacking` waits for one.
    """
    pair = (someone(TYPIST), someone(SECOND_TYPIST, Part.SECOND))
    voters: dict[tuple[str, str], int] = defaultdict(int)
    envelopes: dict[tuple[str, str], int] = defaultdict(int)
    for day in days:
        place, counts = (day.plan.site, _mode(day)), day.counts
        voters[place] += counts["check_ins"] - counts["check_ins_cancelled"]
        voters[place] += counts["check_ins_added"]
        envelopes[place] += counts["provisional_envelopes"]
    for (site, mode), number in voters.items():
        told = {"check_ins": number, "provisional_envelopes": envelopes[(site, mode)]}
        if site == DIGITS_EXCHANGED:
            told["check_ins"] = _exchanged(number)
        if site not in lacking:
            told["ballots_cast"] = uploaded[(site, mode)]
        for quantity, total in told.items():
            body = canvass.CanvassTotal(mode=mode, quantity=quantity, source="report", total=total)
            write(body, f"site/{site}", f"site/{site}", pair)
        body = canvass.ReceivingTotal(
            mode=mode, quantity="provisional_envelopes", source="hand", total=envelopes[(site, mode)]
        )
        write(body, f"site/{site}", f"site/{site}", pair)


def lacking_one(days: Iterable[Any]) -> frozenset[str]:
    """The sites of which a memory device has not come back."""
    return frozenset(day.plan.site for day in days for _, ids in _counting(day) if not day.packs(ids[0]))


def _counting(day: Any) -> list[tuple[str, tuple[str, ...]]]:
    """The machines whose memory devices leave them on this day and hold a count, with their ids."""
    return [
        (device, ids)
        for device, travels, ids in day._memory()
        if travels and f"memory_count_close@{device}" in day.counts
    ]


def _mode(day: Any) -> str:
    return "election_day" if day.date == day.election.election_day else "early"


def _exchanged(number: int) -> int:
    """The number with its last two digits exchanged; they must differ for the slip to show."""
    text = str(number)
    if text[-1] == text[-2]:
        raise ValueError(f"the planted slip needs two different last digits, got {text}; change its site")
    return int(text[:-2] + text[-1] + text[-2])


def election_night(election_day: dt.date) -> tuple[dt.date, int]:
    """When the first memory device is read."""
    return election_day, UPLOADS_FROM_MIN


def canvass_day(election_day: dt.date) -> tuple[dt.date, int]:
    """When the totals are typed."""
    return election_day + dt.timedelta(days=CANVASS_DAYS_AFTER), 9 * 60 + 30
