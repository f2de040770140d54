"""The counts of the warehouse as the record has them, against the book as the tables are now."""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.notices import open_item
from pollstead.reconcile.custody.inventory import Book, Inventory, Scanned, reconcile_inventory
from pollstead.record.facts import Fold
from pollstead.record.kinds.warehouse import InventoryBegun, InventoryCounted, ThingScanned

SUBJECT = "inventory/"
_NAMED = 5


class CountOfWarehouse(Value, frozen=True, kw_only=True):
    """One count: its name, whether it is over, the list from elsewhere, the scans that stand in order."""

    name: str
    begun_ms: int
    over: bool
    third: tuple[str, ...] | None
    scans: tuple[Scanned, ...]


def counts_of_warehouse(folded: Fold) -> tuple[CountOfWarehouse, ...]:
    """Every count, the newest first; the fold must have been made with private parts."""
    found = [
        count_named(folded, fact.subject.removeprefix(SUBJECT)) for fact in folded.named(InventoryBegun.kind)
    ]
    counts = [count for count in found if count is not None]
    return tuple(sorted(counts, key=lambda count: (count.begun_ms, count.name), reverse=True))


def count_named(folded: Fold, name: str) -> CountOfWarehouse | None:
    """One count; None where the record has none of that name."""
    begun, over, third = 0, False, None
    scans: list[Scanned] = []
    for fact in folded.of_subject(f"{SUBJECT}{name}"):
        current = [reading for reading in fact.current if not reading.withdrawn]
        if fact.name == InventoryBegun.kind:
            begun = min(reading.utc_ms for reading in fact.readings)
            for reading in current:
                listed = reading.private.get("serials") if reading.private is not None else None
                if reading.value.get("third") and isinstance(listed, tuple):
                    third = tuple(map(str, listed))
        elif fact.name == InventoryCounted.kind:
            over = any(reading.value.get("over") for reading in current)
        elif fact.name == ThingScanned.kind:
            scans += [
                Scanned(
                    code=str(reading.value.get("code", "")),
                    place=str(reading.value.get("place", "")),
                    event=reading.event,
                    utc_ms=reading.utc_ms,
                    n=reading.n,
                )
                for reading in current
            ]
    if not begun:
        return None
    scans.sort(key=lambda scan: (scan.utc_ms, scan.n))
    return CountOfWarehouse(name=name, begun_ms=begun, over=over, third=third, scans=tuple(scans))


def result_of(count: CountOfWarehouse, election: Election) -> Inventory:
    """The three lists of a count held against one another."""
    return reconcile_inventory(Book(election.devices), count.scans, count.third)


def inventory_notices(folded: Fold, election: Election) -> tuple[Notice, ...]:
    """What the newest count that is over found: missing, unknown, scanned twice, wrong place, third list."""
    count = next((one for one in counts_of_warehouse(folded) if one.over), None)
    if count is None:
        return ()
    result = result_of(count, election)
    told = (
        ("inventory-missing", N_("Count {count}: {n} devices of the book were not scanned"), result.missing),
        (
            "inventory-unknown",
            N_("Count {count}: {n} codes were scanned that the book does not have"),
            result.unknown,
        ),
        ("inventory-twice", N_("Count {count}: {n} codes were scanned more than once"), result.doubled),
        (
            "inventory-place",
            N_("Count {count}: {n} devices stood in another cart than the book says"),
            result.wrong_place,
        ),
        ("inventory-list", N_("Count {count}: {n} codes are not on the third list"), result.not_third),
        (
            "inventory-only-list",
            N_("Count {count}: {n} codes are on the third list alone"),
            result.only_third,
        ),
    )
    return tuple(
        open_item(
            rule,
            f"{SUBJECT}{count.name}",
            message(words, count=count.name, n=len(lines)),
            found=", ".join(line.code for line in lines[:_NAMED]) + (" …" if len(lines) > _NAMED else ""),
            remedy=message(N_("Look for them, or correct devices.csv; the result of the count lists each.")),
            owner=N_("equipment manager"),
            depends=tuple(line.code for line in lines),
        )
        for rule, words, lines in told
        if lines
    )
