"""Totals and uploads that people type one by one: a first entry, a second person's, or a correction."""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING, Final

from pollstead.election.values import Value
from pollstead.reconcile.counts.totals import (
    COUNTY,
    Ledger,
    TotalWord,
    says_the_same,
    standing_of,
    typed_totals,
)
from pollstead.reconcile.counts.uploads import Upload, repeats, uploads_of
from pollstead.record.kinds.canvass import CanvassTotal, MemoryUploaded, ReceivingTotal, StyleCount
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected, Remark
from pollstead.record.kinds.registry import body_object
from pollstead.record.write import Moment

if TYPE_CHECKING:
    from pollstead.record.event import Person, Signed
    from pollstead.store.desk import Desk

MEMORY: Final = "memory"


class Standing(enum.StrEnum):
    """What became of a total that somebody typed."""

    WRITTEN = "written"
    SAME = "the same as entered before, written as a second entry"
    DIFFERS = "differs from what was entered before; both stand until one is corrected"
    CORRECTED = "corrected; both stay in the record"


class Typed(Value, frozen=True, kw_only=True):
    """What was written, and what stood before it."""

    event: str
    standing: Standing
    before: tuple[int, ...] = ()


class NothingToCorrect(ValueError):
    """A reason was given and no total about this stands, so there is nothing to correct."""


def type_total(
    desk: Desk, word: TotalWord, *, reason: str = "", people: tuple[Person, ...], moment: Moment
) -> Typed:
    """Record a total; with a `reason` it corrects every standing one about the same thing and source.

    Without a reason a total that says otherwise stands beside the first. Raises NothingToCorrect.
    """
    standing = standing_of(typed_totals(desk.fold()), word)
    before = tuple(value for one in standing if (value := one.value()) is not None)
    kind = CanvassTotal if word.ledger is Ledger.CANVASS else ReceivingTotal
    body = kind(
        mode=word.mode,
        quantity=word.quantity,
        source=word.source,
        total=word.total,
        styles=tuple(StyleCount(style=style, count=count) for style, count in word.styles),
    )
    site = "" if word.subject == COUNTY else word.subject
    if not reason:
        said = desk.recorder.record(
            body, subject=word.subject, site=site, day=word.day, people=people, moment=moment
        )
        same = all(says_the_same(one, word) for one in standing)
        found = Standing.DIFFERS if not same else Standing.SAME if standing else Standing.WRITTEN
        return Typed(event=said.id, standing=found, before=before)
    wrong = [one for one in standing if not says_the_same(one, word)]
    if not wrong:
        raise NothingToCorrect(f"no other total of {word.quantity} of {word.subject} stands")
    events = []
    for one in wrong:
        correction = EntryCorrected(corrects=one.origin.event, of_kind=kind.kind, value=body_object(body))
        events.append(
            desk.recorder.record(
                correction,
                subject=word.subject,
                site=site,
                day=word.day,
                people=people,
                moment=moment,
                after=(one.origin.event,),
                private=CorrectionPrivate(reason=reason),
            )
        )
    return Typed(event=events[-1].id, standing=Standing.CORRECTED, before=before)


def type_upload(
    desk: Desk,
    memory: str,
    body: MemoryUploaded,
    *,
    site: str = "",
    day: str = "",
    remark: str = "",
    people: tuple[Person, ...],
    moment: Moment,
) -> tuple[Signed, Upload | None]:
    """Record a reading of a memory device; also gives the first one that it repeats, or None.

    A repeated one is written all the same: what happened is never refused, it is told.
    """
    first = repeats(uploads_of(desk.fold()), memory, body.count) if body.state == "taken" else None
    said = desk.recorder.record(
        body,
        subject=f"{MEMORY}/{memory}",
        site=site,
        day=day,
        people=people,
        moment=moment,
        private=Remark(remark=remark) if remark else None,
    )
    return said, first
