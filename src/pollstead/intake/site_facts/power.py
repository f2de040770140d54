"""Rules about power, heat, data and calling out of the room. Loads are what was typed in."""

from __future__ import annotations

from collections.abc import Iterator

from pollstead.election.county import Site
from pollstead.election.notice import Notice, Place
from pollstead.election.units import UM_PER_INCH, format_feet_inches
from pollstead.election.words import N_, message
from pollstead.intake.notices import open_item
from pollstead.intake.site_facts.facts import Facts, Rule
from pollstead.intake.tables import EQUIPMENT, SITES

MUCH_POWER_W = 1_000
"""A station that draws this much at its peak wants a circuit of its own: common practice, no source;
varies by county."""
GENERATOR_DAYS = 365
"""How long a test of a building's generator is taken to count: common practice, no source."""


def outlets_on_one_circuit(facts: Facts, site: Site) -> Iterator[Notice]:
    """All outlets of the voting room on one circuit, though the building has others."""
    outlets, circuits = facts.outlets(site), facts.circuits(site)
    used = {outlet.circuit for outlet in outlets if outlet.circuit}
    if len(outlets) < 2 or len(used) != 1 or len(circuits) < 2 or not all(o.circuit for o in outlets):
        return
    [circuit] = used
    yield open_item(
        "outlets-on-one-circuit",
        f"site/{site.id}",
        message(
            N_("All {outlets} outlets of the voting room of {site} hang on circuit {circuit}"),
            outlets=len(outlets),
            site=site.name,
            circuit=circuit,
        ),
        place=Place(file="outlets.csv", column="circuit"),
        found=circuit,
        remedy=message(
            N_("Have the building's engineer confirm the circuits and name outlets on another one.")
        ),
        owner=SITES,
        due=facts.due(60),
        who_decides=N_("licensed electrician or building engineer"),
        depends=(circuit, str(len(outlets))),
    )


def one_circuit_in_building(facts: Facts, site: Site) -> Iterator[Notice]:
    """One circuit is all that equipment may use."""
    circuits = facts.circuits(site)
    if len(circuits) == 1:
        yield open_item(
            "one-circuit",
            f"site/{site.id}",
            message(
                N_("{site} has one circuit of {amps} A for everything"),
                site=site.name,
                amps=circuits[0].amps,
            ),
            place=Place(file="circuits.csv", column="id"),
            found=f"{circuits[0].amps} A",
            remedy=message(
                N_("Ask for another circuit, plan fewer devices at once, or bring power of your own.")
            ),
            owner=SITES,
            due=facts.due(60),
            who_decides=N_("licensed electrician or building engineer"),
            depends=(circuits[0].id, str(circuits[0].amps)),
        )


def printers_and_circuits(facts: Facts, site: Site) -> Iterator[Notice]:
    """More stations of much power may stand there than circuits reach the room."""
    kinds = [kind for kind in facts.election.site_kinds if kind.id == site.kind]
    used = {use.station_type for kind in kinds for use in kind.uses}
    hungry = {
        part.device_kind
        for station in facts.election.station_types
        if station.id in used and station.power is not None and station.power.peak_w >= MUCH_POWER_W
        for part in station.parts
        if part.device_kind
    }
    by_kind = {kind: sum(1 for d in facts.at_home(site) if d.kind == kind) for kind in hungry}
    count = min((n for n in by_kind.values() if n), default=0)
    reach = {outlet.circuit for outlet in facts.outlets(site) if outlet.circuit}
    if reach and count > len(reach):
        yield open_item(
            "much-power-few-circuits",
            f"site/{site.id}",
            message(
                N_("{site} has {count} stations of {watts} W or more and {circuits} circuits in the room"),
                site=site.name,
                count=count,
                watts=MUCH_POWER_W,
                circuits=len(reach),
            ),
            place=Place(file="outlets.csv", column="circuit"),
            found=len(reach),
            wanted=str(count),
            remedy=message(N_("Name outlets on more circuits, or let fewer of them print at one time.")),
            owner=EQUIPMENT,
            due=facts.due(60),
            who_decides=N_("licensed electrician or building engineer"),
            depends=(str(count), *sorted(reach)),
        )


def heaters(facts: Facts, site: Site) -> Iterator[Notice]:
    """Heaters that people plug in."""
    watts = facts.survey(site).heaters_w
    if watts:
        yield open_item(
            "heaters",
            f"site/{site.id}",
            message(
                N_("People plug in heaters of {watts} W at {site}; a breaker may trip"),
                watts=watts,
                site=site.name,
            ),
            place=Place(file="site_survey.csv", column="heaters_w"),
            found=watts,
            wanted="0",
            remedy=message(N_("Have them put away; no heater on a circuit that feeds equipment.")),
            owner=SITES,
            due=facts.due(14),
            depends=(str(watts),),
        )


