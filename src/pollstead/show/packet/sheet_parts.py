"""Parts of opening and closing sheets: the lines of one device down the page, of a few side by side, of many
with a row for each.
"""

from __future__ import annotations

import math

from msgspec.structs import replace

from pollstead.election.station_type import Moment, StationType
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.terms.version import Station
from pollstead.show.packet.asked import NumberedLines
from pollstead.show.packet.content import Block, Cell, Column, Field, FieldKind, Heading, Table
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.lines import Line

SIDE_BY_SIDE = 3
"""So many devices of one type stand side by side; more have a row each."""

_TEXT_MM = 184
_BOX_MM, _INSET_MM, _LETTER_MM = 7, 3.2, 1.85
_NAME_MM, _NUMBER_OF_LINE_MM, _HAND_MM = 36, 9.5, 3.3
_WORDS_MM = {2: 68, 3: 46}
"""Words beside so many devices; each keeps room for a number written by hand."""

_SECOND_RULES = {
    Moment.OPENING: "second-person-at-opening",
    Moment.CLOSING: "second-person-at-closing",
}


class Part(Value, frozen=True, kw_only=True):
    """Devices of one type that are opened or closed together, or the whole site's own lines.

    `kind` and `stations` are empty for the site's own; `first` are those that come before the devices.
    """

    moment: Moment
    lines: tuple[Line, ...]
    kind: StationType | None = None
    stations: tuple[Station, ...] = ()
    first: bool = False

    @property
    def places(self) -> int:
        """Places where a device stands: one that was taken out shares its place with the one put in."""
        return len({station.number for station in self.stations})

    def name(self, given: SiteGiven) -> str:
        """What the part is about, as people call it."""
        if self.kind is None:
            return given.say(N_("First of all") if self.first else N_("The whole site"))
        first, last = self.stations[0], self.stations[-1]
        if self.places == 1:
            return " · ".join(given.name(station) for station in self.stations)
        words = given.say(
            N_("{name} {first} to {last}"), name=self.kind.name, first=first.number, last=last.number
        )
        return given.say(N_("{station} (early voting)"), station=words) if first.last_day else words

    def _has_rows(self, given: SiteGiven) -> bool:
        """Whether each device has a row: where there are many, and their lines fit across the paper."""
        count = len(self.stations)
        many = self.kind is not None and count > SIDE_BY_SIDE and count >= self.kind.table_sheet_from
        return many and sum(_widths(given, self)) <= _TEXT_MM - _NAME_MM

    def blocks(
        self, given: SiteGiven, numbered: NumberedLines, *, heading: bool, pair: int = 0
    ) -> tuple[Block, ...]:
        """The part as it stands on its sheet, its lines numbered; `heading` where others stand there too.

        The heading names the `pair` of workers where several share a sheet (0: they do not).
        """
        made: list[Block] = []
        if heading:
            tags = given.tags(self.stations[0]) if len(self.stations) == 1 else ""
            name = self.name(given)
            if pair:
                name = given.say(N_("Pair {number}: {about}"), number=pair, about=name)
            made.append(Heading(words=f"{name} · {given.say(N_('tag {tags}'), tags=tags)}" if tags else name))
        if self._has_rows(given):
            made.append(_device_rows(given, self, numbered))
            return tuple(made)
        for some in _side_by_side(self.stations):
            one = replace(self, stations=some)
            made.append(
                _device_columns(given, one, numbered) if len(some) > 1 else _one_device(given, one, numbered)
            )
        return tuple(made)


def asks_second(given: SiteGiven, line: Line, moment: Moment) -> bool:
    """Whether a second person reads this line: the county's rule asks for it, or the line does."""
    rule = given.election.rules.choice(_SECOND_RULES[moment]) == "yes"
    return line.number and (rule or line.second_person)


def _number(
    given: SiteGiven, numbered: NumberedLines, part: Part, line: Line, station: Station | None
) -> str:
    return numbered.ask(line.ask, line.words, part.kind, station, given.site.id)


def _words(line: Line) -> str:
    """A line's words and explanation, as one text."""
    return line.words + (f". {line.more}" if line.more else "")


# One device: its lines down the page, digit boxes for each reader. ---------------------------------------


def _one_device(given: SiteGiven, part: Part, numbered: NumberedLines) -> Table:
    say, lines = given.say, part.lines
    station = part.stations[0] if part.stations else None
    two = any(asks_second(given, line, part.moment) for line in lines)
    compared = any(line.compared for line in lines)
    columns = [Column(title=say(N_("What to do")))]
    reader_mm = _reader_mm(two, lines)
    columns.append(
        Column(title=say(N_("First reader")) if two else say(N_("Write or tick")), width_mm=reader_mm)
    )
    if two:
        columns.append(Column(title=say(N_("Second reader")), width_mm=reader_mm))
    if compared:
        columns.append(Column(title=say(N_("Compared")), width_mm=26))
    rows: list[tuple[Cell, ...]] = []
    for line in lines:
        fields = tuple(_fitting(field, reader_mm) for field in line.fields)
        asks = two and asks_second(given, line, part.moment)
        wide = 1 if asks or not two else 2
        number = _number(given, numbered, part, line, station)
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
    return Table(columns=tuple(columns), rows=tuple(rows))


