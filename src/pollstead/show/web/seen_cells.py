"""Which cells of the county's tables a role sees: people's data, parties, keys and seals by need."""

from __future__ import annotations

from collections.abc import Callable

from pollstead.intake.tabs import tabs
from pollstead.record.kinds.offices import is_personal
from pollstead.show.web.capabilities import Capability

_PHONES = ("phone", "email")
_SEAL_TABS = ("seal_", "closure_seals")


def may_see(may: Callable[[Capability], bool], tab: str, column: str) -> bool:
    """Whether a role sees what a cell holds; `column` "" is a whole row."""
    wanted = needed_for(tab, column)
    if not column:
        wanted |= {one for cell in _columns(tab) for one in needed_for(tab, cell)}
    return all(map(may, wanted))


def needed_for(tab: str, column: str) -> set[Capability]:
    """The capabilities that a cell asks for."""
    wanted: set[Capability] = set()
    if tab.startswith(_SEAL_TABS):
        wanted.add(Capability.SEE_EXPECTED)
    if column == "party":
        wanted.add(Capability.SEE_PARTY)
    if "key" in column.split("_") or column == "openers":
        wanted.add(Capability.SEE_KEYS)
    if column.endswith(_PHONES):
        wanted.add(Capability.SEE_PHONES)
    if tab == "people" or (column and is_personal(tab, column)):
        wanted.add(Capability.SEE_PEOPLE)
    return wanted - ({Capability.SEE_KEYS} if column == "seed_key" else set())


def left_out(may: Callable[[Capability], bool]) -> frozenset[tuple[str, str]]:
    """The tabs (column "") and columns that a role's workbook leaves out."""
    out = {(tab.name, "") for tab in tabs() if not all(map(may, needed_for(tab.name, "")))}
    for tab in tabs():
        if (tab.name, "") not in out:
            out |= {
                (tab.name, column)
                for column in _columns(tab.name)
                if not all(map(may, needed_for(tab.name, column)))
            }
    return frozenset(out)


def _columns(tab: str) -> tuple[str, ...]:
    return next((tuple(cell.name for cell in one.cells) for one in tabs() if one.name == tab), ())
