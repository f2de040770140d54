"""Make the notices of the intake: cannot read, contradicts itself, open item."""

from __future__ import annotations

import datetime as dt

from pollstead.election.notice import Grade, Notice, NoticeKind, Place
from pollstead.election.words import Message

LONGEST_SHOWN = 80


_SEAL_TABLES = (
    "closure_seals.csv",
    "seal_ranges.csv",
    "seal_receipts.csv",
    "seal_voids.csv",
    "seal_returns.csv",
    "seal_blocks.csv",
)


def _decided_on(place: Place | None, text: Message, found: object, wanted: str) -> tuple[str, ...]:
    """The values of a notice whose check names none of its own: what it says, what was found and wanted.

    The digest of these values is signed when somebody decides. A digest of a short number gives the number
    away to whoever tries them all, so of a table of seals only the kind of fault counts.
    """
    if place is not None and place.file in _SEAL_TABLES:
        return (text.template,)
    return (text.template, shown(found), wanted)


def shown(text: object) -> str:
    """`text` on one line and short enough to stand in a notice."""
    flat = " ".join(str(text).split())
    flat = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in flat)
    return flat if len(flat) <= LONGEST_SHOWN else flat[: LONGEST_SHOWN - 1] + "…"


def cannot_read(
    rule: str, place: Place, text: Message, *, found: object = "", wanted: str = "", remedy: Message
) -> Notice:
    """A fault that keeps the whole table out; its subject is the place."""
    return Notice(
        kind=NoticeKind.FAULT,
        grade=Grade.CANNOT_READ,
        rule=rule,
        subject=place.english(),
        text=text,
        found=shown(found),
        wanted=wanted,
        remedy=remedy,
        place=place,
        depends=_decided_on(place, text, found, wanted),
    )


def contradicts(
    rule: str,
    subject: str,
    place: Place,
    text: Message,
    *,
    found: object = "",
    wanted: str = "",
    remedy: Message,
    day: str = "",
    depends: tuple[str, ...] = (),
) -> Notice:
    """A fault between values that can each be read; what depends on it is not planned."""
    return Notice(
        kind=NoticeKind.FAULT,
        grade=Grade.CONTRADICTS,
        rule=rule,
        subject=subject,
        day=day,
        text=text,
        found=shown(found),
        wanted=wanted,
        remedy=remedy,
        place=place,
        depends=depends or _decided_on(place, text, found, wanted),
    )


def open_item(
    rule: str,
    subject: str,
    text: Message,
    *,
    place: Place | None = None,
    found: object = "",
    wanted: str = "",
    remedy: Message | None = None,
    owner: str = "",
    due: str = "",
    day: str = "",
    who_decides: str = "",
    depends: tuple[str, ...] = (),
) -> Notice:
    """Something not known or worth a look; never blocks. `due` is a date as ISO text, or ""."""
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule=rule,
        subject=subject,
        day=day,
        text=text,
        found=shown(found),
        wanted=wanted,
        remedy=remedy,
        place=place,
        owner=owner,
        due=due,
        who_decides=who_decides,
        depends=depends or _decided_on(place, text, found, wanted),
    )


def due_before(election_day: dt.date | None, days: int) -> str:
    """The date `days` before election day as ISO text; "" while election day is unknown."""
    return (election_day - dt.timedelta(days=days)).isoformat() if election_day else ""


def rule_not_met(
    rule: str,
    subject: str,
    text: Message,
    *,
    place: Place | None = None,
    found: object = "",
    wanted: str = "",
    remedy: Message | None = None,
    owner: str = "",
    due: str = "",
    who_decides: str = "",
    depends: tuple[str, ...] = (),
) -> Notice:
    """A fact that does not meet a rule of the county; never blocks. Who decides is a role."""
    return Notice(
        kind=NoticeKind.RULE_NOT_MET,
        rule=rule,
        subject=subject,
        text=text,
        found=shown(found),
        wanted=wanted,
        remedy=remedy,
        place=place,
        owner=owner,
        due=due,
        who_decides=who_decides,
        depends=depends or _decided_on(place, text, found, wanted),
    )
