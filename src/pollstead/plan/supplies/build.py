"""The packing list of a site from station types × counts × planned voters.

Numbers that people enter independently (serials, seal numbers) never stand here: a thing is found by its tag.
"""

from __future__ import annotations

from pollstead.election.rules import CountyRules
from pollstead.election.station_type import IdentifiedBy, StationType, SupplyUse
from pollstead.election.units import PPM, format_feet_inches
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.part import Effort, Outcome, Watch
from pollstead.plan.terms.stations import PackingSite, SitePacking, SuppliesGiven
from pollstead.plan.terms.version import PackingLine, PartOfStation, Station

BALLOTS = "ballots"
"""The unit of an item that takes the county's rule for ballots beyond the planned number of voters."""

GROUPS = (N_("Stations"), N_("Furniture"), N_("Power"), N_("Carts and cases"), N_("Supplies"))
_STATIONS, _FURNITURE, _POWER, _CONTAINERS, _SUPPLIES = GROUPS


def run(
    given: SuppliesGiven, rules: CountyRules, seed: int, effort: Effort, watch: Watch
) -> Outcome[tuple[SitePacking, ...]]:
    """The packing list of every site; nothing here is drawn by chance."""
    types = {t.id: t for t in given.station_types}
    packed = []
    for index, site in enumerate(given.sites):
        watch.step("supplies", index, len(given.sites))
        packed.append(SitePacking(site=site.site, lines=_pack(site, types, rules)))
    return Outcome(tuple(packed), work_units=sum(len(site.lines) for site in packed))


def _pack(site: PackingSite, types: dict[str, StationType], rules: CountyRules) -> tuple[PackingLine, ...]:
    lines: list[PackingLine] = []
    for count in site.counts:
        if count.count:
            mine = [s for s in site.stations if s.station_type == count.station_type]
            lines += _of_type(types[count.station_type], count.count, mine, site.voters, rules)
    lines += [
        line
        for use in site.kind.site_supplies
        if (line := _supply(use, stations=0, containers=0, voters=site.voters, rules=rules)) is not None
    ]
    order = {group: place for place, group in enumerate(GROUPS)}
    return tuple(sorted(_joined(lines), key=lambda line: order[line.group]))


