"""A box received or a seal made void is one act of two steps: the tables by one event, then its own event.

The first event holds every cell, so the second can be made from it alone. A program that is stopped in
between leaves an act that `half_done` names and `finish_half_done` ends, under the names of those who began.
"""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType
from typing import Final, Literal

from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.fact_edits import Edit, EditKind
from pollstead.intake.notices import open_item
from pollstead.record.event import Event, Person, Signed
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Body, Private
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected
from pollstead.record.kinds.stocks import SealVoided, StockNumbers, StockReceived, VoidSeal
from pollstead.record.write import Moment
from pollstead.store.desk import Desk
from pollstead.store.opening import Store
from pollstead.work.fact_changes import Change, Standing, StandingChange
from pollstead.work.facts import all_changes

ACT: Final = "add_stock"
STOPPED_ACTS: Final = frozenset({ACT, "reseal"})
"""Acts of two people that a stop may leave recorded and not in the tables; the next start finishes them."""
WHY: Final[MappingProxyType[str, Literal["damaged", "lost", "misprinted", "cut"]]] = MappingProxyType(
    {"damaged": "damaged", "lost": "lost", "misprinted": "misprinted", "cut": "cut"}
)
_GONE: Final = frozenset({Standing.UNDONE, Standing.DECIDED})


class SecondStep(Value, frozen=True, kw_only=True):
    """The event that ends an act: what it says, of what, and the change of facts that it belongs to."""

    change: str
    subject: str
    body: Body
    private: Private


class Withdrawal(Value, frozen=True, kw_only=True):
    """The withdrawal of an act's own entry, after its change of facts was undone by `change`."""

    change: str
    subject: str
    entry: str
    of: str
    reason: str


def second_step(change: Change) -> SecondStep | None:
    """The event that belongs to a change of the stock; None where the change asks for none.

    Blocks, returns and ranges alone are told by their change of facts.
    """
    if change.act != ACT or change.subject == "facts":
        return None
    for edit in change.cells:
        if edit.kind is not EditKind.ADDED:
            continue
        if edit.table == "seal_receipts" and change.subject == f"seals/{_cell(edit, 'id')}":
            quantity = _cell(edit, "quantity")
            return SecondStep(
                change=change.event,
                subject=change.subject,
                body=StockReceived(
                    receipt=_cell(edit, "id"),
                    counted=int(_cell(edit, "counted") or 0),
                    quantity=int(quantity) if quantity else None,
                ),
                private=StockNumbers(first=_cell(edit, "first"), last=_cell(edit, "last")),
            )
        if edit.table == "seal_voids" and _cell(edit, "reason") in WHY:
            return SecondStep(
                change=change.event,
                subject=change.subject,
                body=SealVoided(why=WHY[_cell(edit, "reason")]),
                private=VoidSeal(number=_cell(edit, "number"), reason=change.reason),
            )
    return None


def half_done(folder: Path, store: Store, device: str) -> tuple[SecondStep | Withdrawal, ...]:
    """The acts and undoings of this computer that are in the tables and not told by an entry of their own."""
    return half_done_among(all_changes(folder, store, device), store, device)


def half_done_among(
    found: tuple[StandingChange, ...], store: Store, device: str
) -> tuple[SecondStep | Withdrawal, ...]:
    """Those among changes that were read already."""
    mine = [
        (one, step)
        for one in found
        if one.change.device == device and not one.is_open
        for step in (second_step(one.change),)
        if step is not None
    ]
    if not mine:
        return ()
    written = store.events.of_kinds(StockReceived.kind, SealVoided.kind)
    withdrawn = {str(s.event.body.get("corrects", "")) for s in store.events.of_kinds(EntryCorrected.kind)}
    rest: list[SecondStep | Withdrawal] = []
    for one, step in mine:
        own = [s for s in written if step.change in s.event.after]
        # Entries that were written before they named their change are known by what they say.
        own = own or [s for s in written if not s.event.after and _said(s.event, store) == _mark(step)]
        if one.standing in _GONE:
            standing = [s for s in own if s.id not in withdrawn]
            reason = next((c.change.reason for c in found if c.change.event == one.undone_by), "")
            rest += [
                Withdrawal(
                    change=one.undone_by, subject=s.event.subject, entry=s.id, of=s.event.kind, reason=reason
                )
                for s in standing
            ]
        elif not own:
            rest.append(step)
    return tuple(rest)


def finish_half_done(folder: Path, desk: Desk, moment: Moment) -> tuple[Signed, ...]:
    """Write the entries that lack, each by the people of its change; what was written."""
    device = desk.recorder.device
    found = all_changes(folder, desk.store, device)
    return tuple(
        write_second(step, desk, _people_of(desk.store, step.change), moment)
        for step in half_done_among(found, desk.store, device)
    )


def write_second(
    step: SecondStep | Withdrawal, desk: Desk, people: tuple[Person, ...], moment: Moment
) -> Signed:
    """The event that ends an act or its undoing; it names the change of facts as known."""
    if isinstance(step, Withdrawal):
        return desk.recorder.record(
            EntryCorrected(corrects=step.entry, of_kind=step.of, value=FrozenObject({})),
            subject=step.subject,
            people=people,
            moment=moment,
            after=(step.change,),
            private=CorrectionPrivate(reason=step.reason or "Undone"),
        )
    return desk.recorder.record(
        step.body,
        subject=step.subject,
        people=people,
        moment=moment,
        after=(step.change,),
        private=step.private,
    )


def half_done_notices(steps: tuple[SecondStep | Withdrawal, ...]) -> tuple[Notice, ...]:
    """One open item for each act that was begun and not ended; no number stands in it."""
    return tuple(
        open_item(
            "stock-act-half-done",
            step.subject,
            message(N_("An act of the seal stock was begun and not ended: {subject}"), subject=step.subject),
            found=N_("in the tables, its own entry lacks"),
            wanted=N_("both"),
            remedy=message(
                N_("Start the app again, or enter anything on the page of the stock: it is ended then.")
            ),
            owner=N_("equipment manager"),
            depends=(step.change,),
        )
        for step in steps
    )


def _cell(edit: Edit, column: str) -> str:
    return next((cell.text for cell in edit.cells if cell.column == column), "")


def _mark(step: SecondStep) -> tuple[str, str]:
    if isinstance(step.body, StockReceived):
        return ("receipt", step.body.receipt)
    return (step.subject, step.private.number if isinstance(step.private, VoidSeal) else "")


def _said(event: Event, store: Store) -> tuple[str, str]:
    """What an event is about, for those that were written before they named their change."""
    if event.kind == StockReceived.kind:
        return ("receipt", str(event.body.get("receipt", "")))
    fields = store.sides.fields_of((event.private,)).get(event.private) if event.private else None
    return (event.subject, str(fields.get("number", "")) if fields is not None else "")


def _people_of(store: Store, change: str) -> tuple[Person, ...]:
    return next(s.event.people for s in store.events.of_kinds("facts.changed") if s.id == change)
