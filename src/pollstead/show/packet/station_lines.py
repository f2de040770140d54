"""Lines of opening and closing sheets: what is written for a serial, closure, clock, counter, report or act.

A line says what to do, never which number is expected: that stands in the expected list alone. What
the county's rules fix for all devices alike (a clock's lead, a counter that starts at zero) is said.
"""

from __future__ import annotations

from msgspec.structs import replace

from pollstead.election.station_type import (
    EntryPolicy,
    IdentifiedBy,
    LineKind,
    Moment,
    OpeningValue,
    SheetLine,
    StationType,
)
from pollstead.election.words import N_
from pollstead.reconcile.counts.terms import counter_term
from pollstead.reconcile.opening.matching import plain_word
from pollstead.show.packet.asked import Ask, Of
from pollstead.show.packet.closure_lines import closure_lines
from pollstead.show.packet.content import Field, FieldKind
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.lines import Line, When, if_other, number, of_many, tick


def station_lines(
    given: SiteGiven, kind: StationType, lines: tuple[SheetLine, ...], when: When
) -> tuple[Line, ...]:
    """The lines of one station type at opening or closing of one day, in the type's own order."""
    moment = when.moment
    made: list[Line] = []
    for at, line in enumerate(lines):
        if line.kind is LineKind.SERIAL:
            made.extend(_serials(given, kind, line))
        elif line.kind is LineKind.CLOSURE:
            named = [n for n, other in enumerate(lines) if (other.kind, other.ref) == (line.kind, line.ref)]
            made.extend(closure_lines(given, kind, line, when, first=at == named[0], last=at == named[-1]))
        elif line.kind is LineKind.CLOCK:
            made.append(_clock(given, kind, line))
        elif line.kind is LineKind.COUNTER:
            made.append(_counter(given, kind, line, moment))
        elif line.kind is LineKind.REPORT:
            made.append(_report(given, kind, line))
        elif line.kind is LineKind.MEMORY_DEVICE:
            if moment is Moment.OPENING or when.day == when.days - 1:
                made.extend(_memory(given, kind, line, moment))
            # Until a machine's last day here its memory devices stay in it.
        else:
            made.append(act_line(given, line))
    return tuple(made)


def act_line(given: SiteGiven, line: SheetLine) -> Line:
    """A line that asks for an act: a box to tick when it is done, or the minute at which it was."""
    done = tick(given.say(N_("done")))
    fields = (Field(kind=FieldKind.TIME),) if line.kind is LineKind.MINUTE else (done,)
    return Line(words=line.words, fields=fields, second_person=line.second_person)


def _serials(given: SiteGiven, kind: StationType, line: SheetLine) -> tuple[Line, ...]:
    part = next(p for p in kind.parts if p.id == line.ref)
    by_serial = part.identified_by is IdentifiedBy.SERIAL
    count = part.per_station if by_serial else 1
    read = by_serial and part.entry is EntryPolicy.INDEPENDENT
    return tuple(
        Line(
            words=of_many(given, line.words, index, count),
            more="" if read else given.say(N_("Hold it beside the expected list.")),
            fields=(number(given.boxes.serial) if read else if_other(given),),
            number=read,
            compared=True,
            second_person=line.second_person,
            rule="serial-differs",
            ask=Ask(item="serial", values=("serial",), of=Of.PART, ref=part.id, index=index),
        )
        for index in range(1, count + 1)
    )


def _clock(given: SiteGiven, kind: StationType, line: SheetLine) -> Line:
    say, clock = given.say, kind.clock
    fields = [Field(kind=FieldKind.TIME, label=say(N_("device")))]
    more = ""
    if clock is not None:
        if clock.date_too:
            fields.insert(0, Field(kind=FieldKind.DATE, label=say(N_("date"))))
        fields.append(Field(kind=FieldKind.TIME, label=clock.reference))
        if clock.lead_min > 0:
            template = N_("Must be {minutes} min ahead of the {reference}, give or take {tolerance} min.")
        elif clock.lead_min < 0:
            template = N_("Must be {minutes} min behind the {reference}, give or take {tolerance} min.")
        else:
            template = N_("Must show the same as the {reference}, give or take {tolerance} min.")
        more = say(
            template,
            minutes=abs(clock.lead_min),
            reference=clock.reference,
            tolerance=clock.tolerance_min,
        )
        if clock.date_too:
            more = f"{more} {say(N_('The date must be right.'))}"
    return Line(
        words=line.words,
        more=more,
        fields=tuple(fields),
        compared=True,
        second_person=line.second_person,
        rule="clock-differs",
        ask=Ask(item="clock", values=("date_shown", "device_min", "reference_min"), of=Of.MACHINE),
    )


def _counter(given: SiteGiven, kind: StationType, line: SheetLine, moment: Moment) -> Line:
    say, counter = given.say, kind.counter(line.ref)
    more = ""
    if moment is Moment.OPENING and counter is not None:
        more = {
            OpeningValue.ZERO: say(N_("It must show zero before the first voter.")),
            OpeningValue.CARRIED_OVER: say(
                N_("It goes on from the last closing; before the first day it must show zero.")
            ),
            OpeningValue.LAST_RECORDED: say(N_("It goes on from the last number that was recorded.")),
        }[counter.opening]
    return Line(
        words=line.words,
        more=more,
        fields=(number(given.boxes.counter),),
        number=True,
        compared=moment is Moment.OPENING,
        second_person=line.second_person,
        rule="counter-not-as-expected" if moment is Moment.OPENING else "",
        ask=Ask(item=counter_term(line.ref, moment), values=("value",), of=Of.MACHINE),
    )


def _report(given: SiteGiven, kind: StationType, line: SheetLine) -> Line:
    say = given.say
    report = next(r for r in kind.reports if r.id == line.ref)
    fields = [tick(say(N_("printed")))]
    if report.zero:
        fields = [replace(fields[0], half=True), replace(tick(say(N_("all zero"))), half=True)]
    fields.append(tick(say(N_("signed"))))
    return Line(
        words=line.words,
        fields=tuple(fields),
        second_person=line.second_person,
        rule="counter-not-as-expected" if report.zero else "",
        ask=Ask(item="report", detail=plain_word(report.id), values=("state",), of=Of.MACHINE),
    )


def _memory(given: SiteGiven, kind: StationType, line: SheetLine, moment: Moment) -> tuple[Line, ...]:
    """One line for each memory device: at opening those that are in, at closing those that travel."""
    memory, opening = kind.memory_devices, moment is Moment.OPENING
    count = max(memory.count if opening else memory.travels, 1)
    return tuple(
        Line(
            words=of_many(given, line.words, index, count),
            fields=(number(given.boxes.memory),),
            number=True,
            compared=True,
            second_person=line.second_person,
            rule="serial-differs" if opening else "",
            ask=Ask(
                item="memory device" if opening else "memory device packed",
                values=("memory_device",),
                of=Of.MACHINE,
                tail=f"memory-device-{index}" if opening else "",
                index=index,
            ),
        )
        for index in range(1, count + 1)
    )
