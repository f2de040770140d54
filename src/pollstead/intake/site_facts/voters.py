"""Rules about the voters of a site: busy hours, addresses, ballot styles, languages, precincts, scanners."""

from __future__ import annotations

from collections.abc import Iterator

from pollstead.election.county import Site
from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice, Place
from pollstead.election.station_type import VoterStep
from pollstead.election.units import PPM
from pollstead.election.words import N_, message
from pollstead.intake.cells import CellKind, write_cell
from pollstead.intake.notices import open_item
from pollstead.intake.site_facts.facts import Facts, Rule
from pollstead.intake.tables import EQUIPMENT, OFFICIAL, PEOPLE

BUSIER_PPM = 250_000
"""A site's busy hours are worth a plan of their own when they hold a quarter more of the voters than
the county's curve has there: our choice."""
MANY_CHANGES_PPM = 20_000
"""Share of address changes from which a table of their own is wanted: our choice."""


def busy_hours_differ(facts: Facts, site: Site) -> Iterator[Notice]:
    """The site's busy hours hold clearly more voters than the county's curve gives them."""
    own = facts.voters(site)
    start, end, share = own.busy_from_min, own.busy_to_min, own.busy_share_ppm
    if start is None or end is None or share is None or own.busy_plan.strip() or not facts.election.arrivals:
        return
    curve = sum(
        arrival.share_ppm * max(0, min(end, arrival.hour * 60 + 60) - max(start, arrival.hour * 60)) // 60
        for arrival in facts.election.arrivals
    )
    if share * PPM > curve * (PPM + BUSIER_PPM):
        yield open_item(
            "busy-hours-differ",
            f"site/{site.id}",
            message(
                N_("{share} percent of voters of {site} come {first}-{last}; the county has {curve}"),
                share=write_cell(CellKind.PERCENT, share),
                site=site.name,
                first=format_clock(start),
                last=format_clock(end),
                curve=write_cell(CellKind.PERCENT, curve),
            ),
            place=Place(file="site_voters.csv", column="busy_plan"),
            found=f"{write_cell(CellKind.PERCENT, share)} percent",
            wanted=f"{write_cell(CellKind.PERCENT, curve)} percent",
            remedy=message(
                N_("Plan people and stations for these hours; fix the numbers of stations if needed.")
            ),
            owner=OFFICIAL,
            due=facts.due(60),
            depends=(str(share), str(curve)),
        )


def address_changes(facts: Facts, site: Site) -> Iterator[Notice]:
    """Many voters change their address at check-in, and there is no table for them."""
    own = facts.voters(site)
    if (own.address_changes_ppm or 0) >= MANY_CHANGES_PPM and not own.help_tables:
        yield open_item(
            "address-changes",
            f"site/{site.id}",
            message(
                N_("{share} percent of voters of {site} change their address; no table is for them"),
                share=write_cell(CellKind.PERCENT, own.address_changes_ppm),
                site=site.name,
            ),
            place=Place(file="site_voters.csv", column="help_tables"),
            found="0" if own.help_tables == 0 else "blank",
            wanted="1",
            remedy=message(N_("Plan a help table apart from the line, with forms and a trained person.")),
            owner=OFFICIAL,
            due=facts.due(45),
            depends=(str(own.address_changes_ppm),),
        )


def styles_in_one_precinct(facts: Facts, site: Site) -> Iterator[Notice]:
    """A precinct with more than one ballot style, and nothing says how check-in tells them apart."""
    for precinct in facts.precincts(site):
        if len(precinct.styles) > 1 and not precinct.style_told_by.strip():
            yield open_item(
                "styles-in-one-precinct",
                f"site/{site.id}/precinct/{precinct.id}",
                message(
                    N_("Precinct {precinct} at {site} has {count} ballot styles; nothing tells them apart"),
                    precinct=precinct.id,
                    site=site.name,
                    count=len(precinct.styles),
                ),
                place=Place(file="precincts.csv", column="style_told_by"),
                found="blank",
                remedy=message(N_("Print the style on each label, or list the streets of each style.")),
                owner=OFFICIAL,
                due=facts.due(45),
                depends=precinct.styles,
            )


def nobody_speaks(facts: Facts, site: Site) -> Iterator[Notice]:
    """Assistance in a language, and nobody named at the site speaks it."""
    crew = facts.people(site)
    spoken = {language.casefold() for person in crew for language in person.languages}
    missing = [language for language in site.language_assistance if language.casefold() not in spoken]
    if crew and missing:
        yield open_item(
            "language-nobody-speaks",
            f"site/{site.id}",
            message(
                N_("{site} offers assistance in {languages}; none of its {count} people is told to speak it"),
                site=site.name,
                languages=", ".join(missing),
                count=len(crew),
            ),
            place=Place(file="people.csv", column="languages"),
            found="blank",
            wanted=", ".join(missing),
            remedy=message(N_("Place a person who speaks it, and print the translated signs and forms.")),
            owner=PEOPLE,
            due=facts.due(30),
            depends=tuple(missing),
        )


def precincts_in_one_room(facts: Facts, site: Site) -> Iterator[Notice]:
    """Precincts that are kept apart, in one room that nothing divides."""
    own = facts.voters(site)
    precincts = [p.id for p in facts.precincts(site)]
    rooms = [room for room in facts.rooms(site) if room.voting]
    if not own.precincts_kept_apart or own.room_divided_by.strip():
        return
    if len(precincts) > 1 and len(rooms) < len(precincts):
        yield open_item(
            "precincts-in-one-room",
            f"site/{site.id}",
            message(
                N_("{site} keeps {count} precincts apart in {rooms} room; nothing says what divides it"),
                site=site.name,
                count=len(precincts),
                rooms=len(rooms),
            ),
            place=Place(file="site_voters.csv", column="room_divided_by"),
            found="blank",
            remedy=message(N_("Plan two lines, two boxes and signs, and a greeter who asks for the street.")),
            owner=OFFICIAL,
            due=facts.due(45),
            depends=tuple(precincts),
        )


def scanners_too_few(facts: Facts, site: Site) -> Iterator[Notice]:
    """Fewer scanners have this site as their home than its election-day voters want."""
    voters = facts.election_day_voters(site)
    kinds = {
        part.device_kind
        for station in facts.election.station_types
        if station.step is VoterStep.CAST
        for part in station.parts
        if part.device_kind
    }
    # Where a person fixed a machine for this election counts more than where it usually goes.
    home = [d for d in facts.at_home(site) if d.kind in kinds]
    usable = [d.id for d in home if d.state == "in service"]
    if voters is None or not home:
        return
    first, further = facts.rules.whole("one-scanner-voters"), facts.rules.whole("further-scanner-voters")
    wanted = 1 + max(0, -(-(voters - first) // max(1, further)))
    if len(usable) < wanted:
        yield open_item(
            "scanners-too-few",
            f"site/{site.id}",
            message(
                N_("{site} had {voters} voters and is home to {found} scanners in service, not {wanted}"),
                site=site.name,
                voters=voters,
                found=len(usable),
                wanted=wanted,
            ),
            place=Place(file="devices.csv", column="home"),
            found=len(usable),
            wanted=str(wanted),
            remedy=message(
                N_("Give another scanner this site as its home, and look at its memory devices and seals.")
            ),
            owner=EQUIPMENT,
            due=facts.due(45),
            depends=(str(voters), str(len(usable)), str(wanted)),
        )


RULES: tuple[Rule, ...] = (
    busy_hours_differ,
    address_changes,
    styles_in_one_precinct,
    nobody_speaks,
    precincts_in_one_room,
    scanners_too_few,
)
