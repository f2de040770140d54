"""Propose what each column of a table of counts holds; a person confirms it, the county keeps it."""

from __future__ import annotations

import enum
import re

from pollstead.election.values import Value, require
from pollstead.election.words import N_
from pollstead.intake.counts.table import CountTable
from pollstead.intake.foreign import read_number
from pollstead.intake.synonyms import ALIKE_ENOUGH, likeness, plain

SHEETS = "sheets"
"""The quantity of what a memory device counted in sheets."""
ALL_MODES = "all"
"""The way of voting of a number that holds all ways together."""


class Role(enum.StrEnum):
    """What a column of a table of counts holds."""

    SITE = "site"
    DEVICE = "device"
    MEMORY = "memory device"
    MODE = "way of voting"
    STYLE = "ballot style"
    QUANTITY = "quantity"
    COUNT = "count"


ROLE_WORDS: dict[Role, tuple[str, ...]] = {
    Role.SITE: tuple(
        "site|site id|site name|polling place|polling place id|polling place name|polling location|location"
        "|location id|location name|voting location|vote center|place|facility|reporting unit|precinct"
        "|precinct id|precinct name|pct".split("|")
    ),
    Role.DEVICE: tuple(
        "device|device id|device serial|scanner|scanner serial|machine|machine id|serial|serial number"
        "|unit id|tabulator|tabulator id".split("|")
    ),
    Role.MEMORY: tuple(
        "memory device|memory device id|memory card|memory card id|memory id|memory stick|media|media id"
        "|card id".split("|")
    ),
    Role.MODE: tuple("mode|way of voting|vote type|voting method|method|counting group|how cast".split("|")),
    Role.STYLE: tuple("style|ballot style|ballot style id|style id|style name|bs".split("|")),
    Role.QUANTITY: tuple("quantity|item|measure|kind of count|what|count type|what was counted".split("|")),
    Role.COUNT: tuple("count|counts|number|value|total|how many|amount|n".split("|")),
}
"""What offices call each column (common practice, no source; varies by county)."""

NAMED = (Role.SITE, Role.DEVICE, Role.MEMORY, Role.MODE, Role.STYLE, Role.QUANTITY)
"""Columns whose cells name something."""


class Target(enum.StrEnum):
    """What the numbers of a table are."""

    CANVASS = "canvass"
    RECEIVING = "receiving"
    UPLOADS = "uploads"


TARGET_WORDS: dict[Target, str] = {
    Target.CANVASS: N_("totals of the canvass, by site"),
    Target.RECEIVING: N_("what was counted where the sites' things arrive, by site"),
    Target.UPLOADS: N_("memory devices read at the central place, one row each"),
}


class Meaning(Value, frozen=True, kw_only=True):
    """One quantity or one way of voting: its coded word, and what offices call it."""

    id: str
    words: tuple[str, ...]


class ColumnUse(Value, frozen=True, kw_only=True):
    """What a column holds. A column of counts may fix a quantity and a way of voting."""

    theirs: str
    role: Role
    quantity: str = ""
    mode: str = ""
    likeness: int = 100

    def __post_init__(self) -> None:
        require(
            self.role is Role.COUNT or not (self.quantity or self.mode),
            f"only a column of counts has a quantity or a way of voting, got {self.role.value}",
        )


class NameUse(Value, frozen=True, kw_only=True):
    """What a text in a column of `role` stands for; `ours` is "" where its rows are left out."""

    role: Role
    theirs: str
    ours: str


class CountMapping(Value, frozen=True, kw_only=True):
    """How tables with one header are read, as a person confirmed it.

    `quantity` and `mode` hold where neither a column nor a heading says so. `add_rows` says that rows with
    the same names are parts of one number.
    """

    header: tuple[str, ...]
    target: Target
    columns: tuple[ColumnUse, ...]
    names: tuple[NameUse, ...] = ()
    quantity: str = ""
    mode: str = ALL_MODES
    add_rows: bool = False
    confirmed_by: str = ""

    def of(self, role: Role) -> tuple[ColumnUse, ...]:
        """The columns of a role, from left to right."""
        found = (use for use in self.columns if use.role is role)
        return tuple(sorted(found, key=lambda use: self.header.index(use.theirs)))

    def faults(self) -> tuple[str, ...]:
        """What keeps it from being used, as English sentences."""
        found = []
        where = (Role.MEMORY,) if self.target is Target.UPLOADS else (Role.SITE, Role.DEVICE)
        if not any(self.of(role) for role in where):
            found.append(
                N_("Say which column holds the memory device.")
                if self.target is Target.UPLOADS
                else N_("Say which column holds the site or the device.")
            )
        counts = self.of(Role.COUNT)
        if not counts:
            found.append(N_("Say which column holds the counts."))
        told = self.of(Role.QUANTITY) or self.quantity or all(use.quantity for use in counts)
        if self.target is not Target.UPLOADS and counts and not told:
            found.append(N_("Say which quantity the counts are."))
        if any(len(self.of(role)) > 1 for role in NAMED):
            found.append(N_("Two columns hold the same; say which one to use."))
        return tuple(found)


