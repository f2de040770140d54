"""Contradictions in the tables about buildings and surroundings: a row given twice."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from pollstead.election.notice import Place
from pollstead.election.words import N_, message
from pollstead.intake.clashes import drops, grouped, row_list
from pollstead.intake.notices import contradicts
from pollstead.intake.tables_around import TABLES_AROUND
from pollstead.intake.tables_calendar import TABLES_OF_CALENDAR
from pollstead.intake.tables_contacts import TABLES_OF_CONTACTS
from pollstead.intake.tables_day import TABLES_OF_DAY
from pollstead.intake.tables_forms import TABLES_OF_FORMS
from pollstead.intake.tables_labels import TABLES_OF_LABELS
from pollstead.intake.tables_seals import TABLES_OF_STOCK
from pollstead.intake.tables_styles import TABLES_OF_STYLES
from pollstead.intake.taken import Clash, Taken

ROW_KEYS: dict[str, tuple[str, ...]] = {
    "rooms": ("site", "id"),
    "room_corners": ("site", "room", "number"),
    "doors": ("site", "id"),
    "circuits": ("site", "id"),
    "outlets": ("site", "id"),
    "ports": ("site", "id"),
    "site_access": ("site",),
    "site_survey": ("site",),
    "site_routes": ("site",),
    "site_voters": ("site",),
    "site_times": ("site", "date", "kind", "from_min", "to_min", "what"),
    "vehicles": ("id",),
    "delivery_stops": ("vehicle", "date", "stop"),
    "seal_receipts": ("id",),
    "early_devices": ("device_kind", "site"),
    "carts": ("id",),
    "tasks": ("id",),
    "holidays": ("date",),
    "site_contacts": ("site", "person", "part"),
    "ready_weights": ("question",),
    "incident_kinds": ("id",),
    "reading_errors": ("kind", "from_", "to"),
    "fault_odds": ("kind",),
    "next_acts": ("act",),
    "form_lines": ("term", "form"),
    "style_sheets": ("style",),
}
"""The fields that name a row of each table; two rows with the same stand against each other."""


def rows_twice(taken: Taken) -> Iterator[Clash]:
    """Two rows of one table about the same thing; neither is taken in."""
    around_the_day = (*TABLES_OF_CALENDAR, *TABLES_OF_CONTACTS, *TABLES_OF_DAY)
    more = (*TABLES_OF_LABELS, *around_the_day, *TABLES_OF_FORMS, *TABLES_OF_STYLES)
    for table in (*TABLES_AROUND, *TABLES_OF_STOCK, *more):
        # Rows that only a seal number tells apart are left to the seal ledger: a key would sign the number.
        if table.name not in ROW_KEYS:
            continue
        fields = ROW_KEYS[table.name]
        rows = taken.of(table.row_type)
        for group in grouped(rows, lambda row, fields=fields: tuple(getattr(row, f) for f in fields)):  # type: ignore[misc]
            number, row = group[1]
            named = "/".join(str(getattr(row, field)) for field in fields)
            yield Clash(
                notice=contradicts(
                    "row-twice",
                    f"{table.name}/{named}",
                    Place(file=table.file, row=number),
                    message(
                        N_("{name} stands in rows {rows} of {file}"),
                        name=named,
                        rows=row_list(group),
                        file=table.file,
                    ),
                    found=named,
                    wanted="one row",
                    remedy=message(N_("Keep the row that is right.")),
                ),
                drops=drops(table.name, group),
            )


CHECKS: tuple[Callable[[Taken], Iterator[Clash]], ...] = (rows_twice,)
