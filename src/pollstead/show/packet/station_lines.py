"""Lines of opening and closing sheets: what is written for a serial, closure, clock, counter, report or act.

A line says what to do, never which number is expected: that stands in the expected list alone. What
the county's rules fix for all devices alike (a clock's lead, a counter that starts at zero) is said.
"""

from __future__ import annotations

from pollstead.election.station_type import (
    Closure,
    EntryPolicy,
    IdentifiedBy,
    LineKind,
    Moment,
    NumberPolicy,
    OpeningValue,
    SheetLine,
    StationType,
)
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.seals.policy import Found, found_before
from pollstead.show.packet.content import Field, FieldKind
from pollstead.show.packet.given import SiteGiven


class Line(Value, frozen=True, kw_only=True):
    """One line to be carried out: words, explanation, what each reader writes, what is compared.

    `number` is true where a number is read, so that a second reader may be asked for; `rule` is the
    county rule that says what happens when it differs ("" where nothing is compared).
    """

    words: str
    more: str = ""
    fields: tuple[Field, ...] = ()
    number: bool = False
    compared: bool = False
    second_person: bool = False
    rule: str = ""


class When(Value, frozen=True, kw_only=True):
    """Opening or closing of operating day number `day` (from 0) of `days`."""

    moment: Moment
    day: int = 0
    days: int = 1


def station_lines(
    given: SiteGiven, kind: StationType, lines: tuple[SheetLine, ...], when: When
) -> tuple[Line, ...]:
    """The lines of one station type at opening or closing of one day, in the type's own order."""
    moment = when.moment
    made: list[Line] = []
    for line in lines:
        if line.kind is LineKind.SERIAL:
            made.append(_serial(given, kind, line))
        elif line.kind is LineKind.CLOSURE:
            made.extend(_closure(given, kind, line, when))
        elif line.kind is LineKind.CLOCK:
            made.append(_clock(given, kind, line))
        elif line.kind is LineKind.COUNTER:
            made.append(_counter(given, kind, line, moment))
        elif line.kind is LineKind.REPORT:
            made.append(_report(given, kind, line))
        elif line.kind is LineKind.MEMORY_DEVICE:
            made.append(_memory(given, kind, line, moment))
        else:
            made.append(act_line(given, line))
    return tuple(made)


def act_line(given: SiteGiven, line: SheetLine) -> Line:
    """A line that asks for an act: a box to tick when it is done."""
    return Line(words=line.words, fields=(_tick(given.say(N_("done"))),), second_person=line.second_person)


def _tick(label: str) -> Field:
    return Field(kind=FieldKind.TICK, label=label)


def _if_other(given: SiteGiven) -> Field:
    """Where to write what a compared number reads when it is another than the expected one."""
    return Field(kind=FieldKind.LINE, label=given.say(N_("if it differs, it reads")))


def _number(count: int, label: str = "") -> Field:
    return Field(kind=FieldKind.BOXES, count=min(count, 24), label=label)


def _serial(given: SiteGiven, kind: StationType, line: SheetLine) -> Line:
    part = next(p for p in kind.parts if p.id == line.ref)
    rule = "serial-differs"
    if part.identified_by is IdentifiedBy.SERIAL and part.entry is EntryPolicy.INDEPENDENT:
        many = part.per_station
        return Line(
            words=line.words,
            fields=tuple(_number(given.boxes.serial, f"{n}" if many > 1 else "") for n in range(1, many + 1)),
            number=True,
            compared=True,
            second_person=line.second_person,
            rule=rule,
        )
    return Line(
        words=line.words,
        more=given.say(N_("Hold it beside the expected list.")),
        fields=(_if_other(given),),
        compared=True,
        second_person=line.second_person,
        rule=rule,
    )


