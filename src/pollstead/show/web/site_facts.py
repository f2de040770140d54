"""What the county's tables say of one site, table by table in the order of the job, as far as a role sees."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Final

from pollstead.election.county import Election
from pollstead.election.units import foot, format_feet_inches, parse_feet_inches
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.intake.cells import CellKind
from pollstead.intake.tab_rows import rows_of, taken_of
from pollstead.intake.tabs import tab_named
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.seen_cells import may_see

TABLES_OF_A_SITE: Final = (
    ("sites", N_("The site")),
    ("site_access", N_("Keys and agreements")),
    ("site_contacts", N_("People of the building")),
    ("site_survey", N_("Measured and seen")),
    ("rooms", N_("Rooms")),
    ("doors", N_("Doors")),
    ("circuits", N_("Circuits")),
    ("outlets", N_("Outlets")),
    ("ports", N_("Data ports")),
    ("site_routes", N_("The way there and back")),
    ("delivery_stops", N_("Deliveries")),
    ("site_times", N_("What else happens there")),
    ("hours", N_("Hours")),
    ("site_voters", N_("Its voters")),
    ("precincts", N_("Precincts")),
    ("carts", N_("Carts")),
    ("early_devices", N_("Early-vote devices")),
)
"""Tables of which rows belong to a site, with our words, in the order of the job."""


LONG_UM: Final = foot(6)
"""From this length on a measure stands in feet and inches; door widths are compared in inches."""
_UNITS: Final = {CellKind.PERCENT: " %", CellKind.SECONDS: " s"}


class FactCell(Value, frozen=True, kw_only=True):
    """A column's name, what it means, and what stands there."""

    column: str
    words: str
    text: str


class FactTable(Value, frozen=True, kw_only=True):
    """The rows of one table that belong to a site; blank cells are left out, hidden ones are counted."""

    words: str
    file: str
    rows: tuple[tuple[FactCell, ...], ...]
    hidden: int


@functools.lru_cache(maxsize=2)
def _rows_by_site(digest: str, taken: _Kept) -> dict[tuple[str, str], list[tuple[str, ...]]]:
    """The rows of each table by site; kept by the digest of the facts."""
    found: dict[tuple[str, str], list[tuple[str, ...]]] = {}
    wanted = {name for name, _ in TABLES_OF_A_SITE}
    for held in rows_of(taken_of(taken.election), ()):
        if held.tab in wanted:
            tab = tab_named(held.tab)
            place = tab.index("id" if held.tab == "sites" else "site")
            for row in held.rows:
                found.setdefault((held.tab, row[place]), []).append(row)
    return found


class _Kept:
    """An election that counts as equal to any other: the digest beside it tells them apart."""

    def __init__(self, election: Election) -> None:
        self.election = election

    def __hash__(self) -> int:
        return 0

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Kept)


def with_unit(kind: CellKind, text: str) -> str:
    """What stands in a cell with the unit that its bare number has: inches, percent, seconds."""
    if not text[-1].isdigit():
        return text
    if kind is CellKind.LENGTH:
        length_um = parse_feet_inches(text)
        return f"{text} in" if length_um < LONG_UM else format_feet_inches(length_um)
    return text + _UNITS.get(kind, "")


def facts_of_site(
    election: Election, digest: str, site: str, may: Callable[[Capability], bool]
) -> tuple[FactTable, ...]:
    """Every table that says something of the site; `digest` is that of the facts."""
    rows = _rows_by_site(digest, _Kept(election))
    tables = []
    for name, words in TABLES_OF_A_SITE:
        tab = tab_named(name)
        shown: list[tuple[FactCell, ...]] = []
        hidden: set[str] = set()
        for row in rows.get((name, site), ()):
            cells = []
            for cell, text in zip(tab.cells, row, strict=True):
                if not text or cell.name == "site":
                    continue
                if not may_see(may, name, cell.name):
                    hidden.add(cell.name)
                    continue
                cells.append(
                    FactCell(
                        column=cell.name, words=cell.column.words, text=with_unit(cell.column.kind, text)
                    )
                )
            if cells:
                shown.append(tuple(cells))
        if shown or hidden:
            tables.append(FactTable(words=words, file=tab.file, rows=tuple(shown), hidden=len(hidden)))
    return tuple(tables)
