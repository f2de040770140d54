"""Opening and closing sheets: one for each device, or one table sheet for a handful of many devices.

Each is a leaf of its own, so that several pairs work at once.
"""

from __future__ import annotations

import datetime as dt

from msgspec.structs import replace

from pollstead.election.station_type import Moment, SheetLine, StationType
from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind, Station
from pollstead.show.cautions import Place
from pollstead.show.packet.asked import NumberedLines
from pollstead.show.packet.content import (
    Block,
    Cell,
    Column,
    Field,
    FieldKind,
    Pair,
    Signatures,
    Table,
    WhenThen,
    Words,
)
from pollstead.show.packet.draft import Draft
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.lines import Line, When
from pollstead.show.packet.station_lines import act_line, station_lines
from pollstead.show.packet.wording import CALL_THE_OFFICE, confirmed, what_to_do

DEVICES_ON_A_TABLE_SHEET = 3
"""One pair works down one device after the other; three columns leave room to write a number."""

_BOX_MM = 7
_PLACES = {Moment.OPENING: Place.OPENING, Moment.CLOSING: Place.CLOSING}
_KINDS = {Moment.OPENING: SheetKind.OPENING, Moment.CLOSING: SheetKind.CLOSING}
_RULES = {Moment.OPENING: "second-person-at-opening", Moment.CLOSING: "second-person-at-closing"}
_WHAT_DIFFERS = (
    ("serial-differs", N_("A serial")),
    ("seal-differs", N_("A seal's number, or no whole seal")),
    ("clock-differs", N_("Clock or date")),
    ("counter-not-as-expected", N_("A counter or the zero report")),
)


def station_sheets(given: SiteGiven, when: When, date: dt.date) -> tuple[Draft, ...]:
    """The sheets of all stations at opening or closing of one day, then the whole site's own lines."""
    moment = when.moment
    sheets: list[Draft] = []
    shared: list[Line] = []
    for kind in given.types():
        own = given.days_of(kind.id)
        # Devices that stand on some days only count the days from their own first one.
        at = replace(when, day=own.index(date), days=len(own)) if date in own else when
        lines = station_lines(given, kind, _sheet_lines(kind, moment), at)
        if not kind.serial_parts() and all(not line.number for line in lines):
            # Booths and the like: nothing to read on any one of them, so their acts stand once.
            shared += [replace(line, words=f"{kind.name}: {line.words}") for line in lines]
            continue
        if not lines:
            continue
        stations = given.stations(kind.id)
        if len(stations) >= kind.table_sheet_from:
            size = _even_size(len(stations))
            for start in range(0, len(stations), size):
                sheets.append(_table_sheet(given, kind, stations[start : start + size], lines, moment, date))
        else:
            sheets.extend(_device_sheet(given, kind, s, lines, moment, date) for s in stations)
    whole = given.kind.site_opening if moment is Moment.OPENING else given.kind.site_closing
    if whole or shared:
        lines = (*shared, *(act_line(given, line) for line in whole))
        numbered = NumberedLines()
        sheets.append(
            Draft(
                kind=_KINDS[moment],
                key=f"{_KINDS[moment].name}/{date.isoformat()}/site",
                title=_title(given, moment),
                about=given.say(N_("The whole site")),
                day=given.day_words(date),
                blocks=_blocks(given, lines, moment, _number_all(numbered, given, lines)),
                lines=numbered.lines,
            )
        )
    return tuple(sheets)


