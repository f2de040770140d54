"""The seal stock as facts: receipts, voids, returns, and the blocks that people gave to sites.

A range is what lies in the store; a receipt is what came in and was counted by two people. A number belongs
to a series of a kind of seal; the same number may come again in another series, which is told.
"""

from __future__ import annotations

import datetime as dt
import enum
import re

from pollstead.election.check_characters import CheckScheme
from pollstead.election.values import Value, require

_NUMBER = re.compile(r"^(.*?)(\d+)(\D*)$")


def split_number(text: str) -> tuple[str, int, str]:
    """What stands before the last run of digits, the digits as a number, and what stands after.

    Raises ValueError naming the text when it has no digit.
    """
    found = _NUMBER.match(text)
    if found is None:
        raise ValueError(f"a seal number needs at least one digit, got {text!r}")
    return found[1], int(found[2]), found[3]


def body_of(number: str, scheme: CheckScheme) -> str:
    """A number as it stands on the seal without its check character; the whole number where it has none."""
    return number if scheme is CheckScheme.NONE else number.strip()[:-1]


class VoidReason(enum.StrEnum):
    """Why a seal is never used."""

    DAMAGED = "damaged"
    LOST = "lost"
    MISPRINTED = "misprinted"
    CUT = "cut"


class SealReceipt(Value, frozen=True, kw_only=True):
    """One box or roll that came in: from and to inclusive as text, and the quantity that its paper states.

    `counted_by` are the people who counted it; `quantity` and `counted` are None while not told.
    """

    id: str
    seal_kind: str
    series: str
    first: str
    last: str
    quantity: int | None = None
    counted: int | None = None
    ordered: dt.date | None = None
    received: dt.date | None = None
    counted_by: tuple[str, ...] = ()
    held_at: str = ""

    def __post_init__(self) -> None:
        for name, number in (("quantity", self.quantity), ("counted", self.counted)):
            require(number is None or number >= 0, f"{name} must be 0 or more, got {number}")


class SealVoid(Value, frozen=True, kw_only=True):
    """One seal that is never used, or never used again, and why."""

    seal_kind: str
    number: str
    reason: str = VoidReason.DAMAGED.value
    date: dt.date | None = None
    people: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        known = [reason.value for reason in VoidReason]
        require(self.reason in known, f"reason must be one of {', '.join(known)}, got {self.reason!r}")


class SealReturn(Value, frozen=True, kw_only=True):
    """Seals that came back unused, from and to inclusive."""

    seal_kind: str
    first: str
    last: str
    site: str = ""
    date: dt.date | None = None


class SealBlock(Value, frozen=True, kw_only=True):
    """A block of seals that people put into a site's bag, from and to inclusive; planning keeps it."""

    site: str
    seal_kind: str
    first: str
    last: str
    reason: str = ""
