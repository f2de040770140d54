"""Sheets on paper: which are in people's hands, what stands on them, and the lists they belong to."""

from __future__ import annotations

from collections import defaultdict
from typing import Protocol

import msgspec

from pollstead.election.county import Election
from pollstead.plan.terms.version import PlanVersion, SheetKind
from pollstead.reconcile.changed.on_the_day import Swap, swaps_of
from pollstead.reconcile.changed.terms import Consequence, PlannedSheet, SheetInHand
from pollstead.reconcile.observed import observations_of
from pollstead.record.fold import Fold
from pollstead.record.kinds.swaps import SheetsVoided
from pollstead.store.opening import Store
from pollstead.store.sheets import Sheet


class Printer(Protocol):
    """What makes sheets; the part of the program that knows how is handed in from outside."""

    def planned(
        self,
        election: Election,
        plan: PlanVersion,
        digest: str,
        sites: tuple[str, ...],
        language: str,
        swaps: tuple[Swap, ...] = (),
    ) -> tuple[PlannedSheet, ...]:
        """The sheets of these sites as the plan gives them, in a language, with the `swaps` of the day."""
        ...

    def serials(
        self, election: Election, digest: str, sheets: tuple[PlannedSheet, ...]
    ) -> dict[tuple[str, str, str], str]:
        """The serial of each sheet, by its place, in the plan version `digest`."""
        ...

    def print_change(self, job: ChangePrint) -> tuple[tuple[str, ...], tuple[Sheet, ...]]:
        """Print just the sheets of a change; the paths of the files and the sheets in them."""
        ...


class ChangePrint:
    """What the printer of a change is given: facts and plan before and after, consequence, number, reason."""

    def __init__(
        self,
        *,
        before: tuple[Election, PlanVersion],
        after: tuple[Election, PlanVersion],
        digest: str,
        consequence: Consequence,
        number: int,
        reason: str,
        folder: str,
        printed_utc_ms: int,
        list_digests: dict[tuple[str, str], str],
        swaps: tuple[Swap, ...] = (),
    ) -> None:
        self.before = before
        self.after = after
        self.digest = digest
        self.consequence = consequence
        self.number = number
        self.reason = reason
        self.folder = folder
        self.printed_utc_ms = printed_utc_ms
        self.list_digests = list_digests
        self.swaps = swaps


def list_digests(folded: Fold) -> dict[tuple[str, str], str]:
    """The digest of the expected list in force, by site and day."""
    place = {event: index for index, event in enumerate(folded.order)}
    found = {}
    for fact in folded.named("expected"):
        current = sorted(fact.current, key=lambda reading: place.get(reading.event, 0))
        if current:
            found[(fact.subject.removeprefix("site/"), fact.day)] = str(current[-1].value["list_digest"])
    return found


def void_serials(folded: Fold) -> frozenset[str]:
    """The serials of all sheets that a change made void."""
    return frozenset(
        str(sheet["serial"]).removeprefix("sheet/")
        for fact in folded.named(SheetsVoided.kind)
        for reading in fact.current
        for sheet in reading.value["sheets"]
    )


def sheets_in_hand(
    store: Store,
    folded: Fold,
    printer: Printer,
    planned: tuple[PlannedSheet, ...],
    sites: tuple[str, ...],
) -> tuple[SheetInHand, ...]:
    """Every printed sheet of `sites` that no change made void; `planned` are those of the plan that holds.

    Of a sheet that was printed before its content was kept, or that the plan no longer has, the plan version
    that it names is drawn up again. Where that is gone, nothing is known but its serial: it counts as not
    fitting.
    """
    void = void_serials(folded)
    held = [
        sheet
        for sheet in store.sheets.of()
        if sheet.site in sites and sheet.serial not in void and sheet.kind != SheetKind.CHANGE.value
    ]
    by_place = {sheet.place: sheet for sheet in planned}
    unknown = [s for s in held if not s.content or (s.site, s.key, s.language) not in by_place]
    recalled = _recalled(unknown, store, printer, swaps_of(observations_of(folded)))
    found = []
    for sheet in held:
        known = recalled.get(sheet.serial) or by_place.get((sheet.site, sheet.key, sheet.language))
        if known is None:
            known = _nothing_known(sheet)
        elif sheet.content:
            known = msgspec.structs.replace(known, content=sheet.content)
        found.append(SheetInHand(serial=sheet.serial, sheet=known, list_digest=sheet.list_digest))
    return tuple(found)


def _nothing_known(sheet: Sheet) -> PlannedSheet:
    return PlannedSheet(
        site=sheet.site,
        key=sheet.key or f"unknown/{sheet.serial}",
        kind=SheetKind(sheet.kind),
        day=sheet.day,
        title=sheet.kind,
        about="",
        language=sheet.language,
        content=sheet.content or "unknown",
    )


def _recalled(
    sheets: list[Sheet], store: Store, printer: Printer, swaps: tuple[Swap, ...]
) -> dict[str, PlannedSheet]:
    """What stands on older sheets, by serial."""
    wanted: dict[tuple[str, str], set[str]] = defaultdict(set)
    for sheet in sheets:
        wanted[(sheet.plan_digest, sheet.language)].add(sheet.site)
    found: dict[str, PlannedSheet] = {}
    for (digest, language), sites in wanted.items():
        try:
            plan = msgspec.json.decode(store.plans.load(digest), type=PlanVersion)
            election = msgspec.json.decode(store.snapshots.load(plan.snapshot), type=Election)
        except ValueError:
            # The plan version or its facts are not kept here any more.
            continue
        planned = printer.planned(election, plan, digest, tuple(sorted(sites)), language, swaps)
        serials = printer.serials(election, digest, planned)
        found |= {serials[sheet.place]: sheet for sheet in planned}
    return found
