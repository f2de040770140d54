"""Events of a late change: a device that takes another's place on the day, printed sheets made void."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.record.kinds.body import (
    Body,
    Count,
    DayBody,
    Digest,
    Id,
    Minute,
    Nature,
    Private,
    Reason,
)


class DeviceSwapped(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``device.swapped``: at `at_min` of the operating day `new` took the place of `old` at a station.

    Subject: the station. `public_counter` is what the old device showed when it was taken out, None where
    nobody could read it; it is compared with nothing and stands beside the reading at closing. Both devices
    stay on the closing statement. `ballots` says what became of ballots that the old one had not counted.
    """

    kind: ClassVar[str] = "device.swapped"
    key: ClassVar[tuple[str, ...]] = ("old", "new")
    private: ClassVar[type[Private] | None] = Reason
    subjects: ClassVar[tuple[str, ...]] = ("station",)

    old: Id
    new: Id
    at_min: Minute
    public_counter: Count | None = None
    ballots: Literal["none", "held_apart", "not_known"] = "not_known"


class VoidedSheet(Body, frozen=True, kw_only=True, omit_defaults=True):
    """One sheet by serial, and the serial of the one in its place; "" where there is none."""

    serial: Id
    replaced_by: Id | Literal[""] = ""


class SheetsVoided(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``packet.voided``: printed sheets of a site that no longer fit. Subject: the site.

    `change` is the event of the facts that made them void.
    """

    kind: ClassVar[str] = "packet.voided"
    nature: ClassVar[Nature] = Nature.ENTRY
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    change: Digest
    sheets: Annotated[tuple[VoidedSheet, ...], Meta(min_length=1, max_length=1000)]
