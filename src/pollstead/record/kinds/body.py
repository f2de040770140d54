"""What every kind of event says about itself: its fields, its fact, its private part."""

from __future__ import annotations

import enum
from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.election.values import Value

Word = Annotated[str, Meta(pattern=r"^[a-z][a-z0-9_]{0,63}\Z")]
"""A coded word of the tool or of the county's tables; never a sentence."""

Digest = Annotated[str, Meta(pattern=r"^[0-9a-f]{64}\Z")]
"""A SHA-256 in hexadecimal."""

DigestOrNone = Annotated[str, Meta(pattern=r"^([0-9a-f]{64})?\Z")]
"""A SHA-256 in hexadecimal, or empty text."""

Id = Annotated[
    str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}(/[A-Za-z0-9][A-Za-z0-9._-]{0,63}){0,7}\Z")
]
"""An id such as ``device/scanner/0012``."""

Serial = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ./_-]{0,39}\Z")]
"""A serial as it stands on the plate."""

LineNumber = Annotated[str, Meta(pattern=r"^L[1-9][0-9]{0,2}\Z")]
"""A line of a printed sheet as it is numbered there: ``L12``."""

Minute = Annotated[int, Meta(ge=0, le=2879)]
"""Minutes of the operating day's wall clock; 1480 is 24:40."""

Count = Annotated[int, Meta(ge=0, le=10**12)]
"""A number of things, as read."""

Sentence = Annotated[str, Meta(min_length=1, max_length=2000)]
"""Free text of a person; stands in private parts only."""


class Nature(enum.StrEnum):
    """How events about one fact live together.

    ``reading``: each stands, several people may read the same thing; only a correction replaces
    one. ``decision``: a later one that knows the earlier (named in `after`, or earlier on the
    same device) replaces it; two that do not know each other both stand. ``entry``: each is a
    fact of its own.
    """

    READING = "reading"
    DECISION = "decision"
    ENTRY = "entry"


class Private(Value, frozen=True, omit_defaults=True):
    """Base of private parts: names, phones, free text, and seal numbers before opening.

    `said` are the fields that belong to what was said (a seal's number), unlike why it was said.
    """

    said: ClassVar[tuple[str, ...]] = ()


class Reason(Private, frozen=True, omit_defaults=True):
    """Why, in the person's own words."""

    reason: Sentence


class Body(Value, frozen=True, omit_defaults=True):
    """Base of the bodies of known kinds. A field at its default is not written.

    Class variables: `kind` names the kind; `nature` see `Nature`; `fact` is the name that events
    about the same fact share (default: the kind); `key` are the body fields that tell facts of one
    subject and day apart; `private` is the class of the private part, None when there is none;
    `private_required` whether it must be there when the event is written; `subjects` the first
    words that the subject's id may have (empty: any).
    """

    kind: ClassVar[str] = ""
    nature: ClassVar[Nature] = Nature.READING
    fact: ClassVar[str] = ""
    key: ClassVar[tuple[str, ...]] = ()
    private: ClassVar[type[Private] | None] = None
    private_required: ClassVar[bool] = False
    subjects: ClassVar[tuple[str, ...]] = ()


class DayBody(Body, frozen=True, omit_defaults=True):
    """Base of what is entered at sites: `sheet` is the serial of the paper sheet it was re-entered from.

    `line` is the line of that sheet; what was keyed from a line counts once two people keyed the same.
    `by_phone` is set where the giver said it on the telephone and the author typed it: whether it was read
    back to the giver before it was written. All three tell where an entry came from; they are no part of what
    the entry says.
    """

    sheet: Id | Literal[""] = ""
    line: LineNumber | Literal[""] = ""
    by_phone: Literal["", "read_back", "not_read_back"] = ""
