"""Undo on the pages of the day: a correction without a value; the first entry stays in the record."""

from __future__ import annotations

from pollstead.election.words import N_
from pollstead.record.fold import Fold
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected
from pollstead.show.web.pages.frame import Ask, Trouble


def take_back(ask: Ask, folded: Fold, kinds: tuple[str, ...], back: str) -> str:
    """Withdraw the event of the form, one of `kinds`; gives the correction's id.

    One's own is undone at once; what somebody else wrote needs a reason. `back` is the page to go to.
    """
    event, reason, me = ask.form.text("event"), ask.form.text("reason"), ask.person().person
    for kind in kinds:
        for fact in folded.named(kind):
            for reading in fact.current:
                if reading.event != event or not (reason or any(p.person == me for p in reading.people)):
                    continue
                return ask.folder.write(
                    EntryCorrected(corrects=event, of_kind=reading.kind, value=FrozenObject()),
                    who=ask.person(),
                    subject=fact.subject,
                    site=reading.site,
                    day=fact.day,
                    private=CorrectionPrivate(reason=reason or "undone at once"),
                ).id
    raise Trouble(
        409,
        N_("This cannot be taken back: it was already, or another wrote it and no reason was given."),
        N_("Look at the list again."),
        back,
    )