def _closure(given: SiteGiven, kind: StationType, line: SheetLine, when: When) -> tuple[Line, ...]:
    closure = next(c for c in kind.closures if c.id == line.ref)
    say, moment = given.say, when.moment
    found = found_before(closure, moment, when.day, when.days)
    resealed = moment in closure.resealed or (closure.applied is moment and found is Found.NOTHING)
    on_site = found is Found.FROM_SITE and closure.resealed
    policy = closure.resealed_number if on_site else closure.number
    if moment not in closure.checked and policy is not NumberPolicy.NO_SEAL:
        policy = NumberPolicy.TICKED
    made: list[Line] = []
    # A closure on each of several like parts is there as often as the part is.
    parts = next((p.per_station for p in kind.parts if p.id == closure.part), 1)
    seals = closure.seals * parts
    for position in range(1, seals + 1):
        words = line.words
        if seals > 1:
            words = say(
                N_("{words} (seal {position} of {seals})"), words=words, position=position, seals=seals
            )
        checked = (moment in closure.checked and found is not Found.NOTHING) or not resealed
        if checked:
            made.append(_check(given, closure, words, policy, line.second_person, moment))
        if resealed:
            new = closure.resealed_number if moment in closure.resealed else closure.number
            made.append(_new_seal(given, closure, words, new, line.second_person, again=checked))
    return tuple(made)


def _check(
    given: SiteGiven, closure: Closure, words: str, policy: NumberPolicy, second: bool, moment: Moment
) -> Line:
    say = given.say
    cut = closure.cut is moment
    more = say(N_("Then cut the seal and keep it.")) if cut else ""
    if policy is NumberPolicy.NO_SEAL:
        return Line(words=words, fields=(_tick(say(N_("shut and whole"))),), second_person=second)
    if policy is NumberPolicy.TICKED:
        return Line(
            words=words,
            more=more,
            fields=(_tick(say(N_("seal whole"))),),
            second_person=second,
            rule="seal-differs",
        )
    if closure.entry is EntryPolicy.COMPARED:
        beside = say(N_("Hold it beside the expected list."))
        return Line(
            words=words,
            more=f"{beside} {more}".strip(),
            fields=(_tick(say(N_("seal whole"))), _if_other(given)),
            compared=True,
            second_person=second,
            rule="seal-differs",
        )
    return Line(
        words=words,
        more=more,
        fields=(_number(given.boxes.seal(closure.seal_kind)), _tick(say(N_("seal whole")))),
        number=True,
        compared=True,
        second_person=second,
        rule="seal-differs",
    )


def _new_seal(
    given: SiteGiven, closure: Closure, words: str, policy: NumberPolicy, second: bool, *, again: bool
) -> Line:
    say = given.say
    said = say(N_("New seal: {words}"), words=words) if again else words
    if policy is NumberPolicy.RECORDED:
        return Line(
            words=said,
            more=say(N_("Write the number of the new seal.")),
            fields=(_number(given.boxes.seal(closure.seal_kind)),),
            number=True,
            second_person=second,
        )
    return Line(words=said, fields=(_tick(say(N_("new seal on"))),), second_person=second)


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
        fields=(_number(given.boxes.counter),),
        number=True,
        compared=moment is Moment.OPENING,
        second_person=line.second_person,
        rule="counter-not-as-expected" if moment is Moment.OPENING else "",
    )


def _report(given: SiteGiven, kind: StationType, line: SheetLine) -> Line:
    say = given.say
    report = next(r for r in kind.reports if r.id == line.ref)
    fields = [_tick(say(N_("printed")))]
    if report.zero:
        fields.append(_tick(say(N_("all zero"))))
    fields.append(_tick(say(N_("signed"))))
    return Line(
        words=line.words,
        fields=tuple(fields),
        second_person=line.second_person,
        rule="counter-not-as-expected" if report.zero else "",
    )


def _memory(given: SiteGiven, kind: StationType, line: SheetLine, moment: Moment) -> Line:
    say, memory = given.say, kind.memory_devices
    count = memory.travels if moment is Moment.CLOSING else memory.count
    fields = tuple(
        _number(given.boxes.memory, say(N_("memory device {n}"), n=n) if count > 1 else "")
        for n in range(1, max(count, 1) + 1)
    )
    return Line(
        words=line.words,
        fields=fields,
        number=True,
        compared=True,
        second_person=line.second_person,
        rule="serial-differs" if moment is Moment.OPENING else "",
    )
