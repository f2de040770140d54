"""The table of sheets by ballot style; it may be left out."""

from __future__ import annotations

from pollstead.election.style_sheets import StyleSheets
from pollstead.election.words import N_
from pollstead.intake.columns import Table, table_of

TABLES_OF_STYLES: tuple[Table, ...] = (
    table_of(
        "style_sheets",
        StyleSheets,
        N_("How many sheets the ballots of a style have, where not all styles have the same number."),
        {
            "style": N_("Ballot style, as precincts.csv names it"),
            "sheets": N_("Sheets that make one ballot of this style"),
        },
        ids=("style",),
        owner=N_("election official"),
    ),
)
