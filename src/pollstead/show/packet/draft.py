"""A sheet before it has its serial."""

from __future__ import annotations

import datetime as dt

from pollstead.election.values import Value
from pollstead.plan.terms.version import SheetKind
from pollstead.show.packet.asked import AskedLine
from pollstead.show.packet.content import Block, WhenThen


class Draft(Value, frozen=True, kw_only=True):
    """One sheet's words and fields; `key` tells it apart within its site, in every language alike.

    `tags` are the words about tags to look for, beside what the sheet is `about`; `stations` those whose
    numbers are written on it; `lines` its numbered lines.
    `foot` stands at the foot of each of its pages.
    """

    kind: SheetKind
    key: str
    title: str
    about: str
    day: str
    tags: str = ""
    blocks: tuple[Block, ...]
    foot: WhenThen | None = None
    stations: tuple[str, ...] = ()
    lines: tuple[AskedLine, ...] = ()


def key_for(kind: SheetKind, date: dt.date | None = None) -> str:
    """The key of a sheet of which a site has one, or one a day."""
    return kind.name if date is None else f"{kind.name}/{date.isoformat()}"


def day_of(key: str) -> str:
    """The operating day in a sheet's key, as ISO 8601, or "" for a sheet of no one day."""
    parts = key.split("/")
    return parts[1] if len(parts) > 1 else ""
