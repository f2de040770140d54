"""Events of the warehouse: tests, seals put on by two people, void seals, stock received and counted.

Seal numbers stand in private parts only. Each person of a pair writes an event of their own; what both
say is worked out from the two and never recorded as an opinion.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.record.kinds.body import Body, Count, Digest, Id, Nature, Private, Reason, Sentence, Serial
from pollstead.record.kinds.days import SealNumber

NumberText = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ./_-]{0,39}\Z")]
"""A seal number as read; in private parts only."""


class DeviceTested(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``device.tested``: a device was tested, or the test was not run. Subject: the device.

    `lifetime_counter` is what the device showed after its test, `zero` whether it was set to zero and shows
    it, `memory_devices` are the ids of those now in it. A later test takes the place of an earlier one.
    """

    kind: ClassVar[str] = "device.tested"
    nature: ClassVar[Nature] = Nature.DECISION
    private: ClassVar[type[Private] | None] = Reason
    subjects: ClassVar[tuple[str, ...]] = ("device",)

    result: Literal["pass", "fail", "not_run"]
    zero: Literal["zero", "not_zero", "not_read"] = "not_read"
    lifetime_counter: Count | None = None
    memory_devices: Annotated[tuple[Serial, ...], Meta(max_length=4)] = ()


class ClosureSealed(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``closure.sealed``: one person read the number of the seal that was put on. Subject: the closure.

    The number stands in the private part; a second person reads it again and writes an event of their own.
    """

    kind: ClassVar[str] = "closure.sealed"
    key: ClassVar[tuple[str, ...]] = ("position",)
    private: ClassVar[type[Private] | None] = SealNumber
    private_required: ClassVar[bool] = True
    subjects: ClassVar[tuple[str, ...]] = ("closure",)

    position: Annotated[int, Meta(ge=1, le=10_000)]


class VoidSeal(Private, frozen=True, omit_defaults=True):
    """The number of a seal that is void, and why in words."""

    said: ClassVar[tuple[str, ...]] = ("number",)

    number: NumberText
    reason: Sentence


class SealVoided(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``seal.voided``: a seal is never used again. Subject: the closure it was on, or ``seals/…``."""

    kind: ClassVar[str] = "seal.voided"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = VoidSeal
    private_required: ClassVar[bool] = True
    subjects: ClassVar[tuple[str, ...]] = ("closure", "seals")

    why: Literal["damaged", "lost", "misprinted", "cut"]


class StockNumbers(Private, frozen=True, omit_defaults=True):
    """First and last number of a box or roll, as read."""

    said: ClassVar[tuple[str, ...]] = ("first", "last")

    first: NumberText
    last: NumberText


class StockReceived(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``stock.received``: a box or roll of seals came in. Subject: ``seals/…``; `receipt` is its row.

    `quantity` is what its paper states, `counted` what the people of the event counted.
    """

    kind: ClassVar[str] = "stock.received"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = StockNumbers
    private_required: ClassVar[bool] = True
    subjects: ClassVar[tuple[str, ...]] = ("seals",)

    receipt: Id
    counted: Count
    quantity: Count | None = None


class StockCounted(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``stock.counted``: how many seals of a receipt lie in the store, counted. Subject: ``seals/…``.

    `book` is how many the tables and the record had there at that moment. A later count takes the place of
    an earlier one.
    """

    kind: ClassVar[str] = "stock.counted"
    nature: ClassVar[Nature] = Nature.DECISION
    key: ClassVar[tuple[str, ...]] = ("receipt",)
    private: ClassVar[type[Private] | None] = Reason
    subjects: ClassVar[tuple[str, ...]] = ("seals",)

    receipt: Id
    counted: Count
    book: Count | None = None


class IssuedAnyway(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``expected.anyway``: the author lets a list be issued although something lacks. Subject: the site.

    `plan` is the plan version, `devices` are those not tested, `closures` how many are not sealed by two
    people. Why stands in the private part.
    """

    kind: ClassVar[str] = "expected.anyway"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Reason
    private_required: ClassVar[bool] = True
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    plan: Digest
    devices: Annotated[tuple[Id, ...], Meta(max_length=1000)] = ()
    closures: Count = 0
