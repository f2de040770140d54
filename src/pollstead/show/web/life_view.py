"""What the record says of a thing, as a person may see it: names and seal numbers by need.

What one person read of a line that a second one has still to read is kept back from everybody else: the
second reads from the thing itself.
"""

from __future__ import annotations

import msgspec

from pollstead.election.values import Value
from pollstead.reconcile.custody.life import Life, about, has_life, life_of, with_reasons
from pollstead.show.life_words import ToldLife, told_life
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import days_now
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.waiting import waiting_among


class LifeSeen(Value, frozen=True, kw_only=True):
    """The life of a thing as far as it is shown; None where the record knows nothing of it."""

    life: ToldLife | None = None
    kept_back: int = 0
    numbers_hidden: bool = False
    people_hidden: bool = False


def life_seen(ask: Ask, code: str) -> LifeSeen:
    """What this person may see of the life of the thing that a code means."""
    election = ask.folder.election()
    if not has_life(code) or election is None:
        return LifeSeen()
    life = life_of(ask.folder.fold(), about(election, code))
    life = with_reasons(life, ask.folder.store.sides.fields_of(life.corrections))
    if not life.entries:
        return LifeSeen()
    numbers, people = ask.may(Capability.SEE_EXPECTED), ask.may(Capability.SEE_PEOPLE)
    waiting = waiting_entries(ask, life)
    kept = tuple(e for e in life.entries if e.event not in waiting and (numbers or not e.expected))
    shown = msgspec.structs.replace(life, entries=kept)
    return LifeSeen(
        life=told_life(shown, ask.folder.person_name, numbers=numbers, people=people),
        kept_back=len({e.event for e in life.entries if e.event in waiting}),
        numbers_hidden=not numbers,
        people_hidden=not people,
    )


def waiting_entries(ask: Ask, life: Life) -> frozenset[str]:
    """The entries of other people on lines that somebody has still to read."""
    if not ask.folder.current_digest():
        return frozenset()
    days = days_now(ask.folder)
    me = ask.who.person if ask.who else ""
    return waiting_among(life.entries, days.site, days.election, me)
