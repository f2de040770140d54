"""Signed paper that comes back, gathered from store and record: printed sheets, their lines, the report."""

from __future__ import annotations

import functools
from typing import Final

import msgspec

from pollstead.election.county import Election
from pollstead.election.notice import Notice
from pollstead.plan.terms.version import PlanVersion, SheetKind
from pollstead.reconcile.changed.on_the_day import Swap, swaps_of
from pollstead.reconcile.counts.terms import BY_ID, key_of
from pollstead.reconcile.day import DayReport
from pollstead.reconcile.observed import STYLE_MARK, observations_of_fact
from pollstead.reconcile.paper.differences import sheet_notices
from pollstead.reconcile.paper.progress import LineMeaning, PaperReport, paper_report
from pollstead.reconcile.paper.sheets import PrintedSheet, held_sheets, sheets_back, void_sheets
from pollstead.record.facts import Fold
from pollstead.record.kinds.swaps import DeviceSwapped
from pollstead.show.packet.asked import AskedLine
from pollstead.show.packet.sheet_lines import lines_as_printed, lines_of_site
from pollstead.show.words import ENGLISH
from pollstead.store.opening import Store

READ_ON_A_LINE: Final = ("serial", "memory device", "seal", "clock", "report")
"""What a line can hold beside a count, so that a person keys it; sums and acts are never keyed."""

NO_COUNTS: Final = ("total", "difference")


def is_count(asked: AskedLine) -> bool:
    """Whether a line holds one number of a device or site; sums that people worked out are no counts."""
    return asked.values == ("value",) and asked.item not in (*NO_COUNTS, *READ_ON_A_LINE) and bool(asked.item)


def has_value(asked: AskedLine) -> bool:
    """Whether a line holds something that is keyed."""
    return is_count(asked) or asked.item in READ_ON_A_LINE


def term_key(asked: AskedLine) -> str:
    """The key of the balance's term that a line holds; "" where it holds none."""
    known = is_count(asked) and asked.item.partition(STYLE_MARK)[0] in BY_ID
    return key_of(asked.item, asked.subject) if known else ""


def printed_sheets(store: Store) -> tuple[PrintedSheet, ...]:
    """Every sheet that was ever printed, by serial."""
    return tuple(
        PrintedSheet(
            serial=sheet.serial,
            kind=SheetKind(sheet.kind),
            site=sheet.site.removeprefix("site/"),
            day=sheet.day,
            key=sheet.key,
            language=sheet.language,
            plan_digest=sheet.plan_digest,
            printed_utc_ms=sheet.printed_utc_ms,
            content=sheet.content,
        )
        for sheet in store.sheets.of()
    )


def asked_lines(store: Store, folded: Fold, sheet: PrintedSheet) -> tuple[AskedLine, ...]:
    """The numbered lines of a printed sheet, as its own plan version drew it with the swaps known then.

    None where that version is not kept here, or the sheet has no such lines.
    """
    return _lines(store, sheet, _swaps_at(folded, sheet))


def _swaps_at(folded: Fold, sheet: PrintedSheet) -> tuple[Swap, ...]:
    """The swaps of the sheet's site and day, in their order."""
    seen = (one for fact in folded.named(DeviceSwapped.kind) for one in observations_of_fact(fact))
    return swaps_of(tuple(one for one in seen if (one.site, one.day) == (sheet.site, sheet.day)))


@functools.lru_cache(maxsize=256)
def _lines(store: Store, sheet: PrintedSheet, swaps: tuple[Swap, ...]) -> tuple[AskedLine, ...]:
    site, key, language = sheet.site, sheet.key, sheet.language or ENGLISH
    try:
        election, plan = _plan(store, sheet.plan_digest)
        if not swaps:
            return lines_of_site(election, plan, site, key, language=language)
        return lines_as_printed(election, plan, site, key, sheet.content, language=language, swaps=swaps)
    except (ValueError, KeyError):
        # The plan version or its facts are not kept here, or it has no such site or sheet.
        return ()


@functools.lru_cache(maxsize=4)
def _plan(store: Store, digest: str) -> tuple[Election, PlanVersion]:
    plan = msgspec.json.decode(store.plans.load(digest), type=PlanVersion)
    return msgspec.json.decode(store.snapshots.load(plan.snapshot), type=Election), plan


def odd_sheets(store: Store, folded: Fold) -> tuple[Notice, ...]:
    """The notices about sheets that came back void, twice, or as two prints, of every day."""
    held = held_sheets(folded)
    return sheet_notices(sheets_back(printed_sheets(store), void_sheets(folded), held)) if held else ()


def paper_of(store: Store, folded: Fold, report: DayReport) -> PaperReport:
    """The paper of one day; lines are drawn up only of balance sheets here and sheets with a marked line."""
    sheets, held = printed_sheets(store), held_sheets(folded)
    known = [
        sheet
        for sheet in sheets
        if sheet.day in ("", report.date.isoformat())
        and (words := held.get(sheet.serial))
        and (sheet.kind is SheetKind.BALANCE or any(one.different for one in words))
    ]
    meanings = tuple(
        LineMeaning(sheet=sheet.serial, line=one.line, key=term_key(one), has_value=has_value(one))
        for sheet in known
        for one in asked_lines(store, folded, sheet)
    )
    return paper_report(report.date, report.sites, sheets, void_sheets(folded), held, meanings)
