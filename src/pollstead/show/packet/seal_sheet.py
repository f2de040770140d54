"""The seal sheet: every seal position of the site, with room for what happens to it on the day."""

from __future__ import annotations

import datetime as dt

from pollstead.election.station_type import Closure, Moment, NumberPolicy
from pollstead.election.words import N_
from pollstead.plan.terms.version import ExpectedSeal, SheetKind, Station
from pollstead.show.cautions import Place
from pollstead.show.packet.common import MOMENTS, line, tick
from pollstead.show.packet.content import (
    Block,
    Cell,
    Column,
    Field,
    FieldKind,
    Heading,
    Pair,
    Signatures,
    Table,
    WhenThen,
    Words,
)
from pollstead.show.packet.draft import Draft, key_for
from pollstead.show.packet.given import SiteGiven


def seal_sheet(given: SiteGiven, date: dt.date, *, brought: bool = True) -> Draft:
    """Every seal position of the site: whole, cut, new seal; numbers to be written, none printed.

    `brought` says whether the site's seals are counted on it.
    """
    say = given.say
    blocks: list[Block] = [*(seals_brought(given) if brought else ())]
    rows: list[tuple[Cell, ...]] = []
    for station in given.site_plan.stations:
        if station.seals:
            tags = given.tags(station)
            name = given.name(station)
            rows.append((Cell(words=f"{name} · {tags}" if tags else name, strong=True, span=5),))
            rows += [_seal_row(given, station, seal) for seal in station.seals]
    if rows:
        blocks += [
            Heading(words=say(N_("Closures and their seals"))),
            Table(
                columns=(
                    Column(title=say(N_("Closure and seal"))),
                    Column(title=say(N_("Whole at opening")), width_mm=26),
                    Column(title=say(N_("Cut at")), width_mm=38),
                    Column(title=say(N_("New seal")), width_mm=44),
                    Column(title=say(N_("Initials of two")), width_mm=24),
                ),
                rows=tuple(rows),
            ),
        ]
    if not blocks:
        blocks.append(Words(words=say(N_("Nothing at this site carries a seal."))))
    blocks += end_of_sheet(given)
    return Draft(
        kind=SheetKind.SEALS,
        key=key_for(SheetKind.SEALS, date),
        title=say(N_("Seal sheet")),
        about="",
        day=given.day_words(date),
        blocks=tuple(blocks),
    )


def seals_brought(given: SiteGiven) -> tuple[Block, ...]:
    """Seals that the site needs, with room for how many were brought and left over; nothing where none."""
    say = given.say
    if not given.site_plan.seal_needs:
        return ()
    needs = tuple(
        (
            Cell(words=need.seal_kind),
            Cell(words=say(MOMENTS[need.moment])),
            Cell(words=str(need.quantity), strong=True),
            Cell(fields=(line(),)),
            Cell(fields=(line(),)),
        )
        for need in given.site_plan.seal_needs
    )
    columns = (
        Column(title=say(N_("Kind of seal"))),
        Column(title=say(N_("When")), width_mm=32),
        Column(title=say(N_("How many")), width_mm=24),
        Column(title=say(N_("Brought")), width_mm=28),
        Column(title=say(N_("Left over")), width_mm=28),
    )
    return (Heading(words=say(N_("Seals for this site"))), Table(columns=columns, rows=needs))


def end_of_sheet(given: SiteGiven) -> tuple[Block, ...]:
    """What to do about a broken seal, cautions, signatures."""
    say = given.say
    return (
        WhenThen(
            title=say(N_("If it differs")),
            pairs=(
                Pair(
                    when=say(N_("A seal is broken or gone")),
                    do=say(N_("Touch nothing there and call the office.")),
                ),
                Pair(
                    when=say(N_("A seal is whole, but the closure opens")),
                    do=say(N_("Leave it as it is and call the office.")),
                ),
            ),
        ),
        say.cautions(Place.SEALS),
        Signatures(
            labels=(say(N_("First person")), say(N_("Second person"))),
            time=say(N_("Finished at")),
            notes=say(N_("Notes")),
        ),
    )


def named_seal(given: SiteGiven, seal: ExpectedSeal, closure: Closure | None) -> str:
    """A seal's position as people call it."""
    if closure is not None and closure.seals > 1:
        return given.say(N_("{name}, seal {position}"), name=seal.name, position=seal.position)
    return seal.name


def closure_of(given: SiteGiven, station: Station, seal: ExpectedSeal) -> Closure | None:
    """The closure of the station type that a seal is on."""
    closure_id = seal.closure.rsplit("/", 1)[-1]
    return next((c for c in given.type_of(station).closures if c.id == closure_id), None)


def put_on_at(seal: ExpectedSeal, closure: Closure | None) -> tuple[tuple[Moment, NumberPolicy], ...]:
    """When a new seal is put on, and whether its number is recorded then."""
    found: list[tuple[Moment, NumberPolicy]] = []
    if seal.applied is not Moment.AFTER_TEST:
        found.append((seal.applied, seal.number_policy))
    if closure is not None:
        found += [(moment, closure.resealed_number) for moment in closure.resealed]
    return tuple(found)


def _seal_row(given: SiteGiven, station: Station, seal: ExpectedSeal) -> tuple[Cell, ...]:
    say = given.say
    closure = closure_of(given, station, seal)
    words = named_seal(given, seal, closure)
    put_on = put_on_at(seal, closure)
    new = tuple(
        line(say(MOMENTS[moment])) if policy is NumberPolicy.RECORDED else tick(say(MOMENTS[moment]))
        for moment, policy in put_on
    )
    cut: tuple[Field, ...] = (Field(kind=FieldKind.TIME),) if seal.cut is not None else ()
    return (
        Cell(words=f"{words} ({seal.seal_kind})" if seal.seal_kind else words),
        Cell(
            fields=(tick(),) if Moment.OPENING in seal.checked else (),
            words="" if Moment.OPENING in seal.checked else "—",
        ),
        Cell(fields=cut, words="" if cut else say(N_("stays on"))),
        Cell(fields=new, words="" if new else say(N_("none"))),
        Cell(fields=(line(),)),
    )
