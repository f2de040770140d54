"""Events of the office desk about differences: an explanation that a named person saved.

Working notes. They change no number and decide nothing; the words stand in the private part.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.record.kinds.body import Body, Count, Digest, Nature, Private, Sentence, Word

EquationId = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9-]{0,63}\Z")]
ExplanationId = Annotated[str, Meta(pattern=r"^[0-9a-f]{16}\Z")]
NumberKey = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9 @%/._-]{0,199}\Z")]
"""A number of a closing sheet: ``ballots_spoiled``, ``report_count_close@device/scanner/0012``."""


class SavedWords(Private, frozen=True, omit_defaults=True):
    """The words of the explanation as they stood on the page, and what the person wrote about it."""

    words: Sentence
    own: Annotated[str, Meta(max_length=2000)] = ""


class RowOf(Body, frozen=True, kw_only=True, omit_defaults=True):
    """One row that was not zero: its equation, the device or site it is about, the difference."""

    equation: EquationId
    subject: NumberKey
    difference: Annotated[int, Meta(ge=-(10**12), le=10**12)]


class ExplanationSaved(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``explanation.saved``: a person keeps one explanation of a site's differences. Subject: the site.

    `digest` names the numbers that it explains: when they change it holds no more, by itself. `rows` are the
    differences, `explanation` names what was found. `act` and `looked_at` are what was looked at again,
    `outcome` what was found there; all three empty where nobody looked. A later one takes the place of an
    earlier one.
    """

    kind: ClassVar[str] = "explanation.saved"
    nature: ClassVar[Nature] = Nature.DECISION
    private: ClassVar[type[Private] | None] = SavedWords
    private_required: ClassVar[bool] = True
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    digest: Digest
    rows: Annotated[tuple[RowOf, ...], Meta(min_length=1, max_length=500)]
    explanation: ExplanationId
    act: Word | Literal[""] = ""
    looked_at: NumberKey | Literal[""] = ""
    outcome: Count | None = None
