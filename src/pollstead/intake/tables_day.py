"""The table of the day itself: which kinds of incident the office writes down. It may be left out."""

from __future__ import annotations

from pollstead.election.incidents import IncidentKind
from pollstead.election.words import N_
from pollstead.intake.columns import Table, table_of

TABLES_OF_DAY: tuple[Table, ...] = (
    table_of(
        "incident_kinds",
        IncidentKind,
        N_("One row for each kind of incident that sites tell by phone; without rows the usual ones count."),
        {
            "id": N_("Short name in small letters, never used again for another"),
            "words": N_("What it is, as whoever answers the phone would say it"),
        },
        ids=("id",),
        owner=N_("election official"),
    ),
)
