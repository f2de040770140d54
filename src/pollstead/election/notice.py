"""Notices: what the tool has to say about a fault, an open item, a difference or a rule not met."""

from __future__ import annotations

import enum

from pollstead.election.values import Value, require
from pollstead.election.words import Message


class NoticeKind(enum.StrEnum):
    """The four kinds of notice."""

    FAULT = "fault"
    OPEN_ITEM = "open item"
    DIFFERENCE = "difference"
    RULE_NOT_MET = "rule not met"


class Grade(enum.StrEnum):
    """How far a fault reaches: the table is not taken in, or what depends on it is not planned."""

    CANNOT_READ = "cannot read"
    CONTRADICTS = "contradicts itself"


class Place(Value, frozen=True, kw_only=True):
    """Where in the facts something stands: table or file, row as people count it, column."""

    file: str
    row: int | None = None
    column: str | None = None

    def english(self) -> str:
        """The place as ``sites.csv, row 7, column name``."""
        row = f", row {self.row}" if self.row is not None else ""
        column = f", column {self.column}" if self.column is not None else ""
        return f"{self.file}{row}{column}"


class Notice(Value, frozen=True, kw_only=True):
    """One thing that a person should know, with a key that stays the same while it lasts.

    `key` is (rule, subject, day). `found` and `wanted` are what was observed and expected, as a
    reader would see them; `remedy` says what to do next. `depends` holds the values decided on, so
    that a resolution can name their digest and re-open when they change. `who_decides` is a role.
    """

    kind: NoticeKind
    rule: str
    subject: str
    day: str = ""
    text: Message
    found: str = ""
    wanted: str = ""
    remedy: Message | None = None
    place: Place | None = None
    grade: Grade | None = None
    owner: str = ""
    due: str = ""
    who_decides: str = ""
    depends: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        require(bool(self.rule), "a notice needs the id of its rule")
        require(bool(self.subject), "a notice needs a subject")
        if self.kind is NoticeKind.FAULT:
            require(self.grade is not None, "a fault needs a grade: cannot read, or contradicts itself")

    @property
    def key(self) -> str:
        """The stable key that a resolution names: rule, subject and day."""
        return f"{self.rule}|{self.subject}|{self.day}"


def by_key(notices: tuple[Notice, ...]) -> tuple[Notice, ...]:
    """The notices in the order of their keys, each key once, keeping the first of equals."""
    kept: dict[str, Notice] = {}
    for notice in notices:
        kept.setdefault(notice.key, notice)
    return tuple(kept[key] for key in sorted(kept))
