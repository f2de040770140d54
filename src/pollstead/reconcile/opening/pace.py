"""Readings of a site whose times look filled in or copied: too fast, at equal intervals, in one minute.

Advice only: nobody is named, nothing follows from it, and a day's differences are the same with and without
it. A form is sent whole, so the time of one entry is that since the entry before, shared over its lines. What
was typed from paper or from the telephone is left out: its pace is that of typing. The limits are our own:
common practice, no source; varies by county.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterable
from typing import Final

from pollstead.election.instants import format_clock
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.observed import Observation, What

TOGETHER_MS: Final = 1_500
"""Entries of one person so close together were sent at once."""
BREAK_MS: Final = 600_000
SHORTEST_MS: Final = 2_000
"""A line is hardly read and typed in less."""
FEW_LINES: Final = 10
"""Fewer lines sent at once say nothing about a pace."""
ALIKE_MS: Final = 500
IN_A_ROW: Final = 8
"""So many intervals one after another; at a person's own pace such a stretch hardly ever comes by chance."""
AT_ONE_MINUTE: Final = 5
"""So many devices are hardly read in one minute."""

READ: Final = (What.SERIAL, What.SEAL, What.CLOCK, What.COUNT, What.REPORT)


class _Sent(Value, frozen=True, kw_only=True):
    """The lines that one person sent at once."""

    person: str
    first_ms: int
    last_ms: int
    lines: int


def advice_on_readings(seen: Iterable[Observation]) -> tuple[Message, ...]:
    """What to ask about the readings of one site and day; () where nothing stands out."""
    read = [o for o in seen if o.what in READ and not o.corrects and o.entered_by]
    typed: dict[str, list[Observation]] = defaultdict(list)
    for one in read:
        if not one.sheet and not one.by_phone:
            typed[one.recorder].append(one)
    found: list[Message] = []
    for mine in typed.values():
        sent = _sent(mine)
        found += _too_fast(sent)
        found += _alike(sent)
    return (*found, *_one_minute(read))


def _sent(seen: list[Observation]) -> list[_Sent]:
    sent: list[_Sent] = []
    for one in sorted(seen, key=lambda o: (o.utc_ms, o.event)):
        person = one.entered_by[0]
        last = sent[-1] if sent else None
        if last is not None and last.person == person and one.utc_ms - last.last_ms <= TOGETHER_MS:
            sent[-1] = _Sent(person=person, first_ms=last.first_ms, last_ms=one.utc_ms, lines=last.lines + 1)
        else:
            sent.append(_Sent(person=person, first_ms=one.utc_ms, last_ms=one.utc_ms, lines=1))
    return sent


def _too_fast(sent: list[_Sent]) -> list[Message]:
    """Many lines so soon after the entry before that they can hardly have been read meanwhile."""
    return [
        message(
            N_(
                "advice: {lines} lines were entered {seconds} s after the entry before. Ask how they were "
                "read: from the thing itself, by both, each alone?"
            ),
            lines=later.lines,
            seconds=(later.first_ms - before.last_ms) // 1000,
        )
        for before, later in itertools.pairwise(sent)
        if later.lines >= FEW_LINES and later.first_ms - before.last_ms < SHORTEST_MS * later.lines
    ]


def _alike(sent: list[_Sent]) -> list[Message]:
    """Entries of one person one after another at equal intervals."""
    times: dict[str, list[int]] = defaultdict(list)
    for one in sent:
        times[one.person].append(one.first_ms)
    longest = 0
    for mine in times.values():
        gaps = [later - before for before, later in itertools.pairwise(mine)]
        length = 0
        for number, gap in enumerate(gaps):
            alike = number > 0 and abs(gap - gaps[number - 1]) <= ALIKE_MS
            length = 0 if gap > BREAK_MS else length + 1 if alike and length else 1
            longest = max(longest, length)
    if longest < IN_A_ROW:
        return []
    return [
        message(
            N_(
                "advice: {entries} entries came at equal intervals. Ask when they were read and written down."
            ),
            entries=longest + 1,
        )
    ]


def _one_minute(read: list[Observation]) -> list[Message]:
    """Many devices whose clocks one person read at the same minute of the reference clock."""
    minutes: dict[tuple[str, int], set[str]] = defaultdict(set)
    for one in read:
        if one.what is What.CLOCK and one.stands and one.other_number is not None:
            minutes[one.entered_by[0], one.other_number].add(one.subject)
    counts: dict[int, int] = {}
    for (_, minute), devices in minutes.items():
        if len(devices) >= AT_ONE_MINUTE:
            counts[minute] = max(counts.get(minute, 0), len(devices))
    return [
        message(
            N_(
                "advice: the clocks of {devices} devices were written down for one minute, {at}. "
                "Ask when each was read."
            ),
            devices=devices,
            at=format_clock(minute),
        )
        for minute, devices in sorted(counts.items())
    ]
