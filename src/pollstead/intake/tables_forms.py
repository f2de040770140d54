"""The table of the county's own forms; it may be left out."""

from __future__ import annotations

from pollstead.election.forms import FormLine
from pollstead.election.words import N_
from pollstead.intake.columns import Table, table_of

TABLES_OF_FORMS: tuple[Table, ...] = (
    table_of(
        "form_lines",
        FormLine,
        N_("On which line of which of your own forms each number of the balance is written."),
        {
            "term": N_("Number of the balance by its id, such as ballots_spoiled"),
            "form": N_("Name of your form, as people call it"),
            "line": N_("Line or box of the form, as it is printed there"),
        },
        owner=N_("election official"),
    ),
)
