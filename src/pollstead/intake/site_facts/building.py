"""Rules about the building itself: doors, ramp, ground, steps, rooms, fire lane, survey."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from pollstead.election.county import Site
from pollstead.election.notice import Notice, Place
from pollstead.election.units import UM_PER_INCH, format_feet_inches, inch
from pollstead.election.words import N_, message
from pollstead.intake.notices import open_item, rule_not_met
from pollstead.intake.site_facts.facts import Facts, Rule
from pollstead.intake.tables import SITES

ADA = N_("ADA coordinator")
ONE_PERSON_IN_LINE_UM = inch(36)
"""Length of line that one waiting person takes up: common practice, no source; varies by county."""


def entrances_without_sign(facts: Facts, site: Site) -> Iterator[Notice]:
    """More than one public way in, and one of them without a sign."""
    public = [door for door in facts.doors(site) if door.public]
    bare = [door for door in public if door.sign is False]
    if len(public) > 1 and bare:
        yield open_item(
            "entrance-without-sign",
            f"site/{site.id}",
            message(
                N_("{site} has {count} public entrances and no sign is planned at: {doors}"),
                site=site.name,
                count=len(public),
                doors=", ".join(door.name or door.id for door in bare),
            ),
            place=Place(file="doors.csv", column="sign"),
            found="no",
            wanted="yes",
            remedy=message(N_("Plan a sign at each entrance that voters may come to.")),
            owner=SITES,
            due=facts.due(30),
            depends=tuple(door.id for door in bare),
        )


def narrow_doors(facts: Facts, site: Site) -> Iterator[Notice]:
    """A door on the way in that is narrower than the county's rule."""
    least = facts.rules.whole("door-clear")
    told = [(door.name or door.id, door.clear_um) for door in facts.doors(site) if door.clear_um is not None]
    if not told and site.door_clear_um is not None:
        told = [("", site.door_clear_um)]
    for name, clear_um in told:
        if clear_um >= least * UM_PER_INCH:
            continue
        yield rule_not_met(
            "door-narrow",
            f"site/{site.id}/door/{name}" if name else f"site/{site.id}",
            message(
                N_("Door {door} of {site} is {found} clear; county rule door-clear asks for {wanted}"),
                door=name or "-",
                site=site.name,
                found=format_feet_inches(clear_um),
                wanted=format_feet_inches(least * UM_PER_INCH),
            ),
            place=Place(file="doors.csv" if facts.doors(site) else "sites.csv", column="clear"),
            found=format_feet_inches(clear_um),
            wanted=format_feet_inches(least * UM_PER_INCH),
            remedy=message(
                N_("Use another door, or have the door or its hinges changed, then measure again.")
            ),
            owner=SITES,
            due=facts.due(60),
            who_decides=ADA,
            depends=(str(clear_um), str(least)),
        )


def steep_ramps(facts: Facts, site: Site) -> Iterator[Notice]:
    """A ramp steeper than the county's rule."""
    survey = facts.survey(site)
    rise, run, times = survey.ramp_rise_um, survey.ramp_run_um, facts.rules.whole("ramp-run")
    if rise is None or run is None or run >= rise * times:
        return
    yield rule_not_met(
        "ramp-steep",
        f"site/{site.id}",
        message(
            N_(
                "The ramp of {site} rises {rise} over {run}; county rule ramp-run asks for {wanted} of length"
            ),
            site=site.name,
            rise=format_feet_inches(rise),
            run=format_feet_inches(run),
            wanted=format_feet_inches(rise * times),
        ),
        place=Place(file="site_survey.csv", column="ramp_run"),
        found=format_feet_inches(run),
        wanted=format_feet_inches(rise * times),
        remedy=message(N_("Bring a longer portable ramp, or use another way in; measure it again in place.")),
        owner=SITES,
        due=facts.due(60),
        who_decides=ADA,
        depends=(str(rise), str(run), str(times)),
    )


