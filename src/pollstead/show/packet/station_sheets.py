"""Opening and closing sheets: one for each pair of workers, with the devices that the pair takes.

Several pairs work at once, each with its own sheet, in the order in which a voter meets the devices. A site
of several operating days has one sheet a day, with a block of it for each pair.
"""

from __future__ import annotations

import datetime as dt
import math

from msgspec.structs import replace

from pollstead.election.station_type import Moment, SheetLine, StationType
from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind, Station
from pollstead.show.cautions import Place
from pollstead.show.packet.asked import NumberedLines
from pollstead.show.packet.content import Block, Pair, Signatures, WhenThen, Words
from pollstead.show.packet.draft import Draft
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.lines import Line, When
from pollstead.show.packet.sheet_parts import Part, asks_second
from pollstead.show.packet.station_lines import act_line, station_lines
from pollstead.show.packet.wording import CALL_THE_OFFICE, confirmed, what_to_do

ALL, SITE = "all", "site"
DEVICES_OF_A_PAIR = 6
"""So many devices of one type one pair opens or closes; more are shared evenly among pairs."""

_PLACES = {Moment.OPENING: Place.OPENING, Moment.CLOSING: Place.CLOSING}
_KINDS = {Moment.OPENING: SheetKind.OPENING, Moment.CLOSING: SheetKind.CLOSING}
_WHAT_DIFFERS = (
    ("serial-differs", N_("A serial")),
    ("seal-differs", N_("A seal's number, no whole seal, or a closure that is not shut")),
    ("clock-differs", N_("Clock or date")),
    ("counter-not-as-expected", N_("A counter or the zero report")),
)


def station_sheets(given: SiteGiven, when: When, date: dt.date) -> tuple[Draft, ...]:
    """The sheets of all pairs at opening or closing of one day.

    The whole site's own lines come last, those that are to be done before anything else first.
    """
    parts = _parts(given, when, date)
    if when.days > 1 and parts:
        # A site of several days has a sheet a day: its pairs have blocks of it instead of leaves.
        return (_sheet(given, parts, when.moment, date, 0, ALL),)
    pairs = _pairs(parts)
    return tuple(
        _sheet(given, parts, when.moment, date, 0, SITE)
        if not any(part.stations for part in parts)
        else _sheet(given, parts, when.moment, date, number if len(pairs) > 1 else 0, f"pair-{number}")
        for number, parts in enumerate(pairs, start=1)
    )


def _parts(given: SiteGiven, when: When, date: dt.date) -> list[Part]:
    """What the whole site does first, the devices of each type, then the rest of the whole site."""
    moment = when.moment
    whole = given.kind.site_opening if moment is Moment.OPENING else given.kind.site_closing
    first = tuple(act_line(given, line) for line in whole if line.before)
    parts: list[Part] = [Part(moment=moment, lines=first, first=True)] if first else []
    shared: list[Line] = []
    for kind in given.types():
        own = given.days_of(kind.id)
        # Devices that stand on some days only count the days from their own first one.
        at = replace(when, day=own.index(date), days=len(own)) if date in own else when
        lines = station_lines(given, kind, _sheet_lines(kind, moment), at)
        if not kind.serial_parts() and all(not line.number for line in lines):
            # Booths and the like: nothing to read on any one of them, so their acts stand once.
            shared += [replace(line, words=f"{kind.name}: {line.words}") for line in lines]
        elif lines:
            parts.append(Part(moment=moment, lines=lines, kind=kind, stations=given.stations(kind.id)))
    own_lines = (*shared, *(act_line(given, line) for line in whole if not line.before))
    if own_lines:
        parts.append(Part(moment=moment, lines=own_lines))
    return parts


def _pairs(parts: list[Part]) -> list[list[Part]]:
    """The parts of each pair's sheet, by numbers of devices alone: one more line moves nothing elsewhere.

    Single devices and the whole site share the last sheet; without single devices the pair with the fewest
    has the site's lines.
    """
    pairs = [[share] for part in parts if part.places > 1 for share in _shares(part)]
    last = [part for part in parts if part.places <= 1]
    if pairs and last and not any(part.stations for part in last):
        fewest = min(pairs, key=lambda pair: pair[0].places)  # The site's first lines lead that sheet.
        fewest[:] = [*(p for p in last if p.first), *fewest, *(p for p in last if not p.first)]
        return pairs
    return [*pairs, last] if last else pairs


