"""Find a thing by what stands on it: serial, tag, seal number, name, sheet, site; exact first, then near.

Pure: an index of things is made once and asked many times. A near match always says how it differs,
so that nobody takes one number for another.
"""

from __future__ import annotations

import enum
from collections import defaultdict
from collections.abc import Iterable
from typing import Final

from pollstead.election.identity import look_alike_key
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message

MOST: Final = 25
SHORTEST_NEAR: Final = 4
"""A shorter text is near to too much."""


class Sort(enum.StrEnum):
    """What was found."""

    SITE = "site"
    DEVICE = "device"
    MEMORY_DEVICE = "memory device"
    CART = "cart"
    SEAL = "seal"
    PERSON = "person"
    SHEET = "sheet"
    PRECINCT = "precinct"
    NOTICE = "notice"
    ENTRY = "entry"


class Thing(Value, frozen=True, kw_only=True):
    """One thing: what it is, what stands on it, where it is, who has it, its state, the page about it.

    `codes` are all texts by which it is found, the first the one that is shown.
    """

    sort: Sort
    codes: tuple[str, ...]
    name: str = ""
    where: str = ""
    who: str = ""
    state: str = ""
    link: str = ""
    subject: str = ""


class Match(Value, frozen=True, kw_only=True):
    """A thing that fits: by which text, how well (0 is exact), and how that text differs."""

    thing: Thing
    code: str
    rank: int
    differs: Message | None


def plain_key(text: str) -> str:
    """A text as it is compared: letters and digits alone, capital and small letters alike."""
    return "".join(c for c in text.casefold() if c.isalnum())


class Index:
    """Things by every text on them. Not a value: it arranges what it is given and then stays as it is."""

    def __init__(self, things: Iterable[Thing]) -> None:
        self.things = tuple(things)
        self._codes: list[tuple[str, str, Thing]] = []
        self._plain: dict[str, list[int]] = defaultdict(list)
        self._alike: dict[str, list[int]] = defaultdict(list)
        for thing in self.things:
            for code in thing.codes:
                plain = plain_key(code)
                if not plain:
                    continue
                self._plain[plain].append(len(self._codes))
                self._alike[look_alike_key(plain)].append(len(self._codes))
                self._codes.append((code, plain, thing))
        self._keys = tuple(self._plain)

    def find(self, query: str, most: int = MOST) -> tuple[tuple[Match, ...], int]:
        """The best matches, each thing once, and how many there are in all.

        Exact, then other marks or capitals, then characters that look alike, then the text as a
        part (beginning before middle), then one character that differs, or two where nothing fits better.
        """
        wanted = plain_key(query)
        if not wanted:
            return (), 0
        found: dict[tuple[Sort, str], Match] = {}

        def take(places: Iterable[int], rank: int, differs: Message | None) -> None:
            for place in places:
                code, _, thing = self._codes[place]
                key = (thing.sort, thing.subject or thing.codes[0])
                if key not in found:
                    exact = rank == 1 and code == query.strip()
                    found[key] = Match(thing=thing, code=code, rank=0 if exact else rank, differs=differs)

        take(self._plain.get(wanted, ()), 1, None)
        take(self._alike.get(look_alike_key(wanted), ()), 2, LOOKS_ALIKE)
        if len(wanted) >= 2:
            starts = [k for k in self._keys if k.startswith(wanted) and k != wanted]
            inside = [k for k in self._keys if wanted in k and not k.startswith(wanted)]
            for rank, keys in ((3, starts), (4, inside)):
                take((p for k in sorted(keys) for p in self._plain[k]), rank, PART_OF_IT)
        if len(wanted) >= SHORTEST_NEAR:
            sure = any(match.rank <= 2 for match in found.values())
            for key, distance in self._near(wanted, 1 if sure or len(wanted) < 7 else 2):
                take(self._plain[key], 4 + distance, how_it_differs(wanted, key, distance))
        ranked = sorted(found.values(), key=lambda m: (m.rank, m.thing.sort.value, m.code))
        return tuple(ranked[:most]), len(ranked)

    def _near(self, wanted: str, furthest: int) -> list[tuple[str, int]]:
        from rapidfuzz import process
        from rapidfuzz.distance import OSA

        hits = process.extract(wanted, self._keys, scorer=OSA.distance, score_cutoff=furthest, limit=MOST)
        return sorted(
            ((key, int(distance)) for key, distance, _ in hits if distance), key=lambda h: (h[1], h[0])
        )


LOOKS_ALIKE: Final = message(N_("Only characters that look alike differ (such as O and 0, I and 1)."))
PART_OF_IT: Final = message(N_("What you typed is a part of it."))


def how_it_differs(wanted: str, found: str, distance: int) -> Message:
    """One sentence on how two near texts differ; positions count letters and digits from 1."""
    if distance > 1:
        return message(N_("{n} characters differ."), n=distance)
    at = next(
        (i for i, (a, b) in enumerate(zip(wanted, found, strict=False)) if a != b),
        min(len(wanted), len(found)),
    )
    if len(wanted) < len(found):
        return message(N_("One character more than you typed, at position {position}."), position=at + 1)
    if len(wanted) > len(found):
        return message(N_("One character fewer than you typed, at position {position}."), position=at + 1)
    if wanted[at + 1 :] != found[at + 1 :]:
        return message(N_("Two neighbors changed places, at position {position}."), position=at + 1)
    return message(
        N_("One character differs, at position {position}: {found} in place of {wanted}."),
        position=at + 1,
        found=found[at].upper(),
        wanted=wanted[at].upper(),
    )