def soft_ground(facts: Facts, site: Site) -> Iterator[Notice]:
    """Gravel, grass or sand on the accessible way that the planned matting does not cover."""
    survey = facts.survey(site)
    soft, mats = survey.soft_ground_um or 0, survey.matting_um or 0
    if soft > mats:
        yield open_item(
            "ground-soft",
            f"site/{site.id}",
            message(
                N_("{soft} of the accessible way at {site} is soft ground; matting covers {mats}"),
                soft=format_feet_inches(soft),
                site=site.name,
                mats=format_feet_inches(mats),
            ),
            place=Place(file="site_survey.csv", column="matting"),
            found=format_feet_inches(mats),
            wanted=format_feet_inches(soft),
            remedy=message(N_("Plan matting for the whole length and somebody who lays it.")),
            owner=SITES,
            due=facts.due(45),
            depends=(str(soft), str(mats)),
        )


def steps_for_carts(facts: Facts, site: Site) -> Iterator[Notice]:
    """Steps between truck and room, no dock, and no other way for carts told."""
    survey = facts.survey(site)
    if survey.steps and survey.dock is not True and not survey.way_in_for_carts.strip():
        yield open_item(
            "steps-for-carts",
            f"site/{site.id}",
            message(
                N_("{steps} steps and no loading dock at {site}; nothing says how carts get in"),
                steps=survey.steps,
                site=site.name,
            ),
            place=Place(file="site_survey.csv", column="way_in_for_carts"),
            found="blank",
            remedy=message(N_("Ask the building for a lift or another door, and write it on the route.")),
            owner=SITES,
            due=facts.due(45),
            depends=(str(survey.steps),),
        )


def rooms_mistaken(facts: Facts, site: Site) -> Iterator[Notice]:
    """Two rooms of one use, and no sign says which of them gets the delivery."""
    rooms = facts.rooms(site)
    uses = Counter(room.use.casefold() for room in rooms if room.use)
    for room in rooms:
        if room.voting and room.marked is not True and uses[room.use.casefold()] > 1:
            yield open_item(
                "room-mistaken",
                f"site/{site.id}/room/{room.id}",
                message(
                    N_("{site} has {count} rooms of use {use}; no sign marks {room} for the delivery"),
                    site=site.name,
                    count=uses[room.use.casefold()],
                    use=room.use,
                    room=room.name or room.id,
                ),
                place=Place(file="rooms.csv", column="marked"),
                found="no" if room.marked is False else "blank",
                wanted="yes",
                remedy=message(N_("Mark the room, and name it with its door on the driver's sheet.")),
                owner=SITES,
                due=facts.due(14),
            )


def line_and_fire_lane(facts: Facts, site: Site) -> Iterator[Notice]:
    """A fire lane near the door and no route for the line that keeps out of it."""
    survey = facts.survey(site)
    if survey.fire_lane_um is not None and not survey.line_route.strip():
        people = survey.fire_lane_um // ONE_PERSON_IN_LINE_UM
        yield open_item(
            "line-meets-fire-lane",
            f"site/{site.id}",
            message(
                N_("A line of more than {people} people at {site} stands in the fire lane; no route is set"),
                people=people,
                site=site.name,
            ),
            place=Place(file="site_survey.csv", column="line_route"),
            found="blank",
            remedy=message(N_("Decide with the fire official where the line goes, and mark it.")),
            owner=SITES,
            due=facts.due(30),
            who_decides=N_("fire official"),
            depends=(str(survey.fire_lane_um),),
        )


def survey_too_old(facts: Facts, site: Site) -> Iterator[Notice]:
    """The entrance moved after the last survey."""
    survey = facts.survey(site)
    if survey.entrance_moved is None or (survey.surveyed and survey.surveyed >= survey.entrance_moved):
        return
    seen = survey.surveyed.isoformat() if survey.surveyed else "-"
    yield open_item(
        "survey-before-change",
        f"site/{site.id}",
        message(
            N_("Voters use another entrance of {site} since {moved}; the last survey is of {seen}"),
            site=site.name,
            moved=survey.entrance_moved.isoformat(),
            seen=seen,
        ),
        place=Place(file="site_survey.csv", column="surveyed"),
        found=seen,
        wanted=survey.entrance_moved.isoformat(),
        remedy=message(N_("Survey the way in again: door, route, parking, signs; then tell the voters.")),
        owner=SITES,
        due=facts.due(30),
        depends=(survey.entrance_moved.isoformat(), seen),
    )


RULES: tuple[Rule, ...] = (
    entrances_without_sign,
    narrow_doors,
    steep_ramps,
    soft_ground,
    steps_for_carts,
    rooms_mistaken,
    line_and_fire_lane,
    survey_too_old,
)
