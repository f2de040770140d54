"""What stands at the head and foot of a paper that is set on its own: a book, a receipt, a list of calls."""

from __future__ import annotations

from pollstead.election.values import Value


class PaperHead(Value, frozen=True, kw_only=True):
    """Title, county, moment, page words, marks and how to set it; every word in the reader's language.

    `practice` and `invented` are words for every page, "" where they do not apply; `timestamp` is in seconds.
    """

    title: str
    county: str
    as_of: str
    page: str
    unofficial: str
    practice: str
    invented: str
    language: str
    right_to_left: bool
    paper: str
    timestamp: int
