"""Rules about the way to a site and back: vehicles, grade, water, ferry, receiving, addresses."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pollstead.election.county import Site
from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice, Place
from pollstead.election.units import format_feet_inches
from pollstead.election.words import N_, message
from pollstead.intake.cells import CellKind, write_cell
from pollstead.intake.notices import open_item
from pollstead.intake.site_facts.facts import Facts, Rule
from pollstead.intake.tables import SITES

FREIGHT = N_("warehouse manager")
NEXT_DOOR_M = 1_500
"""Within this distance people may think of walking: common practice, no source; varies by county."""
ADDRESS_RANGE = 100
"""House numbers of one street that a driver may mistake: common practice, no source."""
FIRST_ON_THE_ROAD_MIN = 4 * 60
"""From when crews and trucks are on the road on election day: common practice, no source."""

_ADDRESS = re.compile(r"\s*(\d+)\s+([^,;]+)")


def truck_too_long(facts: Facts, site: Site) -> Iterator[Notice]:
    """A vehicle of the fleet is longer than the road takes, and no shorter one is named."""
    route = facts.route(site)
    limit = route.truck_limit_um
    if limit is None:
        return
    longer = {v.id: v for v in facts.election.vehicles if v.length_um is not None and v.length_um > limit}
    known = {v.id for v in facts.election.vehicles}
    if longer and (route.vehicle not in known or route.vehicle in longer):
        yield open_item(
            "truck-too-long",
            f"site/{site.id}",
            message(
                N_("The way to {site} takes vehicles up to {limit}; {count} are longer and none is named"),
                site=site.name,
                limit=format_feet_inches(limit),
                count=len(longer),
            ),
            place=Place(file="site_routes.csv", column="vehicle"),
            found=route.vehicle or "blank",
            wanted=", ".join(sorted(known - set(longer))),
            remedy=message(N_("Name a vehicle that is short enough.")),
            owner=FREIGHT,
            due=facts.due(30),
            depends=(str(limit), *sorted(longer)),
        )


def steep_road(facts: Facts, site: Site) -> Iterator[Notice]:
    """A steep road and nothing said about snow or ice."""
    route = facts.route(site)
    grade, most = route.road_grade_ppm, facts.rules.whole("steep-road")
    if grade is None or grade < most or route.snow_plan.strip():
        return
    yield open_item(
        "steep-road-no-plan",
        f"site/{site.id}",
        message(
            N_("The road to {site} rises {grade} percent; nothing says what is done in snow"),
            site=site.name,
            grade=write_cell(CellKind.PERCENT, grade),
        ),
        place=Place(file="site_routes.csv", column="snow_plan"),
        found="blank",
        remedy=message(N_("Agree with road services, and deliver early when snow is forecast.")),
        owner=FREIGHT,
        due=facts.due(30),
        depends=(str(grade), str(most)),
    )


def road_closed(facts: Facts, site: Site) -> Iterator[Notice]:
    """The road is closed at some time of election day, and nothing is agreed."""
    for row in facts.times(site, "road closed"):
        if row.date != facts.day or row.to_min <= FIRST_ON_THE_ROAD_MIN:
            continue
        yield open_item(
            "road-closed",
            f"site/{site.id}/{format_clock(row.from_min)}",
            message(
                N_("The road to {site} is closed {first}-{last}: {what}; no other way is agreed"),
                site=site.name,
                first=format_clock(row.from_min),
                last=format_clock(row.to_min),
                what=row.what or "-",
            ),
            place=Place(file="site_times.csv", column="settled"),
            found="blank",
            remedy=message(N_("Agree on another way for crew, voters and the return; turn back at water.")),
            owner=FREIGHT,
            due=facts.due(30),
            day=row.date.isoformat(),
            depends=(row.what, str(row.from_min), str(row.to_min)),
        )


def last_ferry(facts: Facts, site: Site) -> Iterator[Notice]:
    """The last ferry leaves before the work after closing is done."""
    hours = facts.hours(site)
    ferries = [row for row in facts.times(site, "ferry") if row.date == facts.day]
    if hours is None or not ferries:
        return
    last = max(row.from_min for row in ferries)
    ready = hours[1] + facts.rules.whole("closing-work")
    if last < ready:
        yield open_item(
            "last-ferry",
            f"site/{site.id}",
            message(
                N_("The last ferry from {site} leaves at {last}; the site is ready to leave at {ready}"),
                site=site.name,
                last=format_clock(last),
                ready=format_clock(ready),
            ),
            place=Place(file="site_times.csv", column="from"),
            found=format_clock(last),
            wanted=format_clock(ready),
            remedy=message(N_("Ask for a later ferry, or agree on the way by road and who decides.")),
            owner=FREIGHT,
            due=facts.due(45),
            day=facts.day.isoformat(),
            depends=(str(last), str(ready)),
        )


def receiving_next_door(facts: Facts, site: Site) -> Iterator[Notice]:
    """The receiving place is so near that people may walk, and nothing says how the return goes."""
    route = facts.route(site)
    others = {row.site: row for row in facts.election.site_routes}
    there = others.get(route.returns_to)
    if there is None or there.site == site.id or route.returns_by.strip():
        return
    if None in (route.x_m, route.y_m, there.x_m, there.y_m):
        return
    east, north = (route.x_m or 0) - (there.x_m or 0), (route.y_m or 0) - (there.y_m or 0)
    if east * east + north * north <= NEXT_DOOR_M * NEXT_DOOR_M:
        yield open_item(
            "return-next-door",
            f"site/{site.id}",
            message(
                N_("{site} returns to {there} next door; nothing says how two people bring it there"),
                site=site.name,
                there=there.site,
            ),
            place=Place(file="site_routes.csv", column="returns_by"),
            found="blank",
            remedy=message(N_("Decide: on foot or by car, which two people, by which door.")),
            owner=FREIGHT,
            due=facts.due(21),
            depends=(there.site,),
        )


def receiving_while_closing(facts: Facts, site: Site) -> Iterator[Notice]:
    """A site that closes its own voting and receives from others has no person for the receiving."""
    route = facts.route(site)
    if not route.receives:
        return
    own = {p.id for p in facts.people(site)}
    if not route.receiving_lead or route.receiving_lead in own:
        yield open_item(
            "receiving-without-lead",
            f"site/{site.id}",
            message(
                N_("{site} closes and receives at one time; no person outside its crew leads receiving"),
                site=site.name,
            ),
            place=Place(file="site_routes.csv", column="receiving_lead"),
            found=route.receiving_lead or "blank",
            remedy=message(N_("Name a receiving lead and a second person who have no post at this site.")),
            owner=FREIGHT,
            due=facts.due(21),
            depends=(route.receiving_lead,),
        )


def addresses_alike(facts: Facts, site: Site) -> Iterator[Notice]:
    """Two sites in one street with house numbers so near that people go to the wrong one."""
    mine = _ADDRESS.match(site.address)
    if mine is None:
        return
    for other in facts.election.sites:
        theirs = _ADDRESS.match(other.address)
        if other.id == site.id or theirs is None or other.area != site.area:
            continue
        same_street = mine[2].strip().casefold() == theirs[2].strip().casefold()
        if same_street and 0 < abs(int(mine[1]) - int(theirs[1])) <= ADDRESS_RANGE:
            yield open_item(
                "addresses-alike",
                f"site/{site.id}/{other.id}",
                message(
                    N_("{site} ({address}) and {other} ({found}) are in one street"),
                    site=site.name,
                    address=site.address,
                    other=other.name,
                    found=other.address,
                ),
                place=Place(file="sites.csv", column="address"),
                found=site.address,
                remedy=message(N_("Name both on each card and route, with what each looks like.")),
                owner=SITES,
                due=facts.due(30),
                depends=(site.address, other.address),
            )


RULES: tuple[Rule, ...] = (
    truck_too_long,
    steep_road,
    road_closed,
    last_ferry,
    receiving_next_door,
    receiving_while_closing,
    addresses_alike,
)
