"""One seal sheet for several days on which the same seals are looked at: a column for each day, ticks alone.

No number stands on it: a new seal's number is written on the closing sheet, and who reads it the next morning
must not have it in hand.
"""

from __future__ import annotations

import datetime as dt
import itertools

from pollstead.election.station_type import Moment
from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind, Station
from pollstead.show.packet.common import MOMENTS, line, tick
from pollstead.show.packet.content import Block, Cell, Column, Heading, Table, Words
from pollstead.show.packet.draft import Draft, key_for
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.seal_sheet import (
    closure_of,
    end_of_sheet,
    named_seal,
    put_on_at,
    seal_sheet,
    seals_brought,
)

_DAY_MM = 12
_MOST_DAYS = 11
"""So many columns leave room for the closure's words."""


def seal_sheets(given: SiteGiven, dates: tuple[dt.date, ...]) -> dict[dt.date, Draft]:
    """The seal sheets of a site, each by the first of the days, with the same stations, that it is for."""
    made: dict[dt.date, Draft] = {}
    for _, same in itertools.groupby(
        dates, key=lambda date: [s.id for s in given.on(date).site_plan.stations]
    ):
        group = tuple(same)
        for at in range(0, len(group), _MOST_DAYS):
            days = group[at : at + _MOST_DAYS]
            here, first = given.on(days[0]), not made
            made[days[0]] = (
                seal_sheet(here, days[0], brought=first) if len(days) == 1 else _days_sheet(here, days, first)
            )
    return made


def _days_sheet(given: SiteGiven, dates: tuple[dt.date, ...], brought: bool) -> Draft:
    say = given.say
    blocks: list[Block] = [*(seals_brought(given) if brought else ())]
    rows: list[tuple[Cell, ...]] = []
    for station in given.site_plan.stations:
        acts = _acts(given, station)
        if not acts:
            continue
        tags, name = given.tags(station), given.name(station)
        rows.append((Cell(words=f"{name} · {tags}" if tags else name, strong=True, span=len(dates) + 1),))
        rows += [(Cell(words=act), *(Cell(fields=(tick(),)) for _ in dates)) for act in acts]
    if rows:
        for words in (say(N_("Initials, first person")), say(N_("Initials, second person"))):
            rows.append((Cell(words=words), *(Cell(fields=(line(),)) for _ in dates)))
        columns = (
            Column(title=say(N_("Closure and seal"))),
            *(Column(title=say.short_date(date), width_mm=_DAY_MM) for date in dates),
        )
        told = N_(
            "Tick it on its day. Look at the seal and tug: is it shut? The number of a new seal is written "
            "on the closing sheet, never here: who reads it the next morning must not see it before."
        )
        blocks += [
            Heading(words=say(N_("Closures and their seals"))),
            Words(words=say(told)),
            Table(columns=columns, rows=tuple(rows)),
        ]
    else:
        blocks.append(Words(words=say(N_("Nothing at this site carries a seal."))))
    blocks += end_of_sheet(given)
    words = say(N_("{first} to {last}"), first=say.date(dates[0]), last=say.date(dates[-1]))
    return Draft(
        kind=SheetKind.SEALS,
        key=key_for(SheetKind.SEALS, dates[0]),
        title=say(N_("Seal sheet")),
        about=say(N_("{count} days"), count=len(dates)),
        day=words,
        blocks=tuple(blocks),
    )


def _acts(given: SiteGiven, station: Station) -> list[str]:
    """What is done about each seal of a station on a day, in words."""
    say = given.say
    acts = []
    for seal in station.seals:
        closure = closure_of(given, station, seal)
        name = named_seal(given, seal, closure)
        if Moment.OPENING in seal.checked:
            acts.append(say(N_("{name}: whole and shut"), name=name))
        acts += [
            say(N_("{name}: new seal, {when}"), name=name, when=say(MOMENTS[moment]))
            for moment, _ in put_on_at(seal, closure)
        ]
    return acts
