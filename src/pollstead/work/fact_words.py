"""How changes of facts are named to people, and which cells are shown only to those who may see them."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from pollstead.election.words import N_
from pollstead.record.kinds.offices import is_personal

ACT_WORDS: Final = MappingProxyType(
    {
        "import": N_("workbook taken in"),
        "amend": N_("facts amended"),
        "bulk_edit": N_("several rows edited"),
        "swap_device": N_("device swapped"),
        "reseal": N_("closure re-sealed"),
        "move_site": N_("site moved"),
        "replace_person": N_("person replaced"),
        "add_stock": N_("stock added"),
        "undo": N_("change undone"),
        "accept": N_("change of another computer accepted"),
        "set_aside": N_("change set aside"),
        "bring_back": N_("earlier tables brought back"),
    }
)
"""What an act is called; an act that is not here is shown by its own word."""

_SEAL_TABLES = ("seal", "closure_seals")


def is_shown(table: str, column: str) -> bool:
    """Whether what a cell holds is shown without being asked for: not people's data, no seal number."""
    if table == "people" or table.startswith(_SEAL_TABLES):
        return False
    return not (column and is_personal(table, column))
