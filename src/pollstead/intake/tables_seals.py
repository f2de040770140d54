"""Tables about the seal stock and the fleet beyond single devices. Each may be left out."""

from __future__ import annotations

from pollstead.election.fleet import Cart, EarlyUse
from pollstead.election.seal_stock import SealBlock, SealReceipt, SealReturn, SealVoid
from pollstead.election.words import N_
from pollstead.intake.columns import Table, table_of

_KIND = N_("Kind of seal, as station_types.toml names it")
_FIRST = N_("First number; kept as text")
_LAST = N_("Last number; kept as text")
_EQUIPMENT = N_("equipment manager")

TABLES_OF_STOCK: tuple[Table, ...] = (
    table_of(
        "seal_receipts",
        SealReceipt,
        N_("Seals that came in: one row for each box or roll, counted by two people."),
        {
            "id": N_("Short name of the receipt, never used again"),
            "seal_kind": _KIND,
            "series": N_("Series or order the seals belong to"),
            "first": _FIRST,
            "last": _LAST,
            "quantity": N_("How many the box or its paper says"),
            "counted": N_("How many the two people counted"),
            "ordered": N_("Date of the order"),
            "received": N_("Date of receipt"),
            "counted_by": N_("The two people who counted, ids from people.csv"),
            "held_at": N_("Where they are locked up"),
        },
        ids=("id",),
        owner=_EQUIPMENT,
    ),
    table_of(
        "seal_voids",
        SealVoid,
        N_("Seals that are never used: damaged, lost, misprinted, or cut."),
        {
            "seal_kind": _KIND,
            "number": N_("Number on the seal; kept as text"),
            "reason": N_("damaged, lost, misprinted or cut"),
            "date": N_("Date"),
            "people": N_("The people who saw it, ids from people.csv"),
        },
        owner=_EQUIPMENT,
    ),
    table_of(
        "seal_returns",
        SealReturn,
        N_("Seals that came back unused, from and to inclusive."),
        {
            "seal_kind": _KIND,
            "first": _FIRST,
            "last": _LAST,
            "site": N_("Site they came back from, or blank"),
            "date": N_("Date"),
        },
        ids=("site",),
        owner=_EQUIPMENT,
    ),
    table_of(
        "seal_blocks",
        SealBlock,
        N_("Blocks of seals that people put into a site's bag; planning keeps them."),
        {
            "site": N_("Site id"),
            "seal_kind": _KIND,
            "first": _FIRST,
            "last": _LAST,
            "reason": N_("Why this block, where somebody chose it"),
        },
        ids=("site",),
        owner=_EQUIPMENT,
    ),
    table_of(
        "early_devices",
        EarlyUse,
        N_("What is decided for devices that count early ballots, by kind and site."),
        {
            "device_kind": N_("Kind of device, as station_types.toml names it"),
            "site": N_("Site id, or blank for every site"),
            "use": N_("kept apart, deployed again, or stays in use"),
            "reason": N_("Why, and who decided"),
        },
        ids=("site",),
        owner=_EQUIPMENT,
    ),
    table_of(
        "carts",
        Cart,
        N_("Carts and cases that carry devices."),
        {
            "id": N_("Cart or case, as devices.csv names it"),
            "tag": N_("Tag on the cart"),
            "site": N_("Site it is at home at, or blank"),
            "places": N_("How many devices it holds"),
            "padlocked": N_("Whether it is shut by a padlock"),
        },
        ids=("id", "site"),
        owner=_EQUIPMENT,
    ),
)
