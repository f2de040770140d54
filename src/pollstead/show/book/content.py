"""What an office book is made of: chapters of sentences, steps and tables. Layout is the template's.

All text is already in the reader's language. Widths are whole millimeters; 0 shares what is left.
"""

from __future__ import annotations

from pollstead.election.values import Value, require
from pollstead.show.paper_head import PaperHead


class Said(Value, frozen=True, kw_only=True, tag="said"):
    """A paragraph."""

    words: str
    strong: bool = False


class Steps(Value, frozen=True, kw_only=True, tag="steps"):
    """What is done, one after the other, each with a box to tick."""

    items: tuple[str, ...]


class Column(Value, frozen=True, kw_only=True):
    """A column: its title and its width in millimeters."""

    title: str
    width_mm: int = 0


class Lines(Value, frozen=True, kw_only=True, tag="lines"):
    """A table; the first column is strong, `none` stands in its place where it has no rows."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    none: str

    def __post_init__(self) -> None:
        for row in self.rows:
            require(
                len(row) == len(self.columns), f"a row must have {len(self.columns)} cells, got {len(row)}"
            )


class Cautions(Value, frozen=True, kw_only=True, tag="cautions"):
    """Caution sentences in a frame with a drawn sign and the word."""

    title: str
    items: tuple[str, ...]


Block = Said | Steps | Lines | Cautions


class Chapter(Value, frozen=True, kw_only=True):
    """One chapter: its title and blocks."""

    title: str
    blocks: tuple[Block, ...]


class Book(PaperHead, frozen=True, kw_only=True):
    """One office book."""

    chapters: tuple[Chapter, ...]
