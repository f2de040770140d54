"""Events of supplies through the day: what is left at a site, and what was packed to go there."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.record.kinds.body import Count, DayBody, Id, Minute, Private, Word
from pollstead.record.kinds.incidents import Told

Style = Annotated[str, Meta(pattern=r"^([A-Za-z0-9][A-Za-z0-9 ._/-]{0,39})?\Z")]
"""A ballot style's short name as the county's tables spell it; "" where the item has none."""

Stub = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,39}\Z")] | Literal[""]
"""A number printed on an unused ballot's stub; never one of a ballot that a voter had."""


class SupplyTold(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``supply.told``: how much of an item is left at a site, as told at `at_min`. Subject: the site.

    `stub_first` and `stub_last` are the ends of the unused numbered ballots, where the county numbers them.
    """

    kind: ClassVar[str] = "supply.told"
    key: ClassVar[tuple[str, ...]] = ("item", "style", "at_min")
    private: ClassVar[type[Private] | None] = Told
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    item: Word
    left: Count
    at_min: Minute
    style: Style
    stub_first: Stub = ""
    stub_last: Stub = ""


class SupplyPacked(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``supply.packed``: what is inside a packet that goes to a site. Subject: the packet.

    The packet's way is told by ``thing.sent`` and ``thing.received``.
    """

    kind: ClassVar[str] = "supply.packed"
    private: ClassVar[type[Private] | None] = Told
    subjects: ClassVar[tuple[str, ...]] = ("supply",)

    to_site: Id
    item: Word
    amount: Count
    style: Style = ""
    stub_first: Stub = ""
    stub_last: Stub = ""
