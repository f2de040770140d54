"""Events of custody: a thing sent, what is said of a thing that is not here, seals of a case, receipts.

Giver, receiver and witness are people of the event. A thing that arrives is ``thing.received``.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.record.kinds.body import Body, DayBody, Id, Nature, Private, Reason
from pollstead.record.kinds.days import Remark

UtcMs = Annotated[int, Meta(ge=0, le=2**53 - 1)]
"""A moment, UTC milliseconds."""

Seals = Literal["intact", "not_intact", "none", "not_looked"]
"""How the seals of a thing looked when it changed hands; no number stands here."""


class ThingSent(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``thing.sent``: one thing left a place with somebody. Subject: the thing.

    The giver handed it over, the receivers carry it. It is expected at `to_place` by `expected_utc_ms`, and
    travels on `vehicle` where people said on which.
    """

    kind: ClassVar[str] = "thing.sent"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Remark

    from_place: Id
    to_place: Id
    expected_utc_ms: UtcMs | None = None
    seals: Seals = "not_looked"
    vehicle: Id | Literal[""] = ""


class ThingStated(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``thing.stated``: what people say of a thing that did not come. Subject: the thing.

    `inside` is the machine or case that it travels in; "" otherwise. Memory devices have
    ``memory_device.packed`` for this, so that one kind of event says where they travel.
    """

    kind: ClassVar[str] = "thing.stated"
    nature: ClassVar[Nature] = Nature.DECISION
    private: ClassVar[type[Private] | None] = Remark

    state: Literal["travels_inside", "to_follow", "not_found"]
    inside: Id | Literal[""] = ""


class CaseNumbers(Private, frozen=True, omit_defaults=True):
    """The numbers of the seals of a case, as read."""

    said: ClassVar[tuple[str, ...]] = ("numbers",)

    numbers: Annotated[
        tuple[Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ./_-]{0,39}\Z")], ...],
        Meta(min_length=1, max_length=8),
    ]


class CaseSealsRead(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``case_seals.read``: the seals of a case, read on it or on the closing statement. Subject: the case."""

    kind: ClassVar[str] = "case_seals.read"
    key: ClassVar[tuple[str, ...]] = ("source",)
    private: ClassVar[type[Private] | None] = CaseNumbers
    private_required: ClassVar[bool] = True

    source: Literal["case", "statement"]


class ReceiptGiven(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``receipt.given``: a receipt was printed at a table. Subject: the site.

    `received` are the things that stand on it as received, `missing` those it names as not here.
    """

    kind: ClassVar[str] = "receipt.given"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Reason
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    table: Id
    received: Annotated[tuple[Id, ...], Meta(max_length=1000)] = ()
    missing: Annotated[tuple[Id, ...], Meta(max_length=1000)] = ()


class RetrievalSent(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``retrieval.sent``: two people go for a thing, or no longer do. Subject: the thing.

    The two are receivers of the event. When they have it, that is ``thing.sent``.
    """

    kind: ClassVar[str] = "retrieval.sent"
    nature: ClassVar[Nature] = Nature.DECISION
    private: ClassVar[type[Private] | None] = Reason

    state: Literal["going", "ended"]
    expected_utc_ms: UtcMs | None = None


class DoorRead(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``door.read``: the word on a door card was read before a hand-over. Subject: the site expected there.

    `result` says whether the word is that site's, another site's (then `other` names it), or that no card
    hangs there. `vehicle` is the one that came.
    """

    kind: ClassVar[str] = "door.read"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Remark
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    result: Literal["same", "other", "no_card"]
    other: Id | Literal[""] = ""
    vehicle: Id | Literal[""] = ""