def cold_room(facts: Facts, site: Site) -> Iterator[Notice]:
    """Equipment would stand overnight in a voting room that is not heated."""
    for room in facts.rooms(site):
        if room.voting and room.heated_at_night is False:
            yield open_item(
                "room-cold-at-night",
                f"site/{site.id}/room/{room.id}",
                message(
                    N_("The {use} of {site} is not heated at night; paper and devices get cold and damp"),
                    use=room.use or "room",
                    site=site.name,
                ),
                place=Place(file="rooms.csv", column="heated_at_night"),
                found="no",
                wanted="yes",
                remedy=message(N_("Have the heat left on, or bring equipment in on the morning.")),
                owner=SITES,
                due=facts.due(14),
            )


def generator_not_tested(facts: Facts, site: Site) -> Iterator[Notice]:
    """A generator that nobody has run under load within a year before election day."""
    survey = facts.survey(site)
    tested = survey.generator_tested
    if survey.generator and (tested is None or (facts.day - tested).days > GENERATOR_DAYS):
        yield open_item(
            "generator-not-tested",
            f"site/{site.id}",
            message(N_("{site} has a generator; no test under load within a year is told"), site=site.name),
            place=Place(file="site_survey.csv", column="generator_tested"),
            found=tested.isoformat() if tested else "blank",
            remedy=message(N_("Ask who runs it and have it tested; only a qualified person connects it.")),
            owner=SITES,
            due=facts.due(30),
            depends=(tested.isoformat() if tested else "",),
        )


def far_data_port(facts: Facts, site: Site) -> Iterator[Notice]:
    """The nearest wired data port is further away than the county's longest cable."""
    told = [port for port in facts.ports(site) if port.cable_um is not None]
    most = facts.rules.whole("data-cable") * 12 * UM_PER_INCH
    if not told or any((port.cable_um or 0) <= most for port in told):
        return
    nearest = min(told, key=lambda port: port.cable_um or 0)
    yield open_item(
        "data-port-far",
        f"site/{site.id}",
        message(
            N_("The nearest data port of {site} is in room {room}, {found} of cable from check-in"),
            site=site.name,
            room=nearest.room,
            found=format_feet_inches(nearest.cable_um or 0),
        ),
        place=Place(file="ports.csv", column="cable"),
        found=format_feet_inches(nearest.cable_um or 0),
        wanted=format_feet_inches(most),
        remedy=message(N_("Plan check-in without a cable, and try the connection in the room beforehand.")),
        owner=EQUIPMENT,
        due=facts.due(45),
        depends=(nearest.id, str(nearest.cable_um)),
    )


def nobody_can_call(facts: Facts, site: Site) -> Iterator[Notice]:
    """No mobile signal in the room and no other line."""
    survey = facts.survey(site)
    if survey.mobile_bars == 0 and not survey.other_line.strip():
        yield open_item(
            "no-way-to-call",
            f"site/{site.id}",
            message(N_("No mobile signal at {site} and no other line to call from"), site=site.name),
            place=Place(file="site_survey.csv", column="other_line"),
            found="blank",
            remedy=message(N_("Find a desk phone, a radio or a spot with signal, and write it on the card.")),
            owner=SITES,
            due=facts.due(30),
            depends=("0",),
        )


def hours_offline(facts: Facts, site: Site) -> Iterator[Notice]:
    """Check-in is expected to work without network and no printed list goes there."""
    survey = facts.survey(site)
    if survey.offline_min and survey.paper_list is not True:
        yield open_item(
            "offline-without-list",
            f"site/{site.id}",
            message(
                N_("{site} is expected to work {hours} h without network; no printed list goes there"),
                site=site.name,
                hours=-(-survey.offline_min // 60),
            ),
            place=Place(file="site_survey.csv", column="paper_list"),
            found="no" if survey.paper_list is False else "blank",
            wanted="yes",
            remedy=message(N_("Send a printed list, and agree when numbers are called in.")),
            owner=EQUIPMENT,
            due=facts.due(14),
            depends=(str(survey.offline_min),),
        )


RULES: tuple[Rule, ...] = (
    outlets_on_one_circuit,
    one_circuit_in_building,
    printers_and_circuits,
    heaters,
    cold_room,
    generator_not_tested,
    far_data_port,
    nobody_can_call,
    hours_offline,
)
