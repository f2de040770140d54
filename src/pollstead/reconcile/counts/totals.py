"""Totals of receiving and canvass as people typed or imported them, and where each was read.

Nothing is chosen: two people's different totals of one quantity both stand, and a correction names the first.
"""

from __future__ import annotations

import enum

from pollstead.election.values import Value
from pollstead.reconcile.counts.balance import Origin
from pollstead.reconcile.counts.uploads import origin_of_reading
from pollstead.reconcile.observed import short_site
from pollstead.record.facts import Fact, Fold, Reading
from pollstead.record.frozen_json import FrozenObject

COUNTY = "county/total"
"""The subject of a total of the whole county, without sites."""


class Ledger(enum.StrEnum):
    """Who has the total."""

    RECEIVING = "receiving"
    CANVASS = "canvass"


KIND_OF = {Ledger.RECEIVING: "receiving.total", Ledger.CANVASS: "canvass.total"}


class TypedTotal(Value, frozen=True, kw_only=True):
    """One standing total of a quantity: `site` is "" for the county; `total` None where only parts were read.

    `styles` are its parts by ballot style; `day` the operating day it is of, "" for the whole election;
    `file_digest` that of the table it was imported from.
    """

    ledger: Ledger
    site: str
    mode: str
    quantity: str
    source: str
    day: str
    total: int | None
    styles: tuple[tuple[str, int], ...]
    origin: Origin
    file_digest: str = ""

    def value(self, style: str = "") -> int | None:
        """The total, or the part of one style; the parts together where no total was read."""
        if style:
            return dict(self.styles).get(style)
        return self.total if self.total is not None else sum(count for _, count in self.styles)


class TotalWord(Value, frozen=True, kw_only=True):
    """What somebody wants to write: one quantity of a site and mode, as ``canvass.total`` has it."""

    ledger: Ledger
    subject: str
    mode: str
    quantity: str
    source: str
    day: str = ""
    total: int | None = None
    styles: tuple[tuple[str, int], ...] = ()


def typed_totals(folded: Fold) -> tuple[TypedTotal, ...]:
    """Every standing total of both ledgers."""
    return tuple(
        _total(ledger, fact, reading)
        for ledger, kind in KIND_OF.items()
        for fact in folded.named(kind)
        for reading in fact.current
    )


def standing_of(totals: tuple[TypedTotal, ...], word: TotalWord) -> tuple[TypedTotal, ...]:
    """The standing totals about the same thing as `word`, from the same source."""
    wanted = (
        word.ledger, short_site(word.subject), word.mode, word.quantity, word.source, word.day
    )  # fmt: skip
    return tuple(
        one
        for one in totals
        if (one.ledger, one.site or COUNTY, one.mode, one.quantity, one.source, one.day) == wanted
    )


def says_the_same(one: TypedTotal, word: TotalWord) -> bool:
    """Whether a standing total already says what somebody wants to write."""
    return (one.total, tuple(sorted(one.styles))) == (word.total, tuple(sorted(word.styles)))


def _total(ledger: Ledger, fact: Fact, reading: Reading) -> TypedTotal:
    value = reading.value.thawed()
    source = str(fact.key["source"])
    return TypedTotal(
        ledger=ledger,
        site="" if fact.subject == COUNTY else short_site(fact.subject),
        mode=str(fact.key["mode"]),
        quantity=str(fact.key["quantity"]),
        source=source,
        day=fact.day,
        total=_whole(reading.value, "total"),
        styles=tuple((str(part["style"]), int(part["count"])) for part in value.get("styles", [])),
        origin=origin_of_reading(reading, source),
        file_digest=str(value.get("file_digest", "")),
    )


def _whole(value: FrozenObject, name: str) -> int | None:
    found = value.get(name)
    return found if isinstance(found, int) else None
