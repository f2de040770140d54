"""The driver page: stops in order, what goes to each door, whom to call, boxes to sign, the way home.

The word of the door card is not on it: the two read it at the door and write it down. No equipment code, no
seal number and nothing that opens a door stands here.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind
from pollstead.reconcile.custody.loads import Drive, Stop, site_key
from pollstead.show.cautions import Place
from pollstead.show.packet.common import line, tick
from pollstead.show.packet.content import (
    Block,
    Cell,
    Column,
    Heading,
    Print,
    Signatures,
    Table,
    Words,
)
from pollstead.show.packet.warehouse import Printing, warehouse_print
from pollstead.show.packet.wording import Say
from pollstead.work.contacts_of_stops import Contact

CALL_THE_OFFICE: Final = N_("call the office")


def driver_pages(
    given: Printing, drives: tuple[Drive, ...], contacts: Mapping[str, tuple[Contact, ...]]
) -> Print:
    """One page or more for each drive; `contacts` by site id."""
    say = Say(given.language)
    drafts = [
        (
            SheetKind.PACKING,
            f"DRIVE/{drive.id}",
            say(N_("Driver page")),
            f"{drive.vehicle} {drive.name} · {say.date(drive.date)}".strip(),
            _blocks(given.election, say, drive, contacts),
        )
        for drive in drives
    ]
    return warehouse_print(given, say, say(N_("Driver pages")), drafts)


def _blocks(
    election: Election, say: Say, drive: Drive, contacts: Mapping[str, tuple[Contact, ...]]
) -> tuple[Block, ...]:
    last_first = ", ".join(str(stop.number) for stop in reversed(drive.stops))
    blocks: list[Block] = [
        say.cautions(Place.ROUTE),
        Words(
            words=say(
                N_("Load in this order of stops: {stops}. The last stop is loaded first."), stops=last_first
            )
        ),
        Words(
            words=say(
                N_(
                    "At each door: read the word on the door card, write it down, then hand over. If there "
                    "is no card, or nobody is there, call the office before anything is left."
                )
            ),
            strong=True,
        ),
    ]
    for stop in drive.stops:
        blocks += _stop(election, say, stop, contacts.get(stop.site, ()))
    blocks.append(Heading(words=say(N_("Back in the warehouse"))))
    blocks.append(
        Signatures(
            labels=(say(N_("First of the two in the vehicle")), say(N_("Received in the warehouse by"))),
            time=say(N_("Time")),
            notes=say(N_("Not brought back, and why")),
        )
    )
    return tuple(blocks)


def _stop(election: Election, say: Say, stop: Stop, contacts: tuple[Contact, ...]) -> list[Block]:
    site = next((s for s in election.sites if site_key(s.id) == stop.site), None)
    due = (
        "" if stop.due_ms is None else Instant(utc_ms=stop.due_ms).local(election.zone_name).strftime("%H:%M")
    )
    title = say(N_("Stop {number}: {site}"), number=stop.number, site=f"{stop.site} {stop.name}")
    if due:
        title = f"{title} · {say(N_('due {time}'), time=due)}"
    blocks: list[Block] = [Heading(words=title)]
    where = [site.address if site is not None else "", *_doors(election, say, stop.site)]
    blocks.append(
        Words(words=" · ".join(filter(None, where)) or say(N_("No address is told: call the office.")))
    )
    for near in stop.near:
        words = say(
            N_("Easily taken for another site ({why}): {site} {name}."),
            why=say(near.why),
            site=near.site,
            name=near.name,
        )
        blocks.append(Words(words=words, strong=True))
    called = "; ".join(f"{say(c.part)}: {c.name} {c.phone or say(CALL_THE_OFFICE)}" for c in contacts) or say(
        N_("Nobody is named: call the office.")
    )
    blocks.append(Words(words=called))
    blocks.append(
        Table(
            columns=(
                Column(title=say(N_("Loaded")), width_mm=19),
                Column(title=say(N_("Cart or case"))),
                Column(title=say(N_("Devices")), width_mm=20),
                Column(title=say(N_("Handed over")), width_mm=28),
                Column(title=say(N_("Picked up")), width_mm=26),
            ),
            rows=tuple(
                (
                    Cell(fields=(tick(),)),
                    Cell(words=thing.code, strong=True, whole=True),
                    Cell(words=str(thing.devices) if thing.devices else ""),
                    Cell(fields=(tick(),)),
                    Cell(fields=(tick(),)),
                )
                for thing in stop.things
            ),
        )
    )
    blocks.append(
        Table(
            columns=(
                Column(title=say(N_("Word on the door card")), width_mm=46),
                Column(title=say(N_("Gave: name and initials"))),
                Column(title=say(N_("Received: name and initials"))),
                Column(title=say(N_("Witness, if asked for")), width_mm=34),
                Column(title=say(N_("Time")), width_mm=20),
            ),
            rows=(tuple(Cell(fields=(line(),)) for _ in range(5)),),
        )
    )
    return blocks


def _doors(election: Election, say: Say, site: str) -> list[str]:
    """The room that is voted in and the way in for carts, as the tables have them."""
    rooms = [room.name for room in election.rooms if site_key(room.site) == site and room.voting]
    found = [say(N_("Room: {name}"), name=name) for name in rooms if name]
    for survey in election.site_survey:
        if site_key(survey.site) == site and survey.way_in_for_carts:
            found.append(say(N_("Way in for carts: {way}"), way=survey.way_in_for_carts))
    return found
