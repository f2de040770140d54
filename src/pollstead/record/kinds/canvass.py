"""Events of adding up: counts by style, memory devices uploaded, totals, hours, versions of the canvass.

No vote and no voter stands here: ballots, sheets, envelopes and check-ins by site, mode, style and quantity.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.election.values import require
from pollstead.record.kinds.body import (
    Body,
    Count,
    DayBody,
    Digest,
    DigestOrNone,
    Id,
    Minute,
    Nature,
    Private,
    Word,
)
from pollstead.record.kinds.days import Remark

StyleName = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ._/-]{0,39}\Z")]
"""A ballot style's short name as the county's tables spell it."""

StyleOrNone = Annotated[str, Meta(pattern=r"^([A-Za-z0-9][A-Za-z0-9 ._/-]{0,39})?\Z")]
"""A ballot style's short name, or empty text."""

WordOrNone = Annotated[str, Meta(pattern=r"^([a-z][a-z0-9_]{0,63})?\Z")]
"""A coded word, or empty text."""


class CountByStyle(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``count.by_style``: one number of one ballot style, as read. Subject: the device or the site.

    `term` and `source` are those of ``count.read``; `style` is the ballot style's short name.
    """

    kind: ClassVar[str] = "count.by_style"
    key: ClassVar[tuple[str, ...]] = ("term", "source", "style")

    term: Word
    style: StyleName
    value: Count
    source: Word


class StyleCount(Body, frozen=True, kw_only=True, omit_defaults=True):
    """The part of a total that is of one ballot style."""

    style: StyleName
    count: Count


class MemoryUploaded(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``memory.uploaded``: a memory device was read at the central place. Subject: the memory device.

    `count` is what the central place showed for it, in `unit`, read from `source` (screen, report). `state`:
    the count was taken, refused (already there, say), or taken out again. `machine` is the device that the
    memory device names, `mode` the way of voting. Each reading is an entry of its own, a second one too.
    `file_digest` is that of the table it was taken from, "" where people typed it.
    """

    kind: ClassVar[str] = "memory.uploaded"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Remark
    subjects: ClassVar[tuple[str, ...]] = ("memory", "memory-device")

    count: Count
    unit: Literal["ballots", "sheets"] = "ballots"
    state: Literal["taken", "refused", "taken_out"] = "taken"
    source: Word = "screen"
    machine: Id | Literal[""] = ""
    mode: WordOrNone = ""
    place: Id | Literal[""] = ""
    styles: Annotated[tuple[StyleCount, ...], Meta(max_length=500)] = ()
    file_digest: DigestOrNone = ""

    def __post_init__(self) -> None:
        _each_style_once(self.styles)


class _Totals(Body, frozen=True, kw_only=True, omit_defaults=True):
    """One quantity of one site and mode: the total, its parts by style, or both as they were read.

    The parts need not add up to the total here: whether they do is compared, never assumed.
    """

    nature: ClassVar[Nature] = Nature.READING
    key: ClassVar[tuple[str, ...]] = ("mode", "quantity", "source")
    private: ClassVar[type[Private] | None] = Remark
    subjects: ClassVar[tuple[str, ...]] = ("site", "county")

    mode: Word
    quantity: Word
    source: Word
    total: Count | None = None
    styles: Annotated[tuple[StyleCount, ...], Meta(max_length=500)] = ()
    file_digest: DigestOrNone = ""

    def __post_init__(self) -> None:
        require(
            self.total is not None or bool(self.styles),
            f"{self.mode} {self.quantity} needs a total or its parts by ballot style, got neither",
        )
        _each_style_once(self.styles)


class ReceivingTotal(_Totals, frozen=True, kw_only=True, omit_defaults=True):
    """``receiving.total``: what was counted of a quantity where the sites' things arrive. Subject: the site.

    `mode` is the way of voting (election_day, early …; all for all ways together), `quantity` a quantity of
    the county table, `source` where it was read. `county/total` is the subject of a total without sites.
    `file_digest` is that of the table it was taken from, "" where people typed it.
    """

    kind: ClassVar[str] = "receiving.total"


class CanvassTotal(_Totals, frozen=True, kw_only=True, omit_defaults=True):
    """``canvass.total``: what the canvass has for a quantity of a site and mode. Subject: the site.

    Fields as in ``receiving.total``.
    """

    kind: ClassVar[str] = "canvass.total"


class Span(Body, frozen=True, kw_only=True, omit_defaults=True):
    """From one minute of the operating day until another, the last one not counted."""

    from_min: Minute
    until_min: Minute

    def __post_init__(self) -> None:
        require(
            self.from_min < self.until_min,
            f"a span must end after it begins, got {self.from_min} to {self.until_min} min",
        )


class HoursTold(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``hours.told``: when a person was assigned, sworn in or paid at a site. Subject: the person.

    `which` names the list: assigned (the plan of posts), sworn (from the oath until they left), paid (the
    time sheet). `post` is the person's post there, "" where it does not matter. The site is the event's.
    """

    kind: ClassVar[str] = "hours.told"
    key: ClassVar[tuple[str, ...]] = ("which", "post")
    private: ClassVar[type[Private] | None] = Remark
    subjects: ClassVar[tuple[str, ...]] = ("person",)

    which: Literal["assigned", "sworn", "paid"]
    spans: Annotated[tuple[Span, ...], Meta(max_length=20)]
    post: WordOrNone


def _each_style_once(styles: tuple[StyleCount, ...]) -> None:
    names = [one.style for one in styles]
    require(len(names) == len(set(names)), f"each ballot style once, got {', '.join(names)}")


class CanvassWork(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``canvass.work``: who has a row of the county table, and how far it is. Subject: the site.

    `mode`, `quantity` and `style` name the row; `county/total` is the subject of a row of the county. `who`
    is the person who has it, "" for nobody. `numbers` is the digest of the numbers that this was said on:
    what is explained is open again when they change.
    """

    kind: ClassVar[str] = "canvass.work"
    nature: ClassVar[Nature] = Nature.DECISION
    key: ClassVar[tuple[str, ...]] = ("mode", "quantity", "style")
    private: ClassVar[type[Private] | None] = Remark
    subjects: ClassVar[tuple[str, ...]] = ("site", "county")

    mode: Word
    quantity: Word
    style: StyleOrNone
    state: Literal["open", "looking", "waiting", "explained", "recorded_unexplained"]
    numbers: Digest
    who: Id | Literal[""] = ""


class CanvassFrozen(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``canvass.frozen``: a version of the canvass was kept. Subject ``canvass/versions``.

    `digest` is over the whole table, its numbers, explanations and worklist, which are kept among the
    snapshots; `version` counts the versions from 1, `before` is the digest of the one before. Nothing is
    decided by it: a later change is another version.
    """

    kind: ClassVar[str] = "canvass.frozen"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Remark
    subjects: ClassVar[tuple[str, ...]] = ("canvass",)

    digest: Digest
    version: Annotated[int, Meta(ge=1, le=10**6)]
    rows: Count
    differences: Count
    before: DigestOrNone = ""