def _of_type(
    station_type: StationType, count: int, stations: list[Station], voters: int, rules: CountyRules
) -> list[PackingLine]:
    # Where early ballots are counted on devices of their own, both sets go out; furniture serves both.
    standing = max(count, len(stations))
    lines = [_part_line(station_type, part.id, standing, stations) for part in station_type.parts]
    for share in station_type.furniture:
        lines.append(
            PackingLine(
                group=_FURNITURE,
                item=share.item,
                quantity=-(-count // share.stations_per_item),
                why=(
                    message(
                        N_("{count} stations of type {type}, {each} at one"),
                        count=count,
                        type=station_type.name,
                        each=share.stations_per_item,
                    ),
                ),
            )
        )
    if station_type.power is not None and station_type.power.cord_um:
        lines.append(
            PackingLine(
                group=_POWER,
                item=N_("cord"),
                quantity=count,
                unit=format_feet_inches(station_type.power.cord_um),
                why=(_one_each(count, station_type),),
            )
        )
    containers, container_line = _containers(station_type, count, stations)
    if container_line is not None:
        lines.append(container_line)
    for use in station_type.supplies:
        line = _supply(use, stations=count, containers=containers, voters=voters, rules=rules)
        if line is not None:
            lines.append(line)
    return lines


def _one_each(count: int, station_type: StationType) -> Message:
    return message(N_("{count} stations of type {type}, one each"), count=count, type=station_type.name)


def _part_line(station_type: StationType, part_id: str, count: int, stations: list[Station]) -> PackingLine:
    part = next(p for p in station_type.parts if p.id == part_id)
    held = [p for station in stations for p in station.parts if p.part == part_id]
    tags = _shown_tags(held) if part.identified_by is IdentifiedBy.SERIAL else ()
    return PackingLine(
        group=_STATIONS,
        item=part.name,
        quantity=count * part.per_station,
        tags=tags,
        why=(
            message(
                N_("{count} stations of type {type}, {each} in each"),
                count=count,
                type=station_type.name,
                each=part.per_station,
            ),
        ),
    )


def _shown_tags(held: list[PartOfStation]) -> tuple[str, ...]:
    """Tags to look for, in order of the stations; a tag that gives the serial away is left out."""
    return tuple(dict.fromkeys(p.tag for p in held if p.tag and not _gives_away(p)))


def _gives_away(held: PartOfStation) -> bool:
    """Whether the tag holds the serial, or a piece of it longer than two characters."""
    return bool(held.serial) and (held.serial in held.tag or (len(held.tag) > 2 and held.tag in held.serial))


def _containers(
    station_type: StationType, count: int, stations: list[Station]
) -> tuple[int, PackingLine | None]:
    """The carts or cases of one type: those that its devices stand in, else as many as its stations fill."""
    if not station_type.container:
        return 0, None
    parts = [part for station in stations for part in station.parts if part.by_serial]
    serials = {part.serial for part in parts if part.serial}
    carts = dict.fromkeys(part.cart for part in parts if part.cart)
    outside = sum(1 for station in stations if not any(part.cart for part in station.parts if part.by_serial))
    loose = -(-outside // station_type.stations_per_container)
    quantity = len(carts) + loose
    return quantity, PackingLine(
        group=_CONTAINERS,
        item=station_type.container,
        quantity=quantity,
        tags=tuple(cart for cart in carts if cart not in serials),
        why=(
            message(
                N_(
                    "{count} stations of type {type}: {carts} named in the fleet, "
                    "{loose} for {outside} others"
                ),
                count=count,
                type=station_type.name,
                carts=len(carts),
                loose=loose,
                outside=outside,
            ),
        ),
    )


def _supply(
    use: SupplyUse, *, stations: int, containers: int, voters: int, rules: CountyRules
) -> PackingLine | None:
    """How much of one item: per voter, station, container and site, and the spare share on top."""
    spare = use.spare_ppm
    if use.unit == BALLOTS and not spare:
        spare = rules.whole("ballot-surplus")
    base_millionths = (
        voters * use.per_voter_ppm
        + (stations * use.per_station + containers * use.per_container + use.per_site) * PPM
    )
    quantity = -(-base_millionths * (PPM + spare) // (PPM * PPM))
    if not quantity:
        return None
    return PackingLine(
        group=_SUPPLIES,
        item=use.item,
        quantity=quantity,
        unit=use.unit,
        why=(
            message(
                N_(
                    "{voters} planned voters × {per_voter} millionths + {stations} stations × "
                    "{per_station} + {containers} containers × {per_container} + {per_site} a site, "
                    "and {spare} millionths more, rounded up"
                ),
                voters=voters,
                per_voter=use.per_voter_ppm,
                stations=stations,
                per_station=use.per_station,
                containers=containers,
                per_container=use.per_container,
                per_site=use.per_site,
                spare=spare,
            ),
        ),
    )


def _joined(lines: list[PackingLine]) -> list[PackingLine]:
    """One line for one thing: the same item of two station types is packed as one sum, with both reasons."""
    joined: dict[tuple[str, str, str], PackingLine] = {}
    for line in lines:
        key = (line.group, line.item, line.unit)
        before = joined.get(key)
        joined[key] = line if before is None else _sum(before, line)
    return list(joined.values())


def _sum(first: PackingLine, second: PackingLine) -> PackingLine:
    return PackingLine(
        group=first.group,
        item=first.item,
        unit=first.unit,
        quantity=first.quantity + second.quantity,
        tags=tuple(dict.fromkeys((*first.tags, *second.tags))),
        why=(*first.why, *second.why),
    )
