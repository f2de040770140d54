"""What the columns of a workbook tell a person: notes with units and examples, and where ids come from."""

from __future__ import annotations

import re
from collections.abc import Callable

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.intake.cells import WANTED, CellKind
from pollstead.intake.tab_cells import Cell
from pollstead.intake.tabs import Tab, singular, tab_named, tabs

Say = Callable[[str], str]

EXAMPLES = {
    CellKind.ID: "00123",
    CellKind.WHOLE: "12",
    CellKind.LENGTH: "36",
    CellKind.PERCENT: "12.5",
    CellKind.PER_VOTER: "1.05",
    CellKind.SECONDS: "75",
    CellKind.CLOCK: "07:00",
    CellKind.DATE: "2026-11-03",
    CellKind.YES_NO: "yes",
    CellKind.LIST: "03 04",
}
UNITS = {
    CellKind.LENGTH: N_("inches, or millimeters with mm"),
    CellKind.PERCENT: N_("percent"),
    CellKind.SECONDS: N_("seconds"),
    CellKind.PER_VOTER: N_("for each voter"),
}

_NAMED_FILE = re.compile(r"\bids? from (\w+)\.csv\b")
_OTHER_NAMES = {
    ("sites", "kind"): "site_kinds",
    ("devices", "home"): "sites",
    ("devices", "fixed"): "sites",
    ("uses", "station_type"): "station_types",
    ("closures", "part"): "parts",
    ("closure_seals", "closure"): "closures",
}
"""Columns whose name does not say which ids they hold; any other is found by its name or its words."""


class Reference(Value, frozen=True, kw_only=True):
    """A column whose cells are taken from a column of another tab."""

    tab: str
    column: str


def reference(tab: Tab, cell: Cell) -> Reference | None:
    """The tab and column that `cell` takes its ids from, or None.

    A column called ``site`` takes the ids of the tab ``sites``; words such as "an id from people.csv"
    name the tab as well.
    """
    if cell.column.kind not in (CellKind.ID, CellKind.TEXT) or cell.choices or cell.as_json:
        return None
    with_ids = {other.name for other in tabs() if any(own.name == "id" for own in other.cells)}
    named = _OTHER_NAMES.get((tab.name, cell.name))
    if named is None:
        found = _NAMED_FILE.search(cell.column.words)
        by_name = {singular(name): name for name in with_ids} | {"person": "people"}
        named = found[1] if found else by_name.get(cell.name)
    if named is None or named not in with_ids or named == tab.name:
        return None
    return Reference(tab=named, column="id")


def note(tab: Tab, cell: Cell, say: Say) -> str:
    """The note on a heading: what it means, what a cell looks like, an example, where ids come from."""
    words = say(cell.column.words).replace("{tab}", tab.parent)
    lines = [words[:1].upper() + words[1:] + "."]
    if cell.choices:
        several = say(N_("One or more of, with semicolons between them")) if cell.many else say(N_("One of"))
        lines.append(f"{several}: {', '.join(cell.choices)}.")
    elif not cell.as_json:
        unit = UNITS.get(cell.column.kind)
        if unit:
            lines.append(say(N_("Unit")) + f": {say(unit)}.")
        lines.append(say(N_("Wanted")) + f": {say(WANTED[cell.column.kind])}.")
        example = EXAMPLES.get(cell.column.kind)
        if example:
            lines.append(say(N_("Example")) + f": {example}")
    taken_from = reference(tab, cell)
    if taken_from is not None:
        lines.append(say(N_("Ids from the tab")) + f" {tab_named(taken_from.tab).name}.")
    lines.append(say(N_("Needed in every row.")) if cell.column.required else say(N_("May stay blank.")))
    return "\n".join(lines)
