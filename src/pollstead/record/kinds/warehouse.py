"""Events of the scan station: a count of the warehouse, each scan of it, and what is packed into what."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.election.values import require
from pollstead.record.kinds.body import Body, Count, DigestOrNone, Id, Nature, Private, Reason, Serial

Place = Annotated[str, Meta(pattern=r"^([A-Za-z0-9][A-Za-z0-9._/-]{0,79})?\Z")]
"""The id of a cart or case, or empty for no particular place."""


class ThirdList(Private, frozen=True, omit_defaults=True):
    """The serials of a list from elsewhere (purchase, certification) that a count is held against."""

    said: ClassVar[tuple[str, ...]] = ("serials",)

    serials: tuple[Annotated[str, Meta(min_length=1, max_length=80)], ...]


class InventoryBegun(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``inventory.begun``: a count of the warehouse begins, or gets another third list.

    Subject: ``inventory/…``. `third` is how many serials the list from elsewhere has, 0 without one.
    """

    kind: ClassVar[str] = "inventory.begun"
    nature: ClassVar[Nature] = Nature.DECISION
    private: ClassVar[type[Private] | None] = ThirdList
    subjects: ClassVar[tuple[str, ...]] = ("inventory",)

    third: Count = 0


class ThingScanned(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``thing.scanned``: a code was scanned in a count. Subject: ``inventory/…``; one event a scan.

    `code` is as read, `thing` what the book had under it then ("" for nothing), `place` where it was counted.
    """

    kind: ClassVar[str] = "thing.scanned"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Reason
    subjects: ClassVar[tuple[str, ...]] = ("inventory",)

    code: Serial
    thing: Id | Literal[""] = ""
    place: Place = ""


class InventoryCounted(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``inventory.counted``: a count is over, or is open again. Subject: ``inventory/…``.

    The numbers are those at that moment; `facts` is the digest of the facts that were the book.
    """

    kind: ClassVar[str] = "inventory.counted"
    nature: ClassVar[Nature] = Nature.DECISION
    private: ClassVar[type[Private] | None] = Reason
    subjects: ClassVar[tuple[str, ...]] = ("inventory",)

    over: bool
    present: Count = 0
    missing: Count = 0
    unknown: Count = 0
    doubled: Count = 0
    wrong_place: Count = 0
    facts: DigestOrNone = ""


class ThingPacked(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``thing.packed``: a device was put into a cart or case, or is named with a reason. Subject: the device.

    `into` is the cart or case, "" where it was taken out again. `state` says whether it was scanned there or
    is left out on purpose; why stands in the private part.
    """

    kind: ClassVar[str] = "thing.packed"
    nature: ClassVar[Nature] = Nature.DECISION
    private: ClassVar[type[Private] | None] = Reason
    subjects: ClassVar[tuple[str, ...]] = ("device",)

    into: Place = ""
    state: Literal["packed", "left_out", "taken_out"] = "packed"


class CartChecked(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``cart.checked``: what is no serial was looked at: order, lock, things by count. Subject: ``cart/…``.

    `items` are things that the station types put into a cart, `counts` how many of each were found there, in
    the same order. `panels` and `straps` are how this was told before the types said what belongs there.
    """

    kind: ClassVar[str] = "cart.checked"
    nature: ClassVar[Nature] = Nature.DECISION
    private: ClassVar[type[Private] | None] = Reason
    subjects: ClassVar[tuple[str, ...]] = ("cart",)

    in_order: Literal["yes", "no", "not_looked"] = "not_looked"
    panels: Count | None = None
    straps: Literal["yes", "no", "not_looked"] = "not_looked"
    locked: Literal["yes", "no", "not_looked"] = "not_looked"
    items: Annotated[tuple[Serial, ...], Meta(max_length=40)] = ()
    counts: Annotated[tuple[Count, ...], Meta(max_length=40)] = ()

    def __post_init__(self) -> None:
        require(len(self.items) == len(self.counts), "each item of a cart needs its count")
