"""What is not known yet or worth a look: never blocks, has an owner and a date, says what it would add."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

from pollstead.election.county import (
    Site,
)
from pollstead.election.instants import OperatingDay, format_clock
from pollstead.election.notice import Notice, Place
from pollstead.election.words import N_, message
from pollstead.intake import (
    open_items_around,
    open_items_ballots,
    open_items_calendar,
    open_items_joins,
)
from pollstead.intake.look_alikes import look_alike_names, lost_zeros, same_building
from pollstead.intake.notices import due_before, open_item
from pollstead.intake.tables import (
    EQUIPMENT,
    EVERY_SITE,
    OFFICIAL,
    RULES_ADD,
    RULES_FILE,
    SITES,
    STATION_TYPES_ADD,
    STATION_TYPES_FILE,
    TABLES,
    HoursRow,
)
from pollstead.intake.taken import Taken

PAST_DAY = "election-day-past"
FILL_IN = N_("Fill in the column where you know it; what is not known stays an assumption.")


def lists_not_there(taken: Taken) -> Iterator[Notice]:
    """Each list that is not there, and what it would add."""
    wanted = [(table.file, table.adds, table.owner, table.due_days) for table in TABLES if table.adds]
    wanted += [
        (STATION_TYPES_FILE, STATION_TYPES_ADD, EQUIPMENT, 120),
        (RULES_FILE, RULES_ADD, OFFICIAL, 120),
    ]
    # Serials make totals superfluous, and totals stand in for serials.
    files = set(taken.files)
    if "devices.csv" in files:
        files.add("fleet_totals.csv")
    for file, adds, owner, days in wanted:
        if file in files:
            continue
        yield open_item(
            "list-not-there",
            f"table/{file.split('.')[0]}",
            message(N_("{file} is not there or holds no rows; it would add {adds}"), file=file, adds=adds),
            place=Place(file=file),
            found="no rows",
            remedy=message(N_("Add the list when you have it; the plan works without it.")),
            owner=owner,
            due=due_before(taken.election_day, days),
        )


_SITE_UNKNOWN: tuple[tuple[str, str, str, int], ...] = (
    ("kind", N_("kind of site; stations, sheets and seals follow from it"), OFFICIAL, 120),
    ("address", N_("address"), SITES, 90),
    ("room_width_um", N_("width of the room; the plan cannot tell whether everything fits"), SITES, 60),
    ("room_depth_um", N_("depth of the room; the plan cannot tell whether everything fits"), SITES, 60),
    ("door_clear_um", N_("clear width of the door; carts may not get in"), SITES, 60),
    ("outlets", N_("outlets; the plan cannot tell whether there is power enough"), SITES, 60),
    ("access_from_min", N_("earliest time in; the set-up may have to be done the evening before"), SITES, 45),
    ("openers", N_("people who can open the building"), SITES, 30),
    ("contact", N_("building contact"), SITES, 30),
)


def site_fields_not_known(taken: Taken) -> Iterator[Notice]:
    """One notice for each column of sites.csv that is blank somewhere, naming the sites."""
    rows = taken.of(Site)
    for field, what, owner, days in _SITE_UNKNOWN:
        blank = [(number, site.id) for number, site in rows if not getattr(site, field)]
        if not blank:
            continue
        names = [site for _, site in blank]
        listed = ", ".join(names[:8]) + (" …" if len(names) > 8 else "")
        column = field.removesuffix("_um").removesuffix("_min")
        yield open_item(
            "site-field-not-known",
            f"sites/{column}",
            message(
                N_("Not known at {count} of {all} sites: {what} ({sites})"),
                count=len(names),
                all=len(rows),
                what=what,
                sites=listed,
            ),
            place=Place(file="sites.csv", row=blank[0][0], column=column),
            found="blank",
            remedy=message(FILL_IN),
            owner=owner,
            due=due_before(taken.election_day, days),
            depends=tuple(names),
        )


def hours_worth_a_look(taken: Taken) -> Iterator[Notice]:
    """Sites without hours or not open on election day; days on which the clocks change."""
    rows = taken.of(HoursRow)
    day = taken.election_day
    if not rows or day is None or taken.county is None:
        return
    every = {row.date for _, row in rows if row.site == EVERY_SITE}
    for number, site in taken.of(Site):
        dates = every | {row.date for _, row in rows if row.site == site.id}
        if day not in dates:
            none = N_("Site {site} has no hours; assumed hours are used")
            closed = N_("Site {site} is not open on election day")
            yield open_item(
                "hours-of-site",
                f"site/{site.id}",
                message(closed if dates else none, site=site.id),
                place=Place(file="sites.csv", row=number, column="id"),
                remedy=message(N_("Look whether hours.csv is complete.")),
                owner=OFFICIAL,
                due=due_before(day, 60),
            )
        own = [row for _, row in rows if row.site == site.id and row.date == day]
        own = own or [row for _, row in rows if row.site == EVERY_SITE and row.date == day]
        if own and site.access_from_min is not None and site.access_from_min >= own[0].opens_min:
            yield open_item(
                "access-after-opening",
                f"site/{site.id}",
                message(
                    N_("Site {site} opens at {opens} but can be entered from {access} only"),
                    site=site.id,
                    opens=format_clock(own[0].opens_min),
                    access=format_clock(site.access_from_min),
                ),
                place=Place(file="sites.csv", row=number, column="access_from"),
                found=format_clock(site.access_from_min),
                wanted=f"before {format_clock(own[0].opens_min)}",
                remedy=message(N_("Have the door opened earlier, or set up the evening before.")),
                owner=SITES,
                due=due_before(day, 45),
            )
    for date in sorted({row.date for _, row in rows}):
        slots = OperatingDay(date=date, zone_name=taken.county.zone).slots_to_midnight()
        if slots != 96:
            yield open_item(
                "clock-change",
                f"day/{date.isoformat()}",
                message(
                    N_("The clocks change on {date}, a day of voting; that day has {hours} hours"),
                    date=date.isoformat(),
                    hours=slots // 4,
                ),
                place=Place(file="hours.csv", column="date"),
                found=f"{slots // 4} hours",
                wanted="24 hours",
                remedy=message(N_("Set the clocks of devices, building and alarm by your county's rule.")),
                owner=EQUIPMENT,
                due=due_before(date, 7),
                day=date.isoformat(),
            )


def election_day_worth_a_look(taken: Taken) -> Iterator[Notice]:
    """A November election day that is not the Tuesday of 2 U.S.C. 7, but a day beside it."""
    day = taken.election_day
    if day is None:
        return
    tuesday = tuesday_after_first_monday(day.year)
    if day != tuesday and abs((day - tuesday).days) <= 1:
        yield open_item(
            "election-day-beside-tuesday",
            "county",
            message(
                N_("Election day is {found}, a day beside Tuesday {tuesday}"),
                found=day.isoformat(),
                tuesday=tuesday.isoformat(),
            ),
            place=Place(file="county.toml", column="election_day"),
            found=day.isoformat(),
            wanted=tuesday.isoformat(),
            remedy=message(N_("Compare with the calendar that counsel has confirmed.")),
            owner=OFFICIAL,
            due=due_before(day, 180),
        )


def election_day_over(taken: Taken) -> Iterator[Notice]:
    """An election day before today, where somebody said what day it is."""
    day = taken.election_day
    if day is None or taken.today is None or day >= taken.today:
        return
    yield open_item(
        PAST_DAY,
        "county",
        message(N_("Election day {found} is past"), found=day.isoformat()),
        place=Place(file="county.toml", column="election_day"),
        found=day.isoformat(),
        wanted=N_("a day that is still to come, unless this is a past election on purpose"),
        remedy=message(N_("Compare with the calendar that counsel has confirmed.")),
        owner=OFFICIAL,
    )


def tuesday_after_first_monday(year: int) -> dt.date:
    """The Tuesday next after the first Monday in November (2 U.S.C. 7)."""
    first = dt.date(year, 11, 1)
    monday = first + dt.timedelta(days=(7 - first.weekday()) % 7)
    return monday + dt.timedelta(days=1)


CHECKS: tuple[Callable[[Taken], Iterator[Notice]], ...] = (
    lists_not_there,
    site_fields_not_known,
    hours_worth_a_look,
    election_day_worth_a_look,
    election_day_over,
    *open_items_joins.CHECKS,
    *open_items_around.CHECKS,
    *open_items_ballots.CHECKS,
    *open_items_calendar.CHECKS,
    look_alike_names,
    lost_zeros,
    same_building,
)
