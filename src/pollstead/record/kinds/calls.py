"""Events of the telephone: a call was made; a question before opening is settled, or open again.

Phones and people's own words stand in private parts. A digest of a phone would give it away, since all
phones can be tried; so the number called is kept private, and compared with the tables when it is read.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.record.kinds.body import Body, Digest, Id, Minute, Nature, Private, Reason, Sentence

CallPurpose = Literal[
    "opener_confirm",
    "lead_confirm",
    "contact_confirm",
    "delivery",
    "remedy",
    "not_back",
    "not_heard",
    "change",
]
CallResult = Literal["answered_yes", "answered_no", "no_answer", "wrong_number", "left_message"]
WindowWord = Literal["first", "week", "evening", "night", "any"]
QuestionId = Annotated[str, Meta(pattern=r"^[a-z][a-z-]{0,63}\Z")]


class PhoneCalled(Private, frozen=True, omit_defaults=True):
    """The number that was called, and what was said in words."""

    said: ClassVar[tuple[str, ...]] = ("phone",)

    phone: Annotated[str, Meta(max_length=64)] = ""
    words: Annotated[str, Meta(max_length=2000)] = ""


class CallMade(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``call.made``: somebody was called, or nobody answered. Subject: the person, or the site.

    `window` is the call-back window that it counts for (any for a call outside them), `sites` the sites it
    was about, `result` the answer to the question asked. `there_by_min` is when they said they will be
    there, minutes of the operating day; `questions` are those that the call settled beside its purpose,
    and so says `result`.
    `change` is the event of the change of which somebody was told.
    """

    kind: ClassVar[str] = "call.made"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = PhoneCalled
    subjects: ClassVar[tuple[str, ...]] = ("person", "site")

    purpose: CallPurpose
    result: CallResult
    window: WindowWord
    sites: Annotated[tuple[Id, ...], Meta(max_length=1000)] = ()
    there_by_min: Minute | None = None
    questions: Annotated[tuple[QuestionId, ...], Meta(max_length=32)] = ()
    change: Digest | None = None


class SeenPrivate(Private, frozen=True, omit_defaults=True):
    """What was seen, in the person's own words."""

    seen: Sentence


class ReadyEvidence(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``ready.evidence``: a person saw how a question of a site stands. Subject: the site."""

    kind: ClassVar[str] = "ready.evidence"
    nature: ClassVar[Nature] = Nature.DECISION
    fact: ClassVar[str] = "ready"
    key: ClassVar[tuple[str, ...]] = ("question",)
    private: ClassVar[type[Private] | None] = SeenPrivate
    private_required: ClassVar[bool] = True
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    question: QuestionId
    result: Literal["good", "bad"]


class ReadyUnknown(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``ready.unknown``: what was seen of a question counts no longer. Subject: the site."""

    kind: ClassVar[str] = "ready.unknown"
    nature: ClassVar[Nature] = Nature.DECISION
    fact: ClassVar[str] = "ready"
    key: ClassVar[tuple[str, ...]] = ("question",)
    private: ClassVar[type[Private] | None] = Reason
    private_required: ClassVar[bool] = True
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    question: QuestionId
