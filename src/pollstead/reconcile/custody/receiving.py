"""What a site's people bring on closing night, against what a table took in: one line for each thing.

Memory devices come first, then the case, ballots, forms, keys: common practice, no source; varies by county.
A line is never refused: a thing is received, travels inside a machine, is to follow, or was not found.
"""

from __future__ import annotations

import enum
from collections.abc import Mapping

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.counts.memory import MemoryLine, MemoryResult, MemoryState
from pollstead.reconcile.custody.legs import Leg, thing_key
from pollstead.reconcile.custody.places import Held
from pollstead.reconcile.day import SiteDay

TABLE_PREFIX = "receiving/"
OLD_TABLE = "site/receiving"
"""The place that a record names where nobody said at which table."""


class Sort(enum.StrEnum):
    """What sort of thing it is, in the order in which a table asks for it."""

    MEMORY_DEVICE = N_("memory device")
    CASE = N_("memory-device case")
    BALLOTS = N_("ballots")
    FORMS = N_("closing forms")
    KEYS = N_("keys")
    OTHER = N_("another thing")


class ThingLine(Value, frozen=True, kw_only=True):
    """One thing that a site brings. `one_of` names ids of which one is meant, where the record cannot tell.

    `word` is the last leg that says how it stands; `tables` are the places that took it in, two where two
    tables did. `device` is the machine that a memory device went out with.
    """

    thing: str
    sort: Sort
    site: str
    code: str
    device: str = ""
    state: MemoryState = MemoryState.NOT_SAID
    inside: str = ""
    word: Leg | None = None
    tables: tuple[str, ...] = ()
    one_of: tuple[str, ...] = ()

    @property
    def here(self) -> bool:
        """Whether a table took it in."""
        return self.state is MemoryState.RECEIVED


def at_table(leg: Leg) -> bool:
    """Whether a leg ends at a receiving table."""
    return leg.to_place.startswith(TABLE_PREFIX) or leg.to_place == OLD_TABLE


def site_lines(day: SiteDay, held: Mapping[str, Held]) -> tuple[ThingLine, ...]:
    """The things of one site on one operating day, memory devices first; the time is linear in them."""
    lines = [line for machine in day.memory if machine.device for line in _of_machine(day, machine, held)]
    others = []
    if any(machine.must_travel for machine in day.memory):
        others.append((Sort.CASE, "case"))
    if day.balance is not None and any(n.term.id.startswith("ballots") for n in day.balance.lines):
        others.append((Sort.BALLOTS, "ballots"))
    others += [(Sort.FORMS, "forms"), (Sort.KEYS, "keys")]
    stamp = day.date.strftime("%m%d")
    for sort, word in others:
        # Each operating day has its own: a box of early ballots is not election day's.
        own = f"{word}/{day.site}"
        thing = own if own in held and _of_day(held[own], day) else f"{word}/{day.site}/{stamp}"
        lines.append(_plain(day, thing, sort, f"{word}-{day.site}".upper(), held))
    return tuple(lines)


def _of_day(held: Held, day: SiteDay) -> bool:
    return any(leg.day == day.date.isoformat() for leg in held.legs)


def _of_machine(day: SiteDay, machine: MemoryResult, held: Mapping[str, Held]) -> list[ThingLine]:
    """Its memory devices that must travel: those received or packed, then those that nobody has named."""
    if not machine.must_travel:
        return []
    made = [_memory(day, machine, line, held) for line in machine.lines]
    named = [line for line in made if line.state in (MemoryState.RECEIVED, MemoryState.IN_CASE)]
    rest = [line for line in made if line not in named]
    inside = [line for line in rest if line.state is MemoryState.TRAVELS_INSIDE]
    may_stay = len(made) - machine.must_travel
    excused = inside[may_stay:]
    open_lines = [line for line in rest if line not in inside]
    lacking = max(0, machine.must_travel - len(named) - len(excused))
    said = [line for line in open_lines if line.state is not MemoryState.NOT_SAID]
    silent = [line for line in open_lines if line.state is MemoryState.NOT_SAID]
    kept = [*named, *excused, *said]
    still = max(0, lacking - len(said))
    if still >= len(silent):
        return [*kept, *silent]
    codes = tuple(line.code for line in silent)
    return [*kept, *(_replace(line, one_of=codes) for line in silent[:still])]


def _replace(line: ThingLine, *, one_of: tuple[str, ...]) -> ThingLine:
    import msgspec

    return msgspec.structs.replace(line, one_of=one_of)


def _memory(day: SiteDay, machine: MemoryResult, line: MemoryLine, held: Mapping[str, Held]) -> ThingLine:
    thing = thing_key(f"memory/{line.id}")
    mine = held.get(thing)
    tables = tables_of(mine)
    state = MemoryState.RECEIVED if tables else line.state
    if state is MemoryState.RECEIVED and not tables and mine is not None and mine.at:
        # Received somewhere, but no table has it: it is still to come.
        state = MemoryState.IN_CASE
    return ThingLine(
        thing=thing,
        sort=Sort.MEMORY_DEVICE,
        site=day.site,
        code=line.id,
        device=machine.device,
        state=state,
        inside=line.inside,
        word=_word(mine),
        tables=tables,
    )


_STATE_OF = {
    "travels_inside": MemoryState.TRAVELS_INSIDE,
    "to_follow": MemoryState.TO_FOLLOW,
    "not_found": MemoryState.NOT_FOUND,
}


def _plain(day: SiteDay, thing: str, sort: Sort, code: str, held: Mapping[str, Held]) -> ThingLine:
    mine = held.get(thing)
    tables = tables_of(mine)
    state, inside = MemoryState.NOT_SAID, ""
    if tables:
        state = MemoryState.RECEIVED
    elif mine is not None and mine.stated is not None:
        state, inside = _STATE_OF.get(mine.stated.state, MemoryState.NOT_SAID), mine.stated.inside
    return ThingLine(
        thing=thing,
        sort=sort,
        site=day.site,
        code=code,
        state=state,
        inside=inside,
        word=_word(mine),
        tables=tables,
    )


def tables_of(held: Held | None) -> tuple[str, ...]:
    """The receiving tables that have the thing; two where two took it in and neither gave it on."""
    if held is None:
        return ()
    return tuple(dict.fromkeys(leg.to_place for leg in held.at if at_table(leg)))


def _word(held: Held | None) -> Leg | None:
    return held.legs[-1] if held is not None and held.legs else None