def _shares(part: Part) -> list[Part]:
    """A part, or several with even numbers of its devices where they are too many for one pair."""
    size = math.ceil(part.places / math.ceil(part.places / DEVICES_OF_A_PAIR))
    numbers = tuple(dict.fromkeys(station.number for station in part.stations))
    shares = [numbers[at : at + size] for at in range(0, len(numbers), size)]
    return [replace(part, stations=tuple(s for s in part.stations if s.number in share)) for share in shares]


def _sheet_lines(kind: StationType, moment: Moment) -> tuple[SheetLine, ...]:
    return kind.opening if moment is Moment.OPENING else kind.closing + kind.pack_away


def _sheet(
    given: SiteGiven, parts: list[Part], moment: Moment, date: dt.date, pair: int, whose: str
) -> Draft:
    say = given.say
    numbered = NumberedLines()
    lines = tuple(line for part in parts for line in part.lines)
    two = any(asks_second(given, line, moment) for line in lines)
    blocks: list[Block] = [*_intro(given, lines, two)]
    shared = whose == ALL
    for block, part in enumerate(parts, start=1):
        blocks += part.blocks(
            given, numbered, heading=shared or len(parts) > 1, pair=block if shared and part.stations else 0
        )
    blocks += [say.cautions(_PLACES[moment]), _signatures(given, lines, two, moment)]
    stations: tuple[Station, ...] = tuple(station for part in parts for station in part.stations)
    about = say(N_("All stations")) if shared else _about(given, parts)
    tags = given.tags(stations[0]) if len(stations) == 1 == len(parts) else ""
    return Draft(
        kind=_KINDS[moment],
        key=f"{_KINDS[moment].name}/{date.isoformat()}/{whose}",
        title=say(N_("Opening sheet") if moment is Moment.OPENING else N_("Closing sheet")),
        about=say(N_("Pair {number}: {about}"), number=pair, about=about) if pair else about,
        tags=say(N_("tag {tags}"), tags=tags) if tags else "",
        day=given.day_words(date),
        blocks=tuple(blocks),
        foot=_differs(given, lines, moment),
        stations=tuple(station.id for station in stations),
        lines=numbered.lines,
    )


def _about(given: SiteGiven, parts: list[Part]) -> str:
    """What a sheet is about: its parts by name; the whole site once, even where it does something first."""
    whole = any(not part.stations and not part.first for part in parts)
    return " · ".join(part.name(given) for part in parts if not (part.first and (whole or len(parts) > 1)))


def _intro(given: SiteGiven, lines: tuple[Line, ...], two: bool) -> tuple[Block, ...]:
    say = given.say
    if not any(line.number for line in lines):
        return ()
    compared = any(line.compared for line in lines)
    if two and compared:
        words = say(
            N_(
                "Two people. Each writes what is read, without the other's help. Open the "
                "expected list only after both have written; then tick whether it matches."
            )
        )
    elif two:
        words = say(N_("Two people. Each writes what is read, without the other's help."))
    elif compared:
        words = say(
            N_("Write what you read. Open the expected list only after that; then tick whether it matches.")
        )
    else:
        words = say(N_("Write what you read."))
    return (Words(words=words),)


def _differs(given: SiteGiven, lines: tuple[Line, ...], moment: Moment) -> WhenThen | None:
    """What to do when something differs, in the county rules' word; one line for the same action."""
    say, rules = given.say, given.election.rules
    present = {line.rule for line in lines if line.rule}
    by_action: dict[str, list[str]] = {}
    for rule, what in _WHAT_DIFFERS:
        if rule in present:
            by_action.setdefault(what_to_do(say, rules, rule), []).append(say(what))
    pairs = [Pair(when=" · ".join(whats), do=action) for action, whats in by_action.items()]
    if moment is Moment.CLOSING and any(line.number for line in lines):
        times = rules.whole("counts-at-closing")
        pairs.append(
            Pair(
                when=say(N_("Two readings differ")),
                do=say(N_("Read again, {times} times at most; then write both down, and go on."), times=times)
                if confirmed(rules, "counts-at-closing")
                else say(CALL_THE_OFFICE),
            )
        )
    return WhenThen(title=say(N_("If it differs")), pairs=tuple(pairs)) if pairs else None


def _signatures(given: SiteGiven, lines: tuple[Line, ...], two: bool, moment: Moment) -> Signatures:
    say = given.say
    second = two or any(line.second_person for line in lines)
    labels = (say(N_("First person")), say(N_("Second person"))) if second else (say(N_("Name")),)
    return Signatures(
        labels=labels,
        time=say(N_("Finished at"))
        if moment is Moment.OPENING
        else say(N_("Finished at; past midnight go on counting: 24:40")),
        notes=say(N_("Lines that differ, and what they read; notes"))
        if any(line.compared for line in lines)
        else say(N_("Notes")),
    )
