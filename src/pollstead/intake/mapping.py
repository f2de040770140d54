"""Propose what a foreign table is and which of its columns is which; a person confirms or overrules."""

from __future__ import annotations

import msgspec

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.intake.csv_text import Row
from pollstead.intake.foreign import ForeignTable, read_number
from pollstead.intake.synonyms import ALIKE_ENOUGH, COLUMNS, NUMBERS, device_likeness, likeness

FLEET = "fleet."
"""``fleet.KIND`` stands for the column that holds how many devices of KIND there are."""

PRECINCTS = N_("precincts, one row each")
PLACES = N_("places, one row each")
PAST = N_("voters or past ballots by precinct or place")
DEVICES = N_("devices, one row each")
TOTALS = N_("machine counts")
NOTHING = N_("not recognized")


class Given(Value, frozen=True, kw_only=True):
    """A person's own word: in `file`, our column `ours` is their column `theirs` ("" for none)."""

    file: str
    ours: str
    theirs: str


class Where(Value, frozen=True, kw_only=True):
    """Only rows of `file` whose `column` holds `value` are taken."""

    file: str
    column: str
    value: str


class Match(Value, frozen=True, kw_only=True):
    """Our column, their column, how alike the names are (100 where a person said so), sample values."""

    ours: str
    theirs: str
    likeness: int
    given: bool
    samples: tuple[str, ...]


class Proposal(Value, frozen=True, kw_only=True):
    """What a table is taken for, column by column."""

    table: ForeignTable
    purpose: str
    matches: tuple[Match, ...]
    unused: tuple[str, ...]
    rows_before: int

    def theirs(self, ours: str) -> str | None:
        """Their column for ours, or None."""
        return next((match.theirs for match in self.matches if match.ours == ours), None)

    @property
    def settled(self) -> bool:
        """Whether a person said every column of it."""
        return bool(self.matches) and all(match.given for match in self.matches)


class UnknownColumn(ValueError):
    """A column named by a person that the table does not have."""

    def __init__(self, table: ForeignTable, heading: str) -> None:
        super().__init__(f"{table.name} has no column {heading!r}; it has: {', '.join(table.header)}")


def is_of(file: str, table: ForeignTable) -> bool:
    """Whether a person's FILE means this table: its whole name, or the name without the sheet."""
    return file in (table.name, table.name.partition("#")[0])


def only_where(table: ForeignTable, wheres: tuple[Where, ...]) -> ForeignTable:
    """The table with only the rows that were asked for; raises `UnknownColumn`."""
    rows = table.rows
    for where in wheres:
        if is_of(where.file, table):
            index = _index(table, where.column)
            wanted = where.value.strip().casefold()
            rows = tuple(row for row in rows if row.cells[index].strip().casefold() == wanted)
    return msgspec.structs.replace(table, rows=rows)


def filled_down(table: ForeignTable, columns: tuple[str, ...]) -> ForeignTable:
    """The table with the blank cells of these columns taking the cell above; raises `UnknownColumn`."""
    places = [_index(table, column) for column in columns]
    above: dict[int, str] = {}
    rows = []
    for row in table.rows:
        cells = list(row.cells)
        for place in places:
            if cells[place]:
                above[place] = cells[place]
            else:
                cells[place] = above.get(place, "")
        rows.append(Row(number=row.number, cells=tuple(cells)))
    return msgspec.structs.replace(table, rows=tuple(rows))


