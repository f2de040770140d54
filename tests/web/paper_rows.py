"""Printed sheets of the small county without setting a page, for tests of paper that comes back."""

from __future__ import annotations

from pollstead.show.packet.changed_printer import PacketPrinter
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.words import ENGLISH
from pollstead.store.sheets import Sheet


def keep_sheets(folder: OpenFolder, printed_utc_ms: int = 1) -> tuple[Sheet, ...]:
    """Keep every blank sheet of the plan in force as printed; what was kept."""
    digest, election, plan = folder.current_digest(), folder.election(), folder.current()
    assert election is not None and plan is not None
    printer = PacketPrinter()
    planned = printer.planned(election, plan, digest, tuple(s.site for s in plan.sites), ENGLISH)
    serials = printer.serials(election, digest, planned)
    rows = tuple(
        Sheet(
            serial=serials[sheet.place],
            kind=sheet.kind.value,
            site=sheet.site,
            day=sheet.day,
            plan_digest=digest,
            list_digest="",
            printed_utc_ms=printed_utc_ms,
            key=sheet.key,
            language=sheet.language,
            content=sheet.content,
        )
        for sheet in planned
        if sheet.kind.value != "expected list"
    )
    folder.store.sheets.add(rows)
    return rows


def sheet_at(rows: tuple[Sheet, ...], site: str, kind: str, day: str = "2028-11-07") -> Sheet:
    """The first sheet of a kind at a site and day."""
    return next(row for row in rows if (row.site, row.kind, row.day) == (site, kind, day))
