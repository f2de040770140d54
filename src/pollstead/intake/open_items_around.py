"""Open items in the tables about buildings and surroundings: names that lead nowhere."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from pollstead.election.buildings import Circuit, Door, Outlet, Port, Room, RoomCorner, SiteAccess
from pollstead.election.contacts import SiteContact
from pollstead.election.county import Person, Site
from pollstead.election.notice import Notice, Place
from pollstead.election.surroundings import DeliveryStop, SiteRoute, Vehicle
from pollstead.election.words import N_, message
from pollstead.intake.notices import due_before, open_item
from pollstead.intake.tables import SITES
from pollstead.intake.tables_around import TABLES_AROUND
from pollstead.intake.tables_contacts import TABLES_OF_CONTACTS
from pollstead.intake.taken import Taken


def names_around_that_lead_nowhere(taken: Taken) -> Iterator[Notice]:
    """Rows of sites, rooms, circuits, vehicles and people that no table lists."""
    sites = {s.id for _, s in taken.of(Site)}
    rooms = {(r.site, r.id) for _, r in taken.of(Room)}
    circuits = {(c.site, c.id) for _, c in taken.of(Circuit)}
    vehicles = {v.id for _, v in taken.of(Vehicle)}
    people = {p.id for _, p in taken.of(Person)}
    lost: dict[tuple[str, str], list[tuple[int, str]]] = {}

    def look(table: str, column: str, row: int, name: str, known: bool) -> None:
        if name and not known:
            lost.setdefault((table, column), []).append((row, name))

    for table in (*TABLES_AROUND, TABLES_OF_CONTACTS[0]):
        for row, value in taken.of(table.row_type):
            site = str(getattr(value, "site", ""))
            look(table.name, "site", row, site, not sites or site in sites)
    for row_type, name in (
        (RoomCorner, "room_corners"),
        (Door, "doors"),
        (Outlet, "outlets"),
        (Port, "ports"),
    ):
        for row, value in taken.of(row_type):
            room = str(getattr(value, "room", ""))
            look(name, "room", row, room, not rooms or (str(getattr(value, "site", "")), room) in rooms)
    for row, outlet in taken.of(Outlet):
        known = not circuits or (outlet.site, outlet.circuit) in circuits
        look("outlets", "circuit", row, outlet.circuit, known)
    for row, access in taken.of(SiteAccess):
        look("site_access", "backup_site", row, access.backup_site, access.backup_site in sites)
    for row, route in taken.of(SiteRoute):
        look("site_routes", "vehicle", row, route.vehicle, not vehicles or route.vehicle in vehicles)
        look("site_routes", "returns_to", row, route.returns_to, route.returns_to in sites)
        lead = route.receiving_lead
        look("site_routes", "receiving_lead", row, lead, not people or lead in people)
    for row, stop in taken.of(DeliveryStop):
        look("delivery_stops", "vehicle", row, stop.vehicle, not vehicles or stop.vehicle in vehicles)
    for row, contact in taken.of(SiteContact):
        look("site_contacts", "person", row, contact.person, not people or contact.person in people)
    for (name, column), found in sorted(lost.items()):
        names = list(dict.fromkeys(text for _, text in found))
        listed = ", ".join(names[:8]) + (" …" if len(names) > 8 else "")
        yield open_item(
            "name-leads-nowhere",
            f"{name}.csv/{column}",
            message(
                N_("{count} rows of {file} name a {column} that no table lists ({names})"),
                count=len(found),
                file=f"{name}.csv",
                column=column,
                names=listed,
            ),
            place=Place(file=f"{name}.csv", row=found[0][0], column=column),
            found=listed,
            remedy=message(N_("Look for a typing error; what cannot be joined is not used.")),
            owner=SITES,
            due=due_before(taken.election_day, 60),
            depends=tuple(names),
        )


CHECKS: tuple[Callable[[Taken], Iterator[Notice]], ...] = (names_around_that_lead_nowhere,)
