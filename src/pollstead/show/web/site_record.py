"""What the record says of one site beside its readings: sheets and what became of them, calls, changes."""

from __future__ import annotations

from typing import Final

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.record.fold import Fold
from pollstead.store.sheets import Sheet

CALLS: Final = {"call.made": N_("call made")}
CHANGES: Final = {
    "facts.changed": N_("facts changed"),
    "device.swapped": N_("device exchanged"),
    "packet.voided": N_("printed sheets made void"),
    "value.fixed": N_("a number fixed by a person"),
    "expected": N_("expected list issued or amended"),
}
"""Facts of the record that change a site's plan or papers, in our words."""


class SheetOfSite(Value, frozen=True, kw_only=True):
    """A printed sheet: in force, void, or of another version; `replaced_by` names what came instead."""

    serial: str
    kind: str
    day: str
    printed_utc_ms: int
    void: bool
    other_version: bool
    replaced_by: str


class EntryOfSite(Value, frozen=True, kw_only=True):
    """One entry: what it was, when, by whom, its event's id."""

    words: str
    detail: str
    utc_ms: int
    person: str
    event: str


def sheets_of(sheets: tuple[Sheet, ...], folded: Fold, site: str, digest: str) -> tuple[SheetOfSite, ...]:
    """The site's sheets: those in force first, then void ones with what took their place."""
    later = {old: sheet.serial for sheet in sheets for old in sheet.replaces.split()}
    voided: dict[str, str] = {}
    for fact in folded.of_subject(f"site/{site}"):
        if fact.name == "packet.voided":
            for reading in fact.current:
                for one in reading.value.get("sheets", ()):
                    voided[str(one["serial"])] = str(one.get("replaced_by", ""))
    rows = [
        SheetOfSite(
            serial=sheet.serial,
            kind=sheet.kind,
            day=sheet.day,
            printed_utc_ms=sheet.printed_utc_ms,
            void=sheet.serial in voided or sheet.serial in later,
            other_version=sheet.plan_digest != digest,
            replaced_by=later.get(sheet.serial) or voided.get(sheet.serial, ""),
        )
        for sheet in sheets
    ]
    return tuple(sorted(rows, key=lambda row: (row.void, row.other_version, row.serial)))


def entries_of(folded: Fold, site: str, kinds: dict[str, str]) -> tuple[EntryOfSite, ...]:
    """The entries of some kinds that name the site, the newest first."""
    full = f"site/{site}"
    found = [
        EntryOfSite(
            words=words,
            detail=" ".join(
                str(reading.value[part]) for part in ("act", "purpose", "result") if part in reading.value
            ),
            utc_ms=reading.utc_ms,
            person=reading.people[0].person,
            event=reading.event,
        )
        for name, words in kinds.items()
        for fact in folded.named(name)
        for reading in fact.readings
        if full in (fact.subject, reading.site) or full in reading.value.get("sites", ())
    ]
    return tuple(sorted(found, key=lambda entry: (-entry.utc_ms, entry.event)))
