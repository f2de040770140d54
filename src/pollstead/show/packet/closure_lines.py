"""Lines about a closure: look at the seal, tug, read its number, cut it, put a new one on."""

from __future__ import annotations

from msgspec.structs import replace

from pollstead.election.station_type import (
    Closure,
    EntryPolicy,
    Moment,
    NumberPolicy,
    SheetLine,
    StationType,
)
from pollstead.election.words import N_
from pollstead.plan.seals.policy import Found, found_before
from pollstead.reconcile.opening.matching import plain_word
from pollstead.show.packet.asked import Ask, Of
from pollstead.show.packet.content import Field, FieldKind
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.lines import Line, When, if_other, number, tick


def closure_lines(
    given: SiteGiven, kind: StationType, line: SheetLine, when: When, *, first: bool, last: bool
) -> tuple[Line, ...]:
    """The lines of one closure at one moment: a check of each seal, a new seal, or both.

    Where a sheet names a closure several times, the `first` line is its check and the `last` its new seal.
    """
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
        once = first and last
        if checked and (first or not resealed):
            ask = Ask(
                item="seal",
                detail=plain_word(moment.value),
                values=("state",),
                of=Of.CLOSURE,
                ref=closure.id,
                index=position,
            )
            made.append(_check(given, closure, words, policy, line.second_person, moment, ask))
        if resealed and (last or not checked):
            again = moment in closure.resealed
            new = closure.resealed_number if again else closure.number
            ask = Ask(
                item="seal",
                detail="resealed" if again else "applied",
                values=("state",),
                of=Of.CLOSURE,
                ref=closure.id,
                index=position,
            )
            made.append(
                _new_seal(given, closure, words, new, line.second_person, ask, again=checked and once)
            )
    return tuple(made)


def _check(
    given: SiteGiven,
    closure: Closure,
    words: str,
    policy: NumberPolicy,
    second: bool,
    moment: Moment,
    ask: Ask,
) -> Line:
    say = given.say
    cut = closure.cut is moment
    tug = say(N_("Tug it: is it shut?"))
    more = f"{tug} {say(N_('Then cut the seal and keep it.'))}" if cut else tug
    # A seal can be whole while the closure beside it stands open.
    look = (
        Field(kind=FieldKind.TICK, label=say(N_("whole")), half=True),
        Field(kind=FieldKind.TICK, label=say(N_("shut")), half=True),
    )
    if policy is NumberPolicy.NO_SEAL:
        return Line(
            words=words,
            fields=(tick(say(N_("shut and whole"))),),
            second_person=second,
            ask=replace(ask, item="closure"),
        )
    if policy is NumberPolicy.TICKED:
        return Line(
            words=words,
            more=more,
            fields=look,
            second_person=second,
            rule="seal-differs",
            ask=ask,
        )
    if closure.entry is EntryPolicy.COMPARED:
        beside = say(N_("Hold it beside the expected list."))
        return Line(
            words=words,
            more=f"{beside} {more}".strip(),
            fields=(*look, if_other(given)),
            compared=True,
            second_person=second,
            rule="seal-differs",
            ask=replace(ask, values=("number", "state")),
        )
    return Line(
        words=words,
        more=more,
        fields=(number(given.boxes.seal(closure.seal_kind)), *look),
        number=True,
        compared=True,
        second_person=second,
        rule="seal-differs",
        ask=replace(ask, values=("number", "state")),
    )


def _new_seal(
    given: SiteGiven,
    closure: Closure,
    words: str,
    policy: NumberPolicy,
    second: bool,
    ask: Ask,
    *,
    again: bool,
) -> Line:
    say = given.say
    said = say(N_("New seal: {words}"), words=words) if again else words
    if policy is NumberPolicy.RECORDED:
        return Line(
            words=said,
            more=say(N_("Write the number of the new seal.")),
            fields=(number(given.boxes.seal(closure.seal_kind)),),
            number=True,
            second_person=second,
            ask=replace(ask, values=("number", "state")),
        )
    return Line(words=said, fields=(tick(say(N_("new seal on"))),), second_person=second, ask=ask)
