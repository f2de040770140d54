"""What one person read of a line that a second one has still to read: nobody else may see it yet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable

from pollstead.election.county import Election
from pollstead.reconcile.custody.life import Entry
from pollstead.reconcile.day import SiteDay
from pollstead.reconcile.paper.progress import waiting_keyings
from pollstead.show.web.readings import closing_lines, opening_lines


def waiting_in(day: SiteDay, election: Election, me: str = "") -> frozenset[str]:
    """The events of a site and day on lines that somebody has still to read, those of `me` left out.

    Whoever asks without a name (`me` is "") has entered none of them.
    """
    found: set[str] = set()
    for line in (*opening_lines(day, election), *closing_lines(day, election)):
        if not line.complete:
            found |= {o.event for o in line.answers if me not in o.entered_by}
    return frozenset(found | {o.event for o in waiting_keyings(day) if me not in o.entered_by})


def waiting_among(
    entries: Iterable[Entry],
    day_of: Callable[[str, dt.date], SiteDay | None],
    election: Election,
    me: str = "",
) -> frozenset[str]:
    """The events of other people among `entries` that wait; `day_of` gives a site's day, None for none."""
    found: set[str] = set()
    for site, date in _site_days(entries):
        if (report := day_of(site, date)) is not None:
            found |= waiting_in(report, election, me)
    return frozenset(found)


def dates_among(entries: Iterable[Entry]) -> tuple[dt.date, ...]:
    """The operating days that entries of sites belong to."""
    return tuple(sorted({date for _, date in _site_days(entries)}))


def _site_days(entries: Iterable[Entry]) -> list[tuple[str, dt.date]]:
    found = set()
    for entry in entries:
        try:
            found.add((entry.site, dt.date.fromisoformat(entry.day)))
        except ValueError:
            continue  # What belongs to no operating day stands on no line.
    return sorted(one for one in found if one[0])
