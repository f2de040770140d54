"""What a sheet is made of: words, tables of cells and fields to write in. Layout is the template's.

All text is already in the reader's language. Widths are whole millimeters.
"""

from __future__ import annotations

import enum

from pollstead.election.values import Value, require
from pollstead.plan.terms.version import SheetKind


class FieldKind(enum.StrEnum):
    """A place to write: a tick box, digit boxes, a line, a clock time, a month and day."""

    TICK = "tick"
    BOXES = "boxes"
    LINE = "line"
    TIME = "time"
    DATE = "date"


class Mark(enum.StrEnum):
    """A state shown by a word and a drawn shape beside it, never by color alone."""

    NONE = ""
    CRITICAL = "critical"
    ASSUMED = "assumed"


class Field(Value, frozen=True, kw_only=True):
    """One place to write, with words beside or above it; `count` digit boxes where it has boxes.

    Two ticks in a row that are `half` wide stand side by side.
    """

    kind: FieldKind
    label: str = ""
    count: int = 1
    half: bool = False

    def __post_init__(self) -> None:
        require(1 <= self.count <= 24, f"a field has 1 to 24 boxes, got {self.count}")


class Cell(Value, frozen=True, kw_only=True):
    """A cell of a table: a mark, words, fields under them; `span` columns wide.

    `line` is the number of the line that is written here, as ``L12``.
    The words of a `whole` cell, tags for example, are never split at a hyphen.
    """

    line: str = ""
    words: str = ""
    strong: bool = False
    fields: tuple[Field, ...] = ()
    span: int = 1
    mark: Mark = Mark.NONE
    whole: bool = False


class Column(Value, frozen=True, kw_only=True):
    """A column: its title and its width in millimeters; 0 shares what the others leave.

    A `plain` title is not bold: a sentence that says what to do.
    """

    title: str
    width_mm: int = 0
    plain: bool = False


class Words(Value, frozen=True, kw_only=True, tag="words"):
    """A paragraph."""

    words: str
    strong: bool = False


class Heading(Value, frozen=True, kw_only=True, tag="heading"):
    """A heading inside a sheet."""

    words: str


class Pair(Value, frozen=True, kw_only=True):
    """A condition and what is done then."""

    when: str
    do: str


class WhenThen(Value, frozen=True, kw_only=True, tag="when"):
    """What to do if something is not as it should be; kept together on one page."""

    title: str
    pairs: tuple[Pair, ...]


class Table(Value, frozen=True, kw_only=True, tag="table"):
    """A table with a heading row that comes again on the next page; no row is split."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def __post_init__(self) -> None:
        for row in self.rows:
            wide = sum(cell.span for cell in row)
            require(wide == len(self.columns), f"a row must fill {len(self.columns)} columns, got {wide}")


class Cautions(Value, frozen=True, kw_only=True, tag="cautions"):
    """Caution sentences in a frame with a drawn sign and the word."""

    title: str
    items: tuple[str, ...]


class Contents(Value, frozen=True, kw_only=True, tag="contents"):
    """The list of this packet's sheets with serials; the template adds each one's pages."""

    columns: tuple[str, ...]
    pages: str


class Signatures(Value, frozen=True, kw_only=True, tag="signatures"):
    """Lines to sign and a time, side by side; notes below when `notes` has words."""

    labels: tuple[str, ...]
    time: str
    notes: str = ""


Block = Words | Heading | Table | WhenThen | Cautions | Contents | Signatures


class Sheet(Value, frozen=True, kw_only=True):
    """One sheet: its kind, serial (also its QR code), site, title, what it is about, and its blocks.

    `key` tells it apart within the site and never changes with the language. `replaces` says which sheet it
    takes the place of, in words; `content` is the digest of its draft. `foot` stands at the foot of each
    of its pages, so that it is there wherever a number is written.
    """

    kind: SheetKind
    key: str
    serial: str
    site: str
    title: str
    about: str
    tags: str
    day: str
    blocks: tuple[Block, ...]
    foot: WhenThen | None = None
    replaces: str = ""
    replaced: tuple[str, ...] = ()
    content: str = ""


class ListedSheet(Value, frozen=True, kw_only=True):
    """A sheet that a cover lists and that is not in this print job: printed before, and still good."""

    key: str
    site: str
    title: str
    about: str
    day: str
    serial: str


class Marks(Value, frozen=True, kw_only=True):
    """Words that stand on every page: practice, invented; empty where they do not apply."""

    practice: str = ""
    invented: str = ""


class PageWords(Value, frozen=True, kw_only=True):
    """Words of header and footer, with ``{page}`` and ``{pages}`` left for the template to fill in.

    `large` says that a print is in large type; empty where it is not.
    """

    county: str
    sheet: str
    plan: str
    page: str
    packet_page: str
    printed: str
    unofficial: str
    continued: str
    blank: str
    code: str
    large: str = ""


class Print(Value, frozen=True, kw_only=True):
    """One PDF: its title, language, paper, page words, marks and sheets in order.

    `timestamp` is the date inside the file, in seconds since 1970. `printed_before` are good sheets of the
    same sites, for the list on a cover, which stands in the `order` of their keys where that is given.
    A `large` print has the same sheets, lines and serials in type of 18 points.
    """

    title: str
    language: str
    right_to_left: bool
    paper: str
    timestamp: int
    words: PageWords
    marks: Marks
    sheets: tuple[Sheet, ...]
    printed_before: tuple[ListedSheet, ...] = ()
    order: tuple[str, ...] = ()
    large: bool = False