def is_heading_of(quantities: tuple[Meaning, ...], modes: tuple[Meaning, ...], heading: str) -> bool:
    """Whether a heading is like that of any column of counts."""
    return len(heading) <= 80 and _use(heading, quantities, modes) is not None


def propose(
    table: CountTable,
    quantities: tuple[Meaning, ...],
    modes: tuple[Meaning, ...],
    given: tuple[ColumnUse, ...] = (),
) -> tuple[ColumnUse, ...]:
    """The most likely use of each column, the person's own first; a column like nothing is left out.

    Raises KeyError naming a column that the table does not have.
    """
    for use in given:
        if use.theirs not in table.header:
            raise KeyError(use.theirs)
    said = {use.theirs for use in given}
    taken: set[Role] = {use.role for use in given if use.role is not Role.COUNT}
    found = list(given)
    pairs = []
    for place, heading in enumerate(table.header):
        likely = None if heading in said or len(heading) > 80 else _use(heading, quantities, modes)
        if likely is not None and (likely.role is not Role.COUNT or _are_counts(table, place)):
            pairs.append((-likely.likeness, place, likely))
    for _, _, use in sorted(pairs, key=lambda pair: pair[:2]):
        if use.role is not Role.COUNT and use.role in taken:
            continue
        taken.add(use.role)
        found.append(use)
    plain_counts = [u for u in found if u.role is Role.COUNT and not u.quantity and u.theirs not in said]
    if any(u.quantity for u in found):
        # Beside columns that name their quantity, one that only says "Total" adds them up or says nothing.
        found = [u for u in found if u not in plain_counts]
    return tuple(sorted(found, key=lambda use: table.header.index(use.theirs)))


def is_suggested(uses: tuple[ColumnUse, ...]) -> Target:
    """What the numbers most likely are, from the columns."""
    return Target.UPLOADS if any(use.role is Role.MEMORY for use in uses) else Target.CANVASS


def meaning_of(text: str, meanings: tuple[Meaning, ...]) -> str:
    """The coded word that a text is one of the names of; "" where it is none of them exactly."""
    own = plain(text)
    return next((m.id for m in meanings if own in {plain(word) for word in (m.id, *m.words)}), "")


def _use(heading: str, quantities: tuple[Meaning, ...], modes: tuple[Meaning, ...]) -> ColumnUse | None:
    """The most likely use of a heading, such as ``Early check-ins``; None where it is like nothing."""
    mode, rest = _split_mode(heading, modes)
    best: tuple[float, ColumnUse] | None = None
    for quantity in quantities:
        score = likeness(rest, (quantity.id.replace("_", " "), *quantity.words))
        if score >= ALIKE_ENOUGH and (best is None or score > best[0]):
            use = ColumnUse(
                theirs=heading, role=Role.COUNT, quantity=quantity.id, mode=mode, likeness=int(score)
            )
            best = (score, use)
    for role, words in ROLE_WORDS.items():
        score = likeness(heading, words)
        if score >= ALIKE_ENOUGH and (best is None or score > best[0]):
            best = (score, ColumnUse(theirs=heading, role=role, likeness=int(score)))
    if best is None and mode:
        # "Early" alone over numbers: counts of that way of voting.
        return ColumnUse(theirs=heading, role=Role.COUNT, mode=mode, likeness=ALIKE_ENOUGH)
    return best[1] if best else None


def _split_mode(heading: str, modes: tuple[Meaning, ...]) -> tuple[str, str]:
    """The way of voting that a heading names, and the heading without it."""
    own = plain(heading)
    longest = sorted(((plain(w), m.id) for m in modes for w in m.words), key=lambda pair: -len(pair[0]))
    for word, mode in longest:
        found = re.search(rf"\b{re.escape(word)}\b", own)
        if found:
            return mode, " ".join((own[: found.start()] + own[found.end() :]).split())
    return "", own


def _are_counts(table: CountTable, place: int) -> bool:
    filled = [row.cells[place] for row in table.rows if row.cells[place]]
    return bool(filled) and sum(_is_count(cell) for cell in filled) * 10 >= len(filled) * 8


def _is_count(cell: str) -> bool:
    try:
        return read_number(cell).count is not None
    except ValueError:
        return False
