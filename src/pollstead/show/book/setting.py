"""An office book as PDF."""

from __future__ import annotations

from typing import Final

import msgspec

from pollstead.election.words import N_
from pollstead.show.book.content import Book
from pollstead.show.one_paper import Template, paper_or_refusal

TEMPLATE: Final = Template("book", "book.typ", "book")


def book_pdf(book: Book) -> bytes:
    """The PDF, the same bytes for the same book; raises `PrintFailed` as `paper_or_refusal` does."""
    return paper_or_refusal(
        TEMPLATE,
        msgspec.to_builtins(book),
        no_font=N_("The office book was not made: no font here has the letters {letters}."),
        not_made=N_("The office book was not made: {why}"),
    )
