"""The balance sheet: every number once, then each equation as a sum of lettered numbers.

Equations and terms come from `pollstead.reconcile.counts`, so that paper and screen ask the same.
"""

from __future__ import annotations

import datetime as dt

from msgspec.structs import replace

from pollstead.election.station_type import Counter, Moment, OpeningValue
from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind, Station
from pollstead.reconcile.counts.equations import (
    Balance,
    CountingDevice,
    asks_by_style,
    build_balance,
)
from pollstead.reconcile.counts.styles import styles_here
from pollstead.reconcile.counts.terms import Per, counter_term
from pollstead.show.cautions import Place
from pollstead.show.packet.asked import NumberedLines, machine_id
from pollstead.show.packet.balance_devices import (
    DEVICES_ACROSS,
    Letter,
    device_numbers,
    side,
    styled,
    worded,
)
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
from pollstead.show.packet.wording import CALL_THE_OFFICE, confirmed

_BOXES = 5


def balance_of(given: SiteGiven) -> tuple[Balance, tuple[tuple[CountingDevice, str], ...]]:
    """The balance of this site and the devices that count, each with the name people call it by."""
    devices = []
    for kind in given.types():
        if not kind.counters:
            continue
        for station in given.stations(kind.id):
            serial = next((p.device for p in station.parts if p.by_serial and p.device), "")
            device = CountingDevice(id=serial or station.id, station=station.id, station_type=kind.id)
            devices.append((device, given.name(station)))
    balance = build_balance(
        given.site.id,
        given.kind,
        given.election.station_types,
        tuple(device for device, _ in devices),
        given.election.rules,
        styles=styles_here(given.election, given.site.id, (), asked=asks_by_style(given.kind)),
    )
    return balance, tuple(devices)


def balance_sheet(given: SiteGiven, date: dt.date) -> Draft:
    """The balance of one site on one day: numbers with letters, sums, differences to be explained."""
    say = given.say
    balance, devices = balance_of(given)
    last = date == max((day.date for day in given.site_plan.demand), default=date)
    if not last:
        balance = _without_receiving(balance)
    names = {device.id: name for device, name in devices}
    letters = _letters(balance)
    numbered = NumberedLines()
    two = given.election.rules.choice("second-person-at-closing") == "yes"
    blocks: list[Block] = [
        Words(words=say(N_("Write every number once, beside its letter. Write 0 where there is none."))),
        Heading(words=say(N_("Numbers of the site"))),
        _site_numbers(given, balance, letters, two, numbered),
    ]
    per_device = [line for line in balance.lines if line.term.per is Per.DEVICE]
    if per_device:
        blocks += [
            Heading(words=say(N_("Numbers of each device"))),
            *device_numbers(given, balance, per_device, letters, names, numbered),
        ]
    blocks += [
        Heading(words=say(N_("Sums"))),
        Words(words=say(N_("Left side minus right side. A difference of 0 is a balance."))),
        *_sums(given, balance, letters, names, numbered),
        *_memory_devices(given, numbered, date, last=last),
        *_carried_over(given, date, numbered),
        *_stop_rule(given),
        say.cautions(Place.BALANCE),
        Signatures(
            labels=(say(N_("First person")), say(N_("Second person"))),
            time=say(N_("Finished at")),
            notes=say(N_("Explanation of each difference, while people remember")),
        ),
    ]
    return Draft(
        kind=SheetKind.BALANCE,
        key=key_for(SheetKind.BALANCE, date),
        title=say(N_("Balance sheet")),
        about="",
        day=given.day_words(date),
        blocks=tuple(blocks),
        lines=numbered.lines,
    )


def _without_receiving(balance: Balance) -> Balance:
    """The balance without what is read at receiving: before the last day nobody waits for that."""
    later = {line.key for line in balance.lines if line.term.moment is Moment.RECEIVING}
    return replace(
        balance,
        lines=tuple(line for line in balance.lines if line.key not in later),
        equations=tuple(e for e in balance.equations if not later & {key for _, key in e.terms}),
    )


