"""The receipt of a receiving table: exactly what was received, what is not here, signature lines.

Set as PDF/UA-1 in a child process that ends; the same bytes for the same receipt.
"""

from __future__ import annotations

import msgspec

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.show.cautions import Place, for_place
from pollstead.show.one_paper import Template, paper_or_refusal
from pollstead.show.paper_head import PaperHead
from pollstead.show.words import is_right_to_left, text

TEMPLATE = Template("packet", "receipt.typ", "receipt")


class ReceiptLine(Value, frozen=True, kw_only=True):
    """One thing: what it is, what stands on it, and a word beside it; all in the reader's language."""

    sort: str
    code: str
    word: str


class Receipt(PaperHead, frozen=True, kw_only=True):
    """One receipt; every word in the reader's language."""

    site: str
    table: str
    received: tuple[ReceiptLine, ...]
    missing: tuple[ReceiptLine, ...]
    cautions: tuple[str, ...]
    words: tuple[tuple[str, str], ...]


def receipt_of(
    *,
    county: str,
    site: str,
    table: str,
    at: str,
    timestamp: int,
    received: tuple[ReceiptLine, ...],
    missing_lines: tuple[ReceiptLine, ...],
    language: str,
    practice: bool,
    invented: bool,
    paper: str = "letter",
) -> Receipt:
    """The receipt with its fixed words; `at` is the moment as people write it."""

    def say(english: str) -> str:
        return text(english, language)

    words = {
        "received": N_("Received"),
        "nothing": N_("Nothing was received yet."),
        "missing": N_("Not here"),
        "complete": N_("Nothing is missing of what this site brings."),
        "still": N_("Bring or send it, or call the office. This receipt is not for these things."),
        "thing": N_("Thing"),
        "code": N_("What stands on it"),
        "word": N_("What was said"),
        "gave": N_("Who brought it: name and signature"),
        "took": N_("Who received it: name and signature"),
        "second": N_("Second person at the table: name and signature"),
        "time": N_("Time"),
        "table": N_("Table"),
        "keep": N_("One copy for who brought it, one for the office."),
    }
    return Receipt(
        title=say(N_("Receipt")),
        county=county,
        site=site,
        table=table,
        as_of=f"{say(N_('As of'))} {at}",
        page=say(N_("page {page} of {pages}")),
        unofficial=say(N_("Unofficial, staff use")),
        practice=say(N_("PRACTICE")) if practice else "",
        invented=say(N_("Invented data, for practice and show.")) if invented else "",
        language=language,
        right_to_left=is_right_to_left(language),
        paper=paper,
        timestamp=timestamp,
        received=received,
        missing=missing_lines,
        cautions=tuple(say(caution.words) for caution in for_place(Place.RECEIPT)),
        words=tuple((name, say(english)) for name, english in words.items()),
    )


def receipt_pdf(receipt: Receipt) -> bytes:
    """The PDF, the same bytes for the same receipt; raises `PrintFailed` as `paper_or_refusal` does."""
    return paper_or_refusal(TEMPLATE, msgspec.to_builtins(receipt))
