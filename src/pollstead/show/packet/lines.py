"""One line of an opening or closing sheet, and the places to write that several kinds of lines have."""

from __future__ import annotations

from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.show.packet.asked import ACT, Ask
from pollstead.show.packet.content import Field, FieldKind
from pollstead.show.packet.given import SiteGiven


class Line(Value, frozen=True, kw_only=True):
    """One line to be carried out: words, explanation, what each reader writes, what is compared.

    `number` is true where a number is read, so that a second reader may be asked for; `rule` is the
    county rule that says what happens when it differs ("" where nothing is compared). `ask` is what the
    answer is called in the record.
    """

    words: str
    more: str = ""
    fields: tuple[Field, ...] = ()
    number: bool = False
    compared: bool = False
    second_person: bool = False
    rule: str = ""
    ask: Ask = ACT


class When(Value, frozen=True, kw_only=True):
    """Opening or closing of operating day number `day` (from 0) of `days`."""

    moment: Moment
    day: int = 0
    days: int = 1


def tick(label: str) -> Field:
    """A box to tick."""
    return Field(kind=FieldKind.TICK, label=label)


def if_other(given: SiteGiven) -> Field:
    """Where to write what a compared number reads when it is another than the expected one."""
    return Field(kind=FieldKind.LINE, label=given.say(N_("if it differs, it reads")))


def number(count: int) -> Field:
    """Digit boxes for a number."""
    return Field(kind=FieldKind.BOXES, count=min(count, 24))


def of_many(given: SiteGiven, words: str, index: int, count: int) -> str:
    """Words of one of several like things; of a single one they stand as they are."""
    if count == 1:
        return words
    return given.say(N_("{words} ({index} of {count})"), words=words, index=index, count=count)