def _even_size(count: int) -> int:
    """Devices on each table sheet, so that the last sheet is not left with one of them."""
    sheets = -(-count // DEVICES_ON_A_TABLE_SHEET)
    return -(-count // sheets)


def _sheet_lines(kind: StationType, moment: Moment) -> tuple[SheetLine, ...]:
    return kind.opening if moment is Moment.OPENING else kind.closing + kind.pack_away


def _title(given: SiteGiven, moment: Moment) -> str:
    return given.say(N_("Opening sheet") if moment is Moment.OPENING else N_("Closing sheet"))


def _device_sheet(
    given: SiteGiven,
    kind: StationType,
    station: Station,
    lines: tuple[Line, ...],
    moment: Moment,
    date: dt.date,
) -> Draft:
    tags = given.tags(station)
    numbered = NumberedLines()
    return Draft(
        kind=_KINDS[moment],
        key=f"{_KINDS[moment].name}/{date.isoformat()}/{station.id}",
        title=_title(given, moment),
        about=given.name(station),
        tags=given.say(N_("tag {tags}"), tags=tags) if tags else "",
        day=given.day_words(date),
        blocks=_blocks(given, lines, moment, _number_all(numbered, given, lines, kind, station)),
        stations=(station.id,),
        lines=numbered.lines,
    )


def _number_all(
    numbered: NumberedLines,
    given: SiteGiven,
    lines: tuple[Line, ...],
    kind: StationType | None = None,
    station: Station | None = None,
) -> tuple[str, ...]:
    """The numbers of the lines of one station, or of the whole site."""
    return tuple(numbered.ask(line.ask, line.words, kind, station, given.site.id) for line in lines)


def _blocks(
    given: SiteGiven, lines: tuple[Line, ...], moment: Moment, numbers: tuple[str, ...]
) -> tuple[Block, ...]:
    two = _two_readers(given, lines, moment)
    return (
        *_intro(given, lines, two, moment),
        _device_table(given, lines, two, moment, numbers),
        given.say.cautions(_PLACES[moment]),
        _signatures(given, lines, two),
    )


def _two_readers(given: SiteGiven, lines: tuple[Line, ...], moment: Moment) -> bool:
    """Whether any number is read by two people: the county rule asks for it, or a line does."""
    rule = given.election.rules.choice(_RULES[moment]) == "yes"
    return any(line.number and (rule or line.second_person) for line in lines)


def _asks_second(given: SiteGiven, line: Line, moment: Moment) -> bool:
    rule = given.election.rules.choice(_RULES[moment]) == "yes"
    return line.number and (rule or line.second_person)


def _intro(given: SiteGiven, lines: tuple[Line, ...], two: bool, moment: Moment) -> tuple[Block, ...]:
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


def _device_table(
    given: SiteGiven, lines: tuple[Line, ...], two: bool, moment: Moment, numbers: tuple[str, ...]
) -> Table:
    say = given.say
    compared = any(line.compared for line in lines)
    columns = [Column(title=say(N_("What to do")))]
    reader_mm = 53 if two else 78
    columns.append(
        Column(title=say(N_("First reader")) if two else say(N_("Write or tick")), width_mm=reader_mm)
    )
    if two:
        columns.append(Column(title=say(N_("Second reader")), width_mm=reader_mm))
    if compared:
        columns.append(Column(title=say(N_("Compared")), width_mm=26))
    rows: list[tuple[Cell, ...]] = []
    for number, line in zip(numbers, lines, strict=True):
        fields = tuple(_fitting(field, reader_mm) for field in line.fields)
        asks = two and _asks_second(given, line, moment)
        wide = 1 if asks or not two else 2
        row = [Cell(line=number, words=_words(line)), Cell(fields=fields, span=wide)]
        if asks:
            row.append(Cell(fields=fields))
        if compared:
            ticks = (
                Field(kind=FieldKind.TICK, label=say(N_("matches"))),
                Field(kind=FieldKind.TICK, label=say(N_("differs"))),
            )
            row.append(Cell(fields=ticks if line.compared else ()))
        rows.append(tuple(row))
    return Table(columns=tuple(columns), rows=tuple(rows), foot=_differs(given, lines, moment))


def _words(line: Line) -> str:
    """A line's words and explanation, as one text."""
    return line.words + (f". {line.more}" if line.more else "")


def _fitting(field: Field, width_mm: int) -> Field:
    """Digit boxes where they fit into the column, else a line to write on."""
    if field.kind is FieldKind.BOXES and field.count * _BOX_MM > width_mm - 4:
        return Field(kind=FieldKind.LINE, label=field.label)
    return field


def _table_sheet(
    given: SiteGiven,
    kind: StationType,
    stations: tuple[Station, ...],
    lines: tuple[Line, ...],
    moment: Moment,
    date: dt.date,
) -> Draft:
    say = given.say
    two = _two_readers(given, lines, moment)
    columns = [Column(title=say(N_("What to do")), width_mm=43)]
    for station in stations:
        tags = given.tags(station).replace(", ", "\n")
        columns.append(Column(title=f"{given.name(station)}\n{tags}" if tags else given.name(station)))
    numbered = NumberedLines()
    rows: list[tuple[Cell, ...]] = []
    for line in lines:
        fields = _narrow_fields(given, line, moment)
        cells = [
            Cell(line=numbered.ask(line.ask, line.words, kind, station, given.site.id), fields=fields)
            for station in stations
        ]
        rows.append((Cell(words=_words(line)), *cells))
    first, last = stations[0].number, stations[-1].number
    about = say(N_("{name} {first} to {last}"), name=kind.name, first=first, last=last)
    return Draft(
        kind=_KINDS[moment],
        key=f"{_KINDS[moment].name}/{date.isoformat()}/{stations[0].id}..{stations[-1].number}",
        title=_title(given, moment),
        about=about if first != last else given.name(stations[0]),
        day=given.day_words(date),
        blocks=(
            *_intro(given, lines, two, moment),
            Words(words=say(N_("One pair takes this sheet and works down one column after the other."))),
            Table(columns=tuple(columns), rows=tuple(rows), foot=_differs(given, lines, moment)),
            say.cautions(_PLACES[moment]),
            _signatures(given, lines, two),
        ),
        stations=tuple(station.id for station in stations),
        lines=numbered.lines,
    )


def _narrow_fields(given: SiteGiven, line: Line, moment: Moment) -> tuple[Field, ...]:
    """The fields of a line in a narrow column: lines to write on, one for each reader, and short ticks."""
    say = given.say
    second = _asks_second(given, line, moment)
    made: list[Field] = []
    for field in line.fields:
        if field.kind is FieldKind.TICK:
            made.append(replace(field, half=len(line.fields) > 1 and not line.number))
        elif second:
            made += [
                Field(kind=FieldKind.LINE, label=f"{field.label} {reader}".strip())
                for reader in (say(N_("1st")), say(N_("2nd")))
            ]
        else:
            made.append(Field(kind=FieldKind.LINE, label=field.label))
    if line.compared:
        made += [
            Field(kind=FieldKind.TICK, label=say(N_("matches")), half=True),
            Field(kind=FieldKind.TICK, label=say(N_("differs")), half=True),
        ]
    return tuple(made)


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


def _signatures(given: SiteGiven, lines: tuple[Line, ...], two: bool) -> Signatures:
    say = given.say
    second = two or any(line.second_person for line in lines)
    labels = (say(N_("First person")), say(N_("Second person"))) if second else (say(N_("Name")),)
    return Signatures(labels=labels, time=say(N_("Finished at")), notes=say(N_("Notes")))