def _reader_mm(two: bool, lines: tuple[Line, ...]) -> int:
    if all(field.kind is FieldKind.TICK for line in lines for field in line.fields):
        return 34
    return 53 if two else 78


def _fitting(field: Field, width_mm: int) -> Field:
    """Digit boxes where they fit into the column, else a line to write on."""
    if field.kind is FieldKind.BOXES and field.count * _BOX_MM > width_mm - 4:
        return Field(kind=FieldKind.LINE, label=field.label)
    return field


# A few devices: a column for each, lines down the page. --------------------------------------------------


def _device_columns(given: SiteGiven, part: Part, numbered: NumberedLines) -> Table:
    say = given.say
    columns = [Column(title=say(N_("What to do")), width_mm=_WORDS_MM[len(part.stations)])]
    for station in part.stations:
        tags = given.tags(station).replace(", ", "\n")
        columns.append(Column(title=f"{given.name(station)}\n{tags}" if tags else given.name(station)))
    rows: list[tuple[Cell, ...]] = []
    for line in part.lines:
        fields = _narrow_fields(given, line, part.moment)
        cells = [
            Cell(line=_number(given, numbered, part, line, station), fields=fields)
            for station in part.stations
        ]
        rows.append((Cell(words=_words(line)), *cells))
    if any(line.compared for line in part.lines):
        compared = (Field(kind=FieldKind.TICK, label=say(N_("all match"))),)
        rows.append(
            (
                Cell(words=say(N_("Compared with the expected list"))),
                *(Cell(fields=compared) for _ in part.stations),
            )
        )
    return Table(columns=tuple(columns), rows=tuple(rows))


def _narrow_fields(given: SiteGiven, line: Line, moment: Moment) -> tuple[Field, ...]:
    """The fields of a line in a narrow cell: lines to write on, one for each reader, and short ticks."""
    say = given.say
    second = asks_second(given, line, moment)
    made: list[Field] = []
    for field in line.fields:
        if field.kind is FieldKind.TICK:
            made.append(field)
            continue
        made.append(Field(kind=FieldKind.LINE, label=field.label))
        if second:
            made.append(Field(kind=FieldKind.LINE, label=f"{field.label} {say(N_('2nd'))}".strip()))
    return tuple(made)


# Many devices: a row for each, the type's lines across. --------------------------------------------------


def _side_by_side(stations: tuple[Station, ...]) -> tuple[tuple[Station, ...], ...]:
    """The devices of each table where they stand side by side, as even as can be; none for the site."""
    if not stations:
        return ((),)
    tables = math.ceil(len(stations) / SIDE_BY_SIDE)
    size = math.ceil(len(stations) / tables)
    return tuple(stations[at : at + size] for at in range(0, len(stations), size))


def _widths(given: SiteGiven, part: Part) -> list[float]:
    return [_width_mm(given, line, part.moment) for line in part.lines]


def _width_mm(given: SiteGiven, line: Line, moment: Moment) -> float:
    """Room for a line's number and what is written by hand, one below the other."""
    needed = [0.0]
    for field in _row_fields(given, line, moment):
        label_mm = len(field.label) * (_LETTER_MM + 0.2)
        needed.append(label_mm + (7 if field.kind is FieldKind.TICK else 5 * _HAND_MM))
    needed += [field.count * _HAND_MM for field in line.fields if field.kind is FieldKind.BOXES]
    longest = max((len(word) for word in _row_words(line).split()), default=0) * (_LETTER_MM + 0.25)
    return max(_NUMBER_OF_LINE_MM + max(needed), longest, 17) + _INSET_MM


def _row_fields(given: SiteGiven, line: Line, moment: Moment) -> tuple[Field, ...]:
    """The fields of a line in a row: its column says what is written, so that a single one has no words."""
    fields = _narrow_fields(given, line, moment)
    bare = len(line.fields) == 1
    return tuple(
        replace(field, half=False, label="" if bare and field.label == line.fields[0].label else field.label)
        for field in fields
    )


def _row_words(line: Line) -> str:
    """The words of a column, with those of a single field that the cells leave out."""
    label = line.fields[0].label if len(line.fields) == 1 else ""
    return _words(line) + (f" ({label})" if label else "")


def _device_rows(given: SiteGiven, part: Part, numbered: NumberedLines) -> Table:
    say, lines = given.say, part.lines
    widths = _widths(given, part)
    stretch = (_TEXT_MM - _NAME_MM) / sum(widths)
    columns = [Column(title=part.kind.name if part.kind is not None else "", width_mm=_NAME_MM)]
    columns += [
        Column(title=_row_words(line), width_mm=math.floor(wide * stretch), plain=True)
        for line, wide in zip(lines, widths, strict=True)
    ]
    compared = any(line.compared for line in lines)
    match = (Field(kind=FieldKind.TICK, label=say(N_("all match"))),) if compared else ()
    rows = []
    for station in part.stations:
        tags = given.tags(station).replace(", ", "\n")
        short = given.number(station)
        name = f"{short}\n{tags}" if tags else short
        cells = [
            Cell(
                line=_number(given, numbered, part, line, station),
                fields=_row_fields(given, line, part.moment),
            )
            for line in lines
        ]
        rows.append((Cell(words=name, fields=match, whole=True), *cells))
    return Table(columns=tuple(columns), rows=tuple(rows))
