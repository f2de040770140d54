"""Nights of early voting: what each site brings back tonight and what stays; when a list has news."""

from __future__ import annotations

import datetime as dt

from pollstead.election.canonical import digest_of
from pollstead.election.values import Value
from pollstead.reconcile.custody.not_back import NotBackList
from pollstead.reconcile.custody.receiving import ThingLine
from pollstead.show.web.custody_view import Evening


class Tonight(Value, frozen=True, kw_only=True):
    """What one early-vote site brings back tonight, how many devices stay there, until which day."""

    site: str
    name: str
    back: tuple[ThingLine, ...]
    stays: int
    stays_until: dt.date | None


def tonight(evening: Evening) -> tuple[Tonight, ...]:
    """On a night with early voting still to come at a site: what comes back, and the devices that stay."""
    later = [date for date in evening.dates if date > evening.date]
    found = []
    for day in evening.sites:
        plan = evening.version.site(day.site)
        open_later = [date for date in later if _open_on(evening, day.site, date)]
        stay = {
            part.device
            for station in plan.stations_on(evening.date)
            for part in station.parts
            if part.device and any(station.stands_on(date) for date in open_later)
        }
        if stay:
            found.append(
                Tonight(
                    site=day.site,
                    name=day.name,
                    back=evening.lines[day.site],
                    stays=len(stay),
                    stays_until=max(open_later),
                )
            )
    return tuple(found)


def _open_on(evening: Evening, key: str, date: dt.date) -> bool:
    """Whether the site is open on a day by its hours."""
    site = next((s for s in evening.election.sites if s.id.removeprefix("site/") == key), None)
    return site is not None and any(hours.date == date for hours in site.hours)


def state_of(found: NotBackList) -> str:
    """A short digest that changes when a row does, and not because a minute has passed."""
    rows = tuple(
        (one.line.thing, one.line.state.value, str(one.overdue), str(one.last_ms), *one.fetching)
        for one in found.things
    )
    return digest_of((rows, tuple(one.site for one in found.silent)))[:16]