def propose(
    table: ForeignTable,
    given: tuple[Given, ...],
    device_words: dict[str, tuple[str, ...]],
    rows_before: int,
) -> Proposal:
    """What the table is and which column is which; raises `UnknownColumn` where a person named none."""
    own = {g.ours: g.theirs for g in given if is_of(g.file, table)}
    fixed = {ours: table.header[_index(table, theirs)] for ours, theirs in own.items() if theirs}
    fleet = {FLEET + kind: words for kind, words in device_words.items()}
    free_fleet = {ours: words for ours, words in fleet.items() if ours not in own}
    counts = _best(table, free_fleet, set(fixed.values()), fleet=True)
    one_row = len(table.rows) == 1 and (counts or any(ours.startswith(FLEET) for ours in fixed))
    if one_row:
        found = counts
    else:
        free = {ours: words for ours, words in COLUMNS.items() if ours not in own}
        found = _best(table, free, set(fixed.values()), fleet=False)
        if not {"site", "name", "precinct", "serial", "device_kind"} & ({*found, *fixed}):
            found = counts
    pairs = {ours: (theirs, 100, True) for ours, theirs in fixed.items()}
    pairs |= {ours: (theirs, score, False) for ours, (theirs, score) in found.items()}
    purpose = _purpose(set(pairs))
    for extra in _not_needed(purpose, pairs, fixed):
        del pairs[extra]
    matches = tuple(
        Match(ours=ours, theirs=theirs, likeness=score, given=own_word, samples=_samples(table, theirs))
        for ours, (theirs, score, own_word) in sorted(pairs.items(), key=lambda p: _order(p[0]))
    )
    used = {match.theirs for match in matches}
    return Proposal(
        table=table,
        purpose=purpose,
        matches=matches,
        unused=tuple(heading for heading in table.header if heading not in used),
        rows_before=rows_before,
    )


def _index(table: ForeignTable, heading: str) -> int:
    try:
        return table.column(heading)
    except KeyError:
        raise UnknownColumn(table, heading) from None


def _order(ours: str) -> tuple[int, str]:
    names = tuple(COLUMNS)
    return (names.index(ours) if ours in names else len(names), ours)


def _best(
    table: ForeignTable, wanted: dict[str, tuple[str, ...]], taken: set[str], *, fleet: bool
) -> dict[str, tuple[str, int]]:
    """The most alike pairs of our columns and theirs, each used once; ties go to the column further left."""
    pairs = []
    for place, heading in enumerate(table.header):
        if heading in taken:
            continue
        cells = table.cells(place)
        for ours, words in wanted.items():
            score = device_likeness(heading, words) if fleet else likeness(heading, words)
            if score >= ALIKE_ENOUGH and _fits(ours, cells, fleet):
                pairs.append((-score, place, ours, heading))
    found: dict[str, tuple[str, int]] = {}
    used: set[str] = set()
    for score, _, ours, heading in sorted(pairs):
        if ours not in found and heading not in used:
            found[ours] = (heading, int(-score))
            used.add(heading)
    return found


def _fits(ours: str, cells: tuple[str, ...], fleet: bool) -> bool:
    """Whether the column's content may be what its heading says."""
    filled = [cell for cell in cells if cell]
    if not filled:
        return False
    numbers = sum(1 for cell in filled if _is_count(cell))
    if fleet or ours in NUMBERS:
        return numbers * 10 >= len(filled) * 8
    if ours in ("name", "address", "city"):
        words = sum(1 for cell in filled if any(char.isalpha() for char in cell))
        return words * 2 > len(filled)
    return True


def _is_count(cell: str) -> bool:
    try:
        return read_number(cell).count is not None
    except ValueError:
        return False


def _purpose(ours: set[str]) -> str:
    place = bool(ours & {"name", "address"})
    if "serial" in ours:
        return DEVICES
    if any(name.startswith(FLEET) for name in ours) or {"device_kind", "count"} <= ours:
        return TOTALS
    if "precinct" in ours and (place or "site" in ours):
        return PRECINCTS
    if ours & {"precinct", "site"} and ours & {"registered", "ballots"} and not place:
        return PAST
    if place:
        return PLACES
    return NOTHING


_NEEDED = {
    DEVICES: {"serial", "device_kind", "tag", "site"},
    TOTALS: {"device_kind", "count"},
    PAST: {"precinct", "site", "registered", "ballots"},
    PRECINCTS: {"precinct", "site", "name", "address", "city", "area", "registered", "ballots"},
    PLACES: {"site", "name", "address", "city", "area", "precincts", "registered", "ballots"},
    NOTHING: set[str](),
}


def _not_needed(purpose: str, pairs: dict[str, tuple[str, int, bool]], fixed: dict[str, str]) -> list[str]:
    return [
        ours
        for ours in pairs
        if ours not in fixed
        and ours not in _NEEDED[purpose]
        and not (purpose == TOTALS and ours.startswith(FLEET))
    ]


def _samples(table: ForeignTable, theirs: str) -> tuple[str, ...]:
    cells = [cell for cell in table.cells(table.column(theirs)) if cell]
    return tuple(dict.fromkeys(cells))[:3]
