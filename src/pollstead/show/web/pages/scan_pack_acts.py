"""What packing takes: a cart, its devices, what stays out, the last look, an undo."""

from __future__ import annotations

import re
from typing import Final, Literal
from urllib.parse import urlencode

from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.custody.inventory import Book, tidy
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Reason
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected
from pollstead.record.kinds.warehouse import CartChecked, ThingPacked
from pollstead.show.commands import Command, command_of
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.pages.scan_pair import pair_link
from pollstead.show.web.pages.stock_acts import county_of, whole
from pollstead.show.web.typed import Wrong
from pollstead.work.cart_packing import PackedCart, packed_carts

HERE: Final = "/scan/pack"
LOOKED: dict[str, Literal["yes", "no", "not_looked"]] = {"yes": "yes", "no": "no", "": "not_looked"}


class ThingField(Value, frozen=True, kw_only=True):
    """A thing without a serial that belongs in the cart: its field, how many; `found` by the last look."""

    field: str
    item: str
    quantity: int
    found: int | None


def carts_of(ask: Ask) -> tuple[PackedCart, ...]:
    """Every cart with how far it is."""
    return packed_carts(county_of(ask), ask.folder.current(), ask.folder.fold())


def kept_name(item: str) -> str:
    """A thing's name as the record holds it: letters, digits and a few signs, at most 40."""
    return re.sub(r"[^A-Za-z0-9 ./_-]", "-", item).strip(" ./_-")[:40] or "thing"


def things_of(cart: PackedCart) -> tuple[ThingField, ...]:
    """What has no serial and belongs in the cart by its station types, beside the last look."""
    found = dict(cart.checked)
    return tuple(
        ThingField(
            field=f"thing-{number}",
            item=kept_name(one.item),
            quantity=one.quantity,
            found=whole(found.get(kept_name(one.item), "")),
        )
        for number, one in enumerate(cart.contents.things, start=1)
    )


def address_of(into: str, did: str = "", code: str = "") -> str:
    """The page of a cart, with what was done."""
    told = {"into": into, "did": did, "code": code}
    return f"{HERE}?{urlencode({key: value for key, value in told.items() if value})}"


def take_scan(ask: Ask) -> str:
    """One scan: a card, a cart, or a device; where to go."""
    election, carts = county_of(ask), carts_of(ask)
    into, code = ask.form.text("into"), ask.form.text("code").strip()
    command = command_of(code)
    if command is not None:
        return take_command(ask, carts, command, into)
    cart = next((c for c in carts if tidy(code) in {tidy(c.cart), tidy(c.tag)} - {""}), None)
    if cart is not None:
        return address_of(cart.cart, "cart")
    if not any(one.cart == into for one in carts):
        return address_of("", "first")
    named = Book(election.devices).named(code)
    if len(named) != 1:
        return address_of(into, "unknown", code)
    device = named[0]
    if not device.cart:
        return address_of(into, "no-cart", code)
    if device.cart != into:
        return address_of(into, "other", code)
    mine = next(one for one in carts if one.cart == into)
    slot = next(s for s in mine.slots if s.device.id == device.id)
    if slot.state == "packed":
        return address_of(into, "again", code)
    pack(ask, device.id, ThingPacked(into=into))
    empty = any(s.state in ("waits", "elsewhere") and s.place < slot.place for s in mine.slots)
    return address_of(into, "away" if slot.away else "order" if empty else "in", code)


def pack(ask: Ask, device: str, body: ThingPacked, reason: str = "") -> None:
    """Record what became of one device."""
    ask.folder.write(
        body,
        who=ask.person(),
        subject=device,
        after=ask.folder.fold().heads(device, ThingPacked.kind),
        private=Reason(reason=reason) if reason else None,
        second=ask.person().second,
    )


def take_command(ask: Ask, carts: tuple[PackedCart, ...], command: Command, into: str) -> str:
    """What a card does while packing."""
    if command is Command.UNDO:
        return take_back(ask, carts, into)
    if command is Command.NEXT:
        return address_of("", "first")
    if command is Command.STOP:
        return address_of(into, "stop")
    if command is Command.OTHER_PAIR:
        return pair_link(address_of(into))
    return address_of(into, "no-use")


def take_back(ask: Ask, carts: tuple[PackedCart, ...], into: str) -> str:
    """Withdraw the newest word about a device of this cart."""
    slots = [s for cart in carts if cart.cart == into for s in cart.slots if s.event]
    if not slots:
        return address_of(into, "nothing")
    folded = ask.folder.fold()
    last = max(slots, key=lambda slot: folded.moment(slot.event, slot.utc_ms))
    ask.folder.write(
        EntryCorrected(corrects=last.event, of_kind=ThingPacked.kind, value=FrozenObject({})),
        who=ask.person(),
        subject=last.device.id,
        private=CorrectionPrivate(reason="Taken back at the scan station"),
    )
    return address_of(into, "undo", last.device.serial)


def leave_out(ask: Ask) -> tuple[Wrong, ...] | str:
    """Name a device that does not go into its cart, with a reason."""
    into, wanted, reason = ask.form.text("into"), ask.form.text("device"), ask.form.text("reason")
    cart = next((one for one in carts_of(ask) if one.cart == into), None)
    slot = next((s for s in (cart.slots if cart else ()) if s.device.id == wanted), None)
    faults = []
    if slot is None:
        faults.append(Wrong(field="device", words=message(N_("Choose the device that stays out."))))
    if not reason:
        faults.append(Wrong(field="reason", words=message(N_("Say in a few words why."))))
    if faults or slot is None:
        return tuple(faults)
    pack(ask, slot.device.id, ThingPacked(state="left_out"), reason)
    return address_of(into, "left", slot.device.serial)


def look(ask: Ask) -> tuple[Wrong, ...] | str:
    """Keep the last look: order, panels, straps, lock."""
    into, panels = ask.form.text("into"), ask.form.text("panels")
    if not any(one.cart == into for one in carts_of(ask)):
        return (Wrong(field="in_order", words=message(N_("Scan the label of a cart or case first"))),)
    if panels and whole(panels) is None:
        return (
            Wrong(field="panels", words=message(N_("Type how many panels in digits, or leave it blank."))),
        )
    things = things_of(next(one for one in carts_of(ask) if one.cart == into))
    faults = tuple(
        Wrong(field=one.field, words=message(N_("Type how many in digits, or leave it blank.")))
        for one in things
        if ask.form.text(one.field) and whole(ask.form.text(one.field)) is None
    )
    if faults:
        return faults
    counted = [(one.item, whole(ask.form.text(one.field))) for one in things]
    found = [(item, count) for item, count in counted if count is not None]
    subject = f"cart/{into}"
    ask.folder.write(
        CartChecked(
            in_order=LOOKED.get(ask.form.text("in_order"), "not_looked"),
            straps=LOOKED.get(ask.form.text("straps"), "not_looked"),
            locked=LOOKED.get(ask.form.text("locked"), "not_looked"),
            panels=whole(panels) if panels else None,
            items=tuple(item for item, _ in found),
            counts=tuple(count for _, count in found),
        ),
        who=ask.person(),
        subject=subject,
        after=ask.folder.fold().heads(subject, CartChecked.kind),
        second=ask.person().second,
    )
    return address_of(into, "looked")
