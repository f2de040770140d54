"""Contradictions between opening hours, election day and the clock; the same contract as `contradictions`."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Callable, Iterator
from itertools import pairwise

from pollstead.election.county import Site
from pollstead.election.instants import format_clock, zone
from pollstead.election.notice import Place
from pollstead.election.words import N_, message
from pollstead.intake.clashes import drops, grouped
from pollstead.intake.notices import contradicts
from pollstead.intake.records import nearest
from pollstead.intake.tables import EVERY_SITE, HoursRow
from pollstead.intake.taken import EVERY_SITE_NOT_PLANNED, Clash, Drop, Taken

SHORTEST_DAY_MIN = 30
"""Shorter hours are a slip of the pen, and no number of stations serves a day's voters in a minute
(common practice, no source; varies by county)."""


def _hours(
    rule: str, number: int, row: HoursRow, column: str, text: str, found: str, wanted: str, remedy: str
) -> Clash:
    every = row.site == EVERY_SITE
    subject = "hours/*" if every else f"site/{row.site}"
    return Clash(
        notice=contradicts(
            rule,
            subject,
            Place(file="hours.csv", row=number, column=column),
            message(text, row=number, site=row.site, date=row.date.isoformat(), found=found),
            found=found,
            wanted=wanted,
            remedy=message(remedy),
            day=row.date.isoformat(),
        ),
        drops=(Drop(table="hours", row=number),),
        sites=EVERY_SITE_NOT_PLANNED if every else (row.site,),
    )


def hours_in_themselves(taken: Taken) -> Iterator[Clash]:
    """Closing before opening or at once; a site not listed; a wall time that the clock change touches."""
    sites = tuple(s.id for _, s in taken.of(Site))
    for number, row in taken.of(HoursRow):
        span = f"{format_clock(row.opens_min)} to {format_clock(row.closes_min)}"
        if row.closes_min <= row.opens_min:
            yield _hours(
                "closing-before-opening",
                number,
                row,
                "closes",
                N_("Row {row} of hours.csv closes before it opens: {found}"),
                span,
                "opening before closing",
                N_("Correct the times; past midnight is written 24:40."),
            )
        elif row.closes_min - row.opens_min < SHORTEST_DAY_MIN:
            yield _hours(
                "hours-too-short",
                number,
                row,
                "closes",
                N_("Row {row} of hours.csv has the site open for less than half an hour: {found}"),
                span,
                "30 minutes or more",
                N_("Correct the times; where voters have so short a time, plan that site by hand."),
            )
        if row.site != EVERY_SITE and sites and row.site not in sites:
            yield _hours(
                "hours-site-unknown",
                number,
                row,
                "site",
                N_("Row {row} of hours.csv is for site {site}, which sites.csv does not list"),
                row.site,
                nearest(row.site, sites) or "a site id from sites.csv",
                N_("Correct the site."),
            )
        if taken.county is None:
            continue
        for column, minute in (("opens", row.opens_min), ("closes", row.closes_min)):
            state = clock_state(taken.county.zone, row.date, minute)
            if state:
                yield _hours(
                    f"wall-time-{state}",
                    number,
                    row,
                    column,
                    N_("Row {row} of hours.csv: the clock change skips or repeats {found} on {date}"),
                    format_clock(minute),
                    "a time that the wall clock shows once",
                    N_("Take a time outside the hour in which the clocks change."),
                )


def clock_state(zone_name: str, date: dt.date, minute: int) -> str:
    """``skipped`` or ``doubled`` where the change of clocks touches this wall time, else ""."""
    wall_zone: zoneinfo.ZoneInfo = zone(zone_name)
    wall = dt.datetime.combine(
        date + dt.timedelta(days=minute // 1440), dt.time(minute % 1440 // 60, minute % 60), tzinfo=wall_zone
    )
    if wall.utcoffset() == wall.replace(fold=1).utcoffset():
        return ""
    there_and_back = wall.astimezone(dt.UTC).astimezone(wall_zone)
    return "doubled" if there_and_back.replace(tzinfo=None) == wall.replace(tzinfo=None) else "skipped"


def hours_of_one_site(taken: Taken) -> Iterator[Clash]:
    """Two rows for one site and date, or a day that runs into the opening of the next."""
    rows = taken.of(HoursRow)
    doubled = set()
    for group in grouped(rows, lambda r: (r.site, r.date)):
        number, row = group[1]
        doubled |= {n for n, _ in group}
        clash = _hours(
            "hours-overlap",
            number,
            row,
            "date",
            N_("Site {site} has two rows for {date} in hours.csv: {found}"),
            "; ".join(f"{format_clock(r.opens_min)} to {format_clock(r.closes_min)}" for _, r in group),
            "one row for each site and date",
            N_("Keep one row with the first opening and the last closing."),
        )
        yield Clash(notice=clash.notice, drops=drops("hours", group), sites=clash.sites)
    in_order = sorted(((r.site, r.date, n, r) for n, r in rows if n not in doubled), key=lambda t: t[:3])
    for (site, date, before_number, before), (other, following, number, row) in pairwise(in_order):
        if (
            site == other
            and following - date == dt.timedelta(days=1)
            and before.closes_min - 1440 > row.opens_min
        ):
            clash = _hours(
                "hours-overlap",
                number,
                row,
                "opens",
                N_("Site {site} opens on {date} before the day before has closed: {found}"),
                f"{format_clock(before.closes_min)}, {format_clock(row.opens_min)}",
                "closing before the next opening",
                N_("Correct the times."),
            )
            both = ((before_number, before), (number, row))
            yield Clash(notice=clash.notice, drops=drops("hours", both), sites=clash.sites)


def election_day_in_hours(taken: Taken) -> Iterator[Clash]:
    """No hours on election day at all; one day only, and that beside it; voting after it."""
    day = taken.election_day
    rows = taken.of(HoursRow)
    if day is None or not rows:
        return
    remedy = N_("Compare the date with election_day in county.toml.")
    if all(row.date != day for _, row in rows):
        number, row = min(rows, key=lambda numbered: abs(numbered[1].date - day))
        clash = _hours(
            "election-day-not-in-hours",
            number,
            row,
            "date",
            N_("No row of hours.csv is on election day; the nearest is {found}"),
            row.date.isoformat(),
            day.isoformat(),
            remedy,
        )
        yield Clash(notice=clash.notice, sites=EVERY_SITE_NOT_PLANNED)
        return
    for number, row in rows:
        if row.date > day:
            yield _hours(
                "voting-after-election-day",
                number,
                row,
                "date",
                N_("Row {row} of hours.csv is after election day: {found}"),
                row.date.isoformat(),
                f"{day.isoformat()} or before",
                remedy,
            )
    covered = any(row.site == EVERY_SITE and row.date == day for _, row in rows)
    for site in sorted({row.site for _, row in rows} - {EVERY_SITE}):
        own = [(number, row) for number, row in rows if row.site == site]
        if len(own) == 1 and not covered and 0 < abs((own[0][1].date - day).days) <= 1:
            number, row = own[0]
            yield _hours(
                "election-day-not-in-hours",
                number,
                row,
                "date",
                N_("Site {site} has hours on {found} only, one day beside election day"),
                row.date.isoformat(),
                day.isoformat(),
                remedy,
            )


CHECKS: tuple[Callable[[Taken], Iterator[Clash]], ...] = (
    hours_in_themselves,
    hours_of_one_site,
    election_day_in_hours,
)
