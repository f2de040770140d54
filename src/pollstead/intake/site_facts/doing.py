"""Rules about keys, agreements with the building, and what else happens there at some time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from pollstead.election.county import Site
from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice, Place
from pollstead.election.surroundings import SiteTime
from pollstead.election.words import N_, message
from pollstead.intake.notices import open_item
from pollstead.intake.site_facts.facts import Facts, Rule
from pollstead.intake.tables import SITES

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
DAYS_BEFORE = 3
"""How long something set up for an earlier event may still stand: common practice, no source."""


def _what(row: SiteTime) -> str:
    clock = format_clock(row.from_min)
    return f"{row.what or row.kind} {clock}" + (
        f"-{format_clock(row.to_min)}" if row.to_min > row.from_min else ""
    )


def late_access(facts: Facts, site: Site) -> Iterator[Notice]:
    """The building opens to the crew too late for the morning, and no evening is agreed."""
    hours, access = facts.hours(site), site.access_from_min
    needed = facts.rules.whole("morning-set-up")
    evening = facts.access(site).evening_from_min
    if hours is None or access is None or access + needed <= hours[0] or evening is not None:
        return
    yield open_item(
        "evening-not-agreed",
        f"site/{site.id}",
        message(
            N_(
                "{site} can be entered {minutes} min before opening, at {access}; no evening set-up is agreed"
            ),
            site=site.name,
            access=format_clock(access),
            minutes=max(0, hours[0] - access),
        ),
        place=Place(file="site_access.csv", column="evening_from"),
        found="blank",
        remedy=message(N_("Agree with the building on set-up the evening before, and who locks.")),
        owner=SITES,
        due=facts.due(45),
        depends=(str(access), str(hours[0]), str(needed)),
    )


def opener_not_confirmed(facts: Facts, site: Site) -> Iterator[Notice]:
    """The contact changed after the people who open were last confirmed."""
    access = facts.access(site)
    since, confirmed = access.contact_since, access.openers_confirmed
    if since is None or (confirmed is not None and confirmed >= since):
        return
    seen = confirmed.isoformat() if confirmed else "-"
    yield open_item(
        "opener-not-confirmed",
        f"site/{site.id}",
        message(
            N_("{site} has a new contact since {since}; who opens was last confirmed on {seen}"),
            site=site.name,
            since=since.isoformat(),
            seen=seen,
        ),
        place=Place(file="site_access.csv", column="openers_confirmed"),
        found=seen,
        wanted=since.isoformat(),
        remedy=message(N_("Call the contact, and try the key in the door with a second person.")),
        owner=SITES,
        due=facts.due(14),
        depends=(since.isoformat(), seen),
    )


def closed_that_weekday(facts: Facts, site: Site) -> Iterator[Notice]:
    """The building is closed on the weekday of election day and no key is handed over."""
    access = facts.access(site)
    name = WEEKDAYS[facts.day.weekday()]
    closed = [day for day in access.closed_weekdays if day.casefold()[:3] == name[:3]]
    if closed and (access.key_hand_off is None or access.key_hand_off >= facts.day):
        yield open_item(
            "closed-that-weekday",
            f"site/{site.id}",
            message(
                N_("{site} is closed on {day}, the weekday of election day; no key hand-off is dated before"),
                site=site.name,
                day=closed[0],
            ),
            place=Place(file="site_access.csv", column="key_hand_off"),
            found=access.key_hand_off.isoformat() if access.key_hand_off else "blank",
            wanted=f"before {facts.day.isoformat()}",
            remedy=message(N_("Agree on the day, the place and both people of the key hand-off.")),
            owner=SITES,
            due=facts.due(21),
            depends=tuple(closed),
        )


def building_may_be_needed(facts: Facts, site: Site) -> Iterator[Notice]:
    """The building may be needed for something else and no backup site has agreed."""
    access = facts.access(site)
    if access.may_be_needed_for.strip() and not (access.backup_site and access.backup_agreed):
        yield open_item(
            "backup-not-agreed",
            f"site/{site.id}",
            message(
                N_("{site} may be needed for: {what}; backup site {backup} has not agreed"),
                site=site.name,
                what=access.may_be_needed_for,
                backup=access.backup_site or "-",
            ),
            place=Place(file="site_access.csv", column="backup_agreed"),
            found="blank",
            remedy=message(N_("Have the backup site agree in writing, and keep its signs ready.")),
            owner=SITES,
            due=facts.due(45),
            depends=(access.backup_site,),
        )


def crew_called_out(facts: Facts, site: Site) -> Iterator[Notice]:
    """An emergency crew may have to leave through the room, and nothing says what happens then."""
    access = facts.access(site)
    if access.crew_may_be_called_out and not access.when_called_out.strip():
        yield open_item(
            "callout-no-plan",
            f"site/{site.id}",
            message(
                N_("A crew may have to leave through the room of {site}; nothing says what is done then"),
                site=site.name,
            ),
            place=Place(file="site_access.csv", column="when_called_out"),
            found="blank",
            remedy=message(N_("Agree where vehicles stand that day, and keep their way free of tables.")),
            owner=SITES,
            due=facts.due(30),
        )


def _overlaps(row: SiteTime, start_min: int, end_min: int) -> bool:
    return row.from_min < end_min and row.to_min > start_min


def other_use_of_room(facts: Facts, site: Site) -> Iterator[Notice]:
    """Another use of the room on election day, the evening before, or on a past election day."""
    past = facts.past_days
    near = {facts.day, facts.day - dt.timedelta(days=1)}
    for row in facts.times(site, "other use"):
        if row.date in near:
            text = N_("{site}: {what} on {date} in the same room, and nothing is agreed about it")
        elif row.date in past:
            text = N_("{site} was double-booked on {date} ({what}); nothing is agreed for this election")
        else:
            continue
        yield open_item(
            "room-double-booked",
            f"site/{site.id}/{format_clock(row.from_min)}",
            message(text, site=site.name, what=_what(row), date=row.date.isoformat()),
            place=Place(file="site_times.csv", column="settled"),
            found="blank",
            remedy=message(N_("Have the building confirm the room in writing from set-up until all is out.")),
            owner=SITES,
            due=facts.due(45),
            day=row.date.isoformat(),
            depends=(_what(row),),
        )


def left_from_before(facts: Facts, site: Site) -> Iterator[Notice]:
    """Something set up for an event a few days earlier may still stand."""
    for row in facts.times(site, "before"):
        if 0 <= (facts.day - row.date).days <= DAYS_BEFORE:
            yield open_item(
                "left-from-before",
                f"site/{site.id}/{format_clock(row.from_min)}",
                message(
                    N_("{site}: {what} on {date} may still stand when the crew sets up"),
                    site=site.name,
                    what=row.what or row.kind,
                    date=row.date.isoformat(),
                ),
                place=Place(file="site_times.csv", column="settled"),
                found="blank",
                remedy=message(N_("Agree when it is cleared, and have somebody look the day before.")),
                owner=SITES,
                due=facts.due(7),
                day=row.date.isoformat(),
                depends=(row.what,),
            )


def traffic_at_door(facts: Facts, site: Site) -> Iterator[Notice]:
    """Traffic at the voters' door while the site is open."""
    for row in _while_open(facts, site, "traffic"):
        yield open_item(
            "door-traffic",
            f"site/{site.id}/{format_clock(row.from_min)}",
            message(
                N_("{site}: {what} at the voters' door while it is open"), site=site.name, what=_what(row)
            ),
            place=Place(file="site_times.csv", column="settled"),
            found="blank",
            remedy=message(N_("Agree on another door or a marshal for that time.")),
            owner=SITES,
            due=facts.due(30),
            day=row.date.isoformat(),
            depends=(_what(row),),
        )


def parking_blocked(facts: Facts, site: Site) -> Iterator[Notice]:
    """A parking or unloading place blocked while the site is open."""
    for row in _while_open(facts, site, "parking"):
        yield open_item(
            "parking-blocked",
            f"site/{site.id}/{format_clock(row.from_min)}",
            message(
                N_("{site}: {what} blocks a parking or unloading place while it is open"),
                site=site.name,
                what=_what(row),
            ),
            place=Place(file="site_times.csv", column="settled"),
            found="blank",
            remedy=message(N_("Agree on another place, accessible and marked, for that time.")),
            owner=SITES,
            due=facts.due(30),
            day=row.date.isoformat(),
            depends=(_what(row),),
        )


def _while_open(facts: Facts, site: Site, kind: str) -> Iterator[SiteTime]:
    hours = facts.hours(site)
    for row in facts.times(site, kind):
        if hours is not None and row.date == facts.day and _overlaps(row, *hours):
            yield row


RULES: tuple[Rule, ...] = (
    late_access,
    opener_not_confirmed,
    closed_that_weekday,
    building_may_be_needed,
    crew_called_out,
    other_use_of_room,
    left_from_before,
    traffic_at_door,
    parking_blocked,
)
