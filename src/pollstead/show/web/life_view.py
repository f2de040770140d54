"""What the record says of a thing, as a person may see it: names and seal numbers by need.

What one person read of a line that a second one has still to read is kept back from everybody else: the
second reads from the thing itself.
"""

from __future__ import annotations

import datetime as dt

import msgspec

from pollstead.election.values import Value
from pollstead.reconcile.custody.life import Entry, Life, about, has_life, life_of, with_reasons
from pollstead.reconcile.paper.progress import waiting_keyings
from pollstead.show.life_words import ToldLife, told_life
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import days_now
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.readings import closing_lines, opening_lines


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
    me = ask.who.person if ask.who else ""
    days = days_now(ask.folder)
    found: set[str] = set()
    for site, date in sorted({(e.site, e.day) for e in life.entries if e.site and _is_date(e)}):
        day = days.site(site, dt.date.fromisoformat(date))
        if day is None:
            continue
        for line in (*opening_lines(day, days.election), *closing_lines(day, days.election)):
            if not line.complete:
                found |= {o.event for o in line.answers if me not in o.entered_by}
        found |= {o.event for o in waiting_keyings(day) if me not in o.entered_by}
    return frozenset(found)


def _is_date(entry: Entry) -> bool:
    try:
        dt.date.fromisoformat(entry.day)
    except ValueError:
        return False
    return True