def _letters(balance: Balance) -> dict[str, Letter]:
    """A letter for each term in the order of reading: A, B … Z, AA …; devices share their term's."""
    by_term: dict[str, str] = {}
    found: dict[str, Letter] = {}
    for line in balance.lines:
        if line.name not in by_term:
            index = len(by_term)
            head = chr(ord("A") + index // 26 - 1) if index >= 26 else ""
            by_term[line.name] = head + chr(ord("A") + index % 26)
        found[line.key] = Letter(letter=by_term[line.name], device=line.device)
    return found


def _boxes(label: str = "") -> Field:
    return Field(kind=FieldKind.BOXES, count=_BOXES, label=label)


def _site_numbers(
    given: SiteGiven, balance: Balance, letters: dict[str, Letter], two: bool, numbered: NumberedLines
) -> Table:
    say = given.say
    columns = [Column(title="", width_mm=9), Column(title=say(N_("Number")))]
    columns.append(Column(title=say(N_("First count")) if two else say(N_("Count")), width_mm=40))
    if two:
        columns.append(Column(title=say(N_("Second count")), width_mm=40))
    rows = []
    for line in balance.lines:
        if line.term.per is Per.DEVICE:
            continue
        counts = (Cell(fields=(_boxes(),)), Cell(fields=(_boxes(),))) if two else (Cell(fields=(_boxes(),)),)
        words = worded(given, line)
        number = numbered.add(words=styled(given, line), subject=f"site/{given.site.id}", item=line.name)
        rows.append(
            (
                Cell(words=letters[line.key].letter, strong=True),
                Cell(line=number, words=words),
                *counts,
            )
        )
    return Table(columns=tuple(columns), rows=tuple(rows))


def _sums(
    given: SiteGiven,
    balance: Balance,
    letters: dict[str, Letter],
    names: dict[str, str],
    numbered: NumberedLines,
) -> tuple[Block, ...]:
    say = given.say
    rows = []
    many = len({line.device for line in balance.lines} - {""}) > DEVICES_ACROSS
    for equation in balance.equations:
        about = names.get(equation.subject, "")
        if about and many:
            continue  # It stands beside the device's numbers.
        words = f"{about}: {say(equation.words)}" if about else say(equation.words)
        number = numbered.add(
            words=words,
            subject=equation.subject,
            item="difference",
            detail=equation.id,
            values=("left", "right", "difference"),
        )
        rows.append(
            (
                Cell(line=number, words=words),
                Cell(words=side(given, equation, letters, plus=True), strong=True, fields=(_boxes(),)),
                Cell(words=side(given, equation, letters, plus=False), strong=True, fields=(_boxes(),)),
                Cell(fields=(Field(kind=FieldKind.LINE),)),
            )
        )
    columns = (
        Column(title=say(N_("What must be equal"))),
        Column(title=say(N_("Left side")), width_mm=44),
        Column(title=say(N_("Right side")), width_mm=50),
        Column(title=say(N_("Difference")), width_mm=27),
    )
    return (Table(columns=columns, rows=tuple(rows)),) if rows else ()


def _memory_devices(
    given: SiteGiven, numbered: NumberedLines, date: dt.date, *, last: bool
) -> tuple[Block, ...]:
    """Memory devices out of the machines against those in the case, where any travel on this day.

    Until a machine's last day at the site its memory devices stay in it.
    """
    say = given.say
    travelling = [
        kind
        for kind in given.types()
        if kind.memory_devices.travels
        and (last or any(station.last_day == date for station in given.stations(kind.id)))
    ]
    if not travelling:
        return ()
    rows = tuple(
        (
            Cell(
                line=numbered.add(
                    words=say(N_("Memory devices of {name}"), name=kind.name),
                    subject=f"site/{given.site.id}",
                    item="memory devices",
                    detail=kind.id,
                    values=("out", "in_case", "difference"),
                ),
                words=kind.name,
            ),
            Cell(fields=(Field(kind=FieldKind.BOXES, count=3),)),
            Cell(fields=(Field(kind=FieldKind.BOXES, count=3),)),
            Cell(fields=(Field(kind=FieldKind.LINE),)),
        )
        for kind in travelling
    )
    columns = (
        Column(title=say(N_("Memory devices of"))),
        Column(title=say(N_("Taken out of devices")), width_mm=40),
        Column(title=say(N_("Counted in the case before it is sealed")), width_mm=46),
        Column(title=say(N_("Difference")), width_mm=30),
    )
    return (
        Heading(words=say(N_("Memory devices: out of the devices, into the case"))),
        Table(columns=columns, rows=rows),
    )


def _carried_over(given: SiteGiven, date: dt.date, numbered: NumberedLines) -> tuple[Block, ...]:
    """Each counter that is carried over: yesterday's closing against today's opening.

    A device that begins on this day, or was put in on it, has no yesterday.
    """
    say = given.say
    rows = []
    for kind in given.types():
        if given.days_of(kind.id)[:1] == (date,):
            continue
        for counter in kind.counters:
            if counter.opening is not OpeningValue.CARRIED_OVER:
                continue
            rows += [
                (
                    _carried_cell(given, station, counter, numbered),
                    Cell(fields=(Field(kind=FieldKind.BOXES, count=6),)),
                    Cell(fields=(Field(kind=FieldKind.BOXES, count=6),)),
                    Cell(fields=(Field(kind=FieldKind.LINE),)),
                )
                for station in given.stations(kind.id)
                if not given.put_in_today(station)
            ]
    if not rows:
        return ()
    columns = (
        Column(title=say(N_("Counter"))),
        Column(title=say(N_("Closing of the day before")), width_mm=46),
        Column(title=say(N_("Opening of this day")), width_mm=46),
        Column(title=say(N_("Difference")), width_mm=30),
    )
    return (
        Heading(words=say(N_("Carried over from the day before"))),
        Table(columns=columns, rows=tuple(rows)),
    )


def _carried_cell(given: SiteGiven, station: Station, counter: Counter, numbered: NumberedLines) -> Cell:
    words = f"{given.name(station)}: {counter.name}"
    number = numbered.add(
        words=words,
        subject=machine_id(station),
        item="carried over",
        detail=counter_term(counter.id, Moment.OPENING),
        station=station.id,
        values=("before", "opening", "difference"),
    )
    return Cell(line=number, words=words)


def _stop_rule(given: SiteGiven) -> tuple[Block, ...]:
    say, rules = given.say, given.election.rules
    action = say(CALL_THE_OFFICE)
    if confirmed(rules, "counts-at-closing"):
        action = say(
            N_("Count again, {times} times at most. Then write the difference down, explain it, and go on."),
            times=rules.whole("counts-at-closing"),
        )
    return (
        WhenThen(
            title=say(N_("If it differs")),
            pairs=(Pair(when=say(N_("A difference is not 0")), do=action),),
        ),
    )
