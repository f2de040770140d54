"""One place and one custodian for each thing at each instant; where two words do not join, both are kept.

A hand-off joins the one before when it leaves from the place where the thing was, when the giver is the one
who had it, or when a sending to that place was open. Otherwise the thing stands at both places until people
say more; nothing is chosen and nothing is blocked.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from pollstead.election.values import Value
from pollstead.reconcile.custody.legs import Leg, LegKind

MS_PER_MINUTE = 60_000


class Held(Value, frozen=True, kw_only=True):
    """Where one thing is: `at` are the legs that say so, one where all words join, more where they do not.

    `open_leg` is a sending that nobody has received; `fetching` the word that two people go for it.
    """

    thing: str
    at: tuple[Leg, ...] = ()
    legs: tuple[Leg, ...] = ()
    open_leg: Leg | None = None
    stated: Leg | None = None
    fetching: Leg | None = None

    @property
    def places(self) -> tuple[str, ...]:
        """The ids of the places, each once; one unless words do not join."""
        return tuple(dict.fromkeys(leg.to_place for leg in self.at))

    @property
    def custodians(self) -> tuple[str, ...]:
        """Who has it by the last word about it; empty while nobody is named."""
        return self.at[-1].holders if self.at else ()

    @property
    def differs(self) -> bool:
        """Whether two words put it at two places at once."""
        return len(self.places) > 1

    def overdue(self, now_ms: int, grace_min: int) -> bool:
        """Whether it was sent, is not received, and its expected time is past by more than the grace."""
        leg = self.open_leg
        if leg is None or leg.expected_ms is None:
            return False
        return now_ms > leg.expected_ms + grace_min * MS_PER_MINUTE


def held_things(legs: Iterable[Leg]) -> dict[str, Held]:
    """Every thing that the record names, by id."""
    found: dict[str, list[Leg]] = defaultdict(list)
    for leg in legs:
        found[leg.thing].append(leg)
    return {thing: held_thing(thing, tuple(mine)) for thing, mine in sorted(found.items())}


def held_thing(thing: str, legs: tuple[Leg, ...]) -> Held:
    """One thing by its own legs, in order."""
    at: list[Leg] = []
    open_leg: Leg | None = None
    stated: Leg | None = None
    fetching: Leg | None = None
    for leg in legs:
        if leg.kind is LegKind.GOING:
            fetching = leg if leg.state == "going" else None
        elif leg.kind in (LegKind.STATED, LegKind.PACKED):
            stated = leg
        elif leg.kind is LegKind.SENT:
            at, open_leg, stated, fetching = [*_left(at, leg), leg], leg, None, None
        elif leg.kind is LegKind.LEFT:
            # People left in a hurry: custody starts again from what they said was where.
            at, open_leg, stated, fetching = [leg], None, None, None
        elif leg.state == "received":
            at = [*_left(at, leg), leg]
            open_leg, stated, fetching = None, None, None
    return Held(thing=thing, at=tuple(at), legs=legs, open_leg=open_leg, stated=stated, fetching=fetching)


def _left(at: list[Leg], leg: Leg) -> list[Leg]:
    """The words that still stand beside the new one: those that it does not join."""
    return [] if len(at) == 1 and _joins(at[0], leg) else [one for one in at if not _joins(one, leg)]


def _joins(before: Leg, leg: Leg) -> bool:
    """Whether the new leg goes on from the one before."""
    if before.to_place == leg.to_place or leg.from_place == before.to_place:
        return True
    if before.kind is LegKind.SENT and leg.kind is LegKind.RECEIVED:
        # What was on its way arrived, at the place meant or at another one.
        return True
    return bool(set(before.holders) & set(leg.givers))
