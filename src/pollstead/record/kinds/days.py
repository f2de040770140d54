"""Events of the site's day: serials and seals seen, clocks, reports, counts, hand-overs, corrections."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import (
    Count,
    DayBody,
    Digest,
    Id,
    Minute,
    Nature,
    Private,
    Reason,
    Sentence,
    Serial,
    Word,
)


class SerialSeen(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``seen.serial``: the serial on the plate of what stands here. Subject: the station part."""

    kind: ClassVar[str] = "seen.serial"

    serial: Serial


class SealNumber(Private, frozen=True, omit_defaults=True):
    """The number on a seal, as read; and a remark, if any."""

    said: ClassVar[tuple[str, ...]] = ("number",)

    number: Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ./_-]{0,39}\Z")] | None = None
    remark: Sentence | None = None


class SealSeen(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``seen.seal``: a closure and its seal were looked at. Subject: the closure.

    `step` is the station type's word (applied, opening, closing, received, cut …). The
    number stands in the private part; where numbers are only ticked there is none. ``closure_opens`` says
    that the seal is whole and the closure opens all the same, threaded wrong for instance.
    """

    kind: ClassVar[str] = "seen.seal"
    key: ClassVar[tuple[str, ...]] = ("step",)
    private: ClassVar[type[Private] | None] = SealNumber
    subjects: ClassVar[tuple[str, ...]] = ("closure",)

    step: Word
    state: Literal["intact", "not_intact", "not_there", "cut", "closure_opens"]


class ClockSeen(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``seen.clock``: a device's clock beside the reference clock, as shown. Subject: the device.

    Minutes of the day on each clock and the date as the device shows it; whether that is right is
    worked out from the day and the station type, never recorded as an opinion.
    """

    kind: ClassVar[str] = "seen.clock"

    date_shown: Annotated[str, Meta(pattern=r"^\d{4}-\d{2}-\d{2}\Z")]
    device_min: Minute
    reference_min: Minute


class ReportSeen(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``seen.report``: a printed report of a device (zero, closing …) was looked at. Subject: the device."""

    kind: ClassVar[str] = "seen.report"
    key: ClassVar[tuple[str, ...]] = ("report",)

    report: Word
    state: Literal["printed", "not_printed", "posted", "signed"]


class CountRead(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``count.read``: one number that a person read or counted. Subject: the device or the site.

    `term` names the term of the balance (public_counter_open, ballots_spoiled …), `source` where it
    was read (screen, report, memory_device, sheet, hand).
    """

    kind: ClassVar[str] = "count.read"
    key: ClassVar[tuple[str, ...]] = ("term", "source")

    term: Word
    value: Count
    source: Word


class SiteOpened(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``site.opened``: the doors opened to voters at `at_min` of the operating day. Subject: the site."""

    kind: ClassVar[str] = "site.opened"
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    at_min: Minute


class SiteClosed(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``site.closed``: the last voter in line had voted at `at_min`. Subject: the site."""

    kind: ClassVar[str] = "site.closed"
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    at_min: Minute


class DeviceOutOfService(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``device.out_of_service``: one device stops or comes back; the others go on. Subject: the device.

    `at_min` is the minute of the operating day at which it did, None where nobody said.
    """

    kind: ClassVar[str] = "device.out_of_service"
    nature: ClassVar[Nature] = Nature.DECISION
    private: ClassVar[type[Private] | None] = Reason

    state: Literal["out", "back"]
    why: Word
    at_min: Minute | None = None


class MemoryDevicePacked(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``memory_device.packed``: where a memory device travels. Subject: the memory device.

    `inside` is the case, or the machine that it travels in; empty when it was not found.
    """

    kind: ClassVar[str] = "memory_device.packed"

    state: Literal["in_case", "travels_inside", "to_follow", "not_found"]
    inside: Id | Literal[""] = ""


class Remark(Private, frozen=True, omit_defaults=True):
    """What the person added."""

    remark: Sentence


class ThingReceived(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``thing.received``: one thing changed hands; giver and receiver are people of the event.

    Subject: the thing. `place` is where it is now, `from_place` where the giver had it, `seals` how its seals
    looked ("" where nobody said).
    """

    kind: ClassVar[str] = "thing.received"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Remark

    place: Id
    state: Literal["received", "refused", "not_there"]
    from_place: Id | Literal[""] = ""
    seals: Literal["", "intact", "not_intact", "none", "not_looked"] = ""


class CorrectionPrivate(Private, frozen=True, omit_defaults=True):
    """Why it was corrected; `fields` is the private part of the corrected kind, where it has one."""

    reason: Sentence
    fields: FrozenObject | None = None


class EntryCorrected(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``entry.corrected``: an earlier event was wrong; both stay and both are shown.

    Subject: that of the earlier event. `corrects` is its id, `of_kind` its kind, `value` the right
    body for that kind; an empty `value` withdraws the earlier event without another in its place.
    A correction is corrected by naming it, with the first event's kind.
    """

    kind: ClassVar[str] = "entry.corrected"
    private: ClassVar[type[Private] | None] = CorrectionPrivate
    private_required: ClassVar[bool] = True

    corrects: Digest
    of_kind: Annotated[str, Meta(pattern=r"^[a-z][a-z0-9_.]{0,127}\Z")]
    value: FrozenObject
