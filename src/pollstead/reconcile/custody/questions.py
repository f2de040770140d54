"""The questions that a chain of custody answers, asked of the whole life of one thing.

Who, what, when, where, from whom, to whom, seals, two people: after the U.S. Election Assistance
Commission's Chain of Custody Best Practices (v1.1, 2021-07-12: written procedures, every step documented);
two people for seal numbers, cut seals kept, after a state's review of election security (2020). The wording
of the questions is our own. A question that the record does not answer is told as such.
"""

from __future__ import annotations

import enum
from collections import defaultdict
from types import MappingProxyType
from typing import Final

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.custody.life import Entry, Life
from pollstead.record.event import Part

HAND_OFFS: Final = (
    "thing.sent",
    "thing.received",
    "thing.packed",
    "memory_device.packed",
    "thing.stated",
    "room.left",
)


class Asked(enum.StrEnum):
    """What is asked of a thing's life, in the order in which it is told."""

    WHAT = "what"
    WHO = "who"
    WHEN = "when"
    WHERE = "where"
    FROM_TO = "from whom to whom"
    SEALS_BEFORE = "seals before"
    SEALS_AFTER = "seals after"
    TWO = "two people"
    TESTED = "tested"
    EXPECTED = "expected"
    CUT = "cut or void"
    CORRECTED = "corrected"
    LAST = "last"


WORDS: Final = MappingProxyType(
    {
        Asked.WHAT: N_("Which thing is it, by what stands on it?"),
        Asked.WHO: N_("Who had it?"),
        Asked.WHEN: N_("When did each step happen?"),
        Asked.WHERE: N_("Where was it?"),
        Asked.FROM_TO: N_("From whom did it go to whom?"),
        Asked.SEALS_BEFORE: N_("Which seals were put on before it went out?"),
        Asked.SEALS_AFTER: N_("Which seals were read on it afterwards?"),
        Asked.TWO: N_("Which steps stand under two people?"),
        Asked.TESTED: N_("Was it tested, and what did its counter show?"),
        Asked.EXPECTED: N_("What was expected of it, by which list?"),
        Asked.CUT: N_("Which of its seals were cut, missing or void?"),
        Asked.CORRECTED: N_("What was corrected, withdrawn or replaced, and why?"),
        Asked.LAST: N_("What is the last word about it?"),
    }
)

MAY_BE_NONE: Final = frozenset({Asked.CUT, Asked.CORRECTED})
"""Questions to which none is an answer: nothing was cut, nothing was corrected."""


class Answered(Value, frozen=True, kw_only=True):
    """One question with the entries that answer it; none where the record does not say."""

    asked: Asked
    entries: tuple[Entry, ...]

    @property
    def is_open(self) -> bool:
        """Whether the record does not answer it."""
        return not self.entries and self.asked not in MAY_BE_NONE


def answers(life: Life) -> tuple[Answered, ...]:
    """Every question with its entries, in the order of the questions."""
    seen = tuple(entry for entry in life.entries if not entry.expected)
    standing = tuple(entry for entry in seen if entry.stands)
    moved = tuple(entry for entry in standing if entry.kind in HAND_OFFS)
    found = {
        Asked.WHAT: tuple(e for e in standing if e.said_of("serial") or e.said_of("code")),
        Asked.WHO: tuple(e for e in moved if e.people),
        Asked.WHEN: tuple(e for e in standing if e.utc_ms > 0),
        Asked.WHERE: tuple(e for e in moved if place_of(e)),
        Asked.FROM_TO: tuple(e for e in moved if e.who(Part.GIVER) and e.who(Part.RECEIVER)),
        Asked.SEALS_BEFORE: tuple(e for e in standing if e.kind == "closure.sealed"),
        Asked.SEALS_AFTER: tuple(e for e in standing if e.kind == "seen.seal" or e.said_of("seals")),
        Asked.TWO: by_two(standing),
        Asked.TESTED: tuple(e for e in standing if e.kind == "device.tested"),
        Asked.EXPECTED: tuple(e for e in life.entries if e.expected),
        Asked.CUT: tuple(e for e in standing if is_cut(e)),
        Asked.CORRECTED: tuple(e for e in life.entries if not e.stands or e.corrects),
        Asked.LAST: standing[-1:],
    }
    return tuple(Answered(asked=asked, entries=found[asked]) for asked in Asked)


def place_of(entry: Entry) -> str:
    """The id of the place that an entry names: where it is now, where it goes, what it travels in."""
    for name in ("place", "to_place", "into", "inside"):
        if entry.said_of(name):
            return entry.said_of(name)
    return ""


def is_cut(entry: Entry) -> bool:
    """Whether an entry says that a seal is cut, void, not whole, not there, or holds nothing."""
    if entry.kind == "seal.voided":
        return True
    return entry.kind == "seen.seal" and entry.said_of("state") != "intact"


def by_two(entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """The entries behind which two people stand: both named in one, or each in one that says the same."""
    groups: dict[tuple[object, ...], set[str]] = defaultdict(set)
    for entry in entries:
        groups[_same(entry)].update(entry.who(Part.AUTHOR, Part.SECOND))
    return tuple(
        entry
        for entry in entries
        if len(groups[_same(entry)]) > 1 or (entry.who(Part.GIVER) and entry.who(Part.RECEIVER))
    )


def _same(entry: Entry) -> tuple[object, ...]:
    # Which paper an entry was typed from is no part of what it says.
    said = tuple(pair for pair in entry.said if pair[0] != "sheet")
    return (entry.kind, entry.subject, entry.day, said, entry.number)
