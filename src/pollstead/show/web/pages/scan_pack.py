"""Pack a cart or case by scanner: its label, then each device; what belongs elsewhere names its cart."""

from __future__ import annotations

from typing import Any, ClassVar, Final, Literal
from urllib.parse import urlencode

from litestar import Request, Response, get, post

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.custody.inventory import Book, tidy
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Reason
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected
from pollstead.record.kinds.warehouse import CartChecked, ThingPacked
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.commands import Command, command_of
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.stock_acts import county_of, whole
from pollstead.show.web.typed import Wrong
from pollstead.work.cart_packing import PackedCart, Slot, packed_carts

HERE: Final = "/scan/pack"
LOOKED: dict[str, Literal["yes", "no", "not_looked"]] = {"yes": "yes", "no": "no", "": "not_looked"}

DID: Final = {
    "cart": ("square", N_("Cart chosen: scan its devices")),
    "in": ("square", N_("Packed")),
    "order": ("half", N_("Packed, and an earlier place is still empty")),
    "again": ("half", N_("Packed already")),
    "away": ("diamond", N_("Packed; by the plan it stands at another site than this cart")),
    "other": ("diamond", N_("Not this cart")),
    "no-cart": ("diamond", N_("The book names no cart for it")),
    "unknown": ("cross", N_("Not in the book")),
    "first": ("ring", N_("Scan the label of a cart or case first")),
    "undo": ("half", N_("Taken back")),
    "nothing": ("ring", N_("Nothing to take back")),
    "no-use": ("ring", N_("This card does nothing here")),
    "stop": ("square", N_("Stopped. Everything is kept.")),
    "left": ("half", N_("Named with a reason")),
    "looked": ("square", N_("The last look is kept")),
}


class SlotLine(Value, frozen=True, kw_only=True):
    """One place of the cart as the page shows it."""

    place: int
    serial: str
    tag: str
    device: str
    state: str
    reason: str
    away: bool


class CartState(Value, frozen=True, kw_only=True):
    """One cart of the list."""

    cart: str
    tag: str
    site: str
    devices: int
    waiting: int


class PackPage(Page, frozen=True, kw_only=True):
    """The carts, or the one that is being packed."""

    template: ClassVar[str] = "scan_pack.html"

    carts: tuple[CartState, ...]
    into: str
    into_words: str
    site: str
    slots: tuple[SlotLine, ...]
    waiting: int
    checked: tuple[tuple[str, str], ...]
    shape: str
    words: str
    scanned: str
    belongs: str
    place: int
    may_change: bool
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    cautions: tuple[Caution, ...]


def carts_of(ask: Ask) -> tuple[PackedCart, ...]:
    """Every cart with how far it is."""
    return packed_carts(county_of(ask), ask.folder.current(), ask.folder.fold())


def pack_page(ask: Ask, faults: tuple[Wrong, ...] = ()) -> PackPage:
    """The page for the cart that the address names."""
    election, carts = county_of(ask), carts_of(ask)
    into = str(ask.query.get("into") or ask.form.text("into"))
    cart = next((one for one in carts if one.cart == into), None)
    did = str(ask.query.get("did") or "")
    code = str(ask.query.get("code") or "")[:80]
    shape, words = DID.get(did, DID["first"] if cart is None else DID["cart"])
    named = Book(election.devices).named(code) if code else ()
    belongs = named[0].cart if named and did == "other" else ""
    slot = next((s for s in (cart.slots if cart else ()) if named and s.device.id == named[0].id), None)
    return PackPage(
        **ask.frame(N_("Pack a cart or case")),
        carts=tuple(
            CartState(
                cart=one.cart,
                tag=one.tag,
                site=site_name(election, one.site),
                devices=len(one.slots),
                waiting=len(one.waiting),
            )
            for one in carts
        ),
        into=cart.cart if cart is not None else "",
        into_words=(cart.tag or cart.cart) if cart is not None else "",
        site=site_name(election, cart.site) if cart is not None else "",
        slots=tuple(_line(one) for one in cart.slots) if cart is not None else (),
        waiting=len(cart.waiting) if cart is not None else 0,
        checked=cart.checked if cart is not None else (),
        shape=shape,
        words=words,
        scanned=code,
        belongs=_where(election, carts, belongs),
        place=slot.place if slot is not None else 0,
        may_change=ask.may(Capability.STOCK),
        typed=tuple(TypedValue(field=f, value=ask.form.text(f)) for f in ("reason", "panels"))
        if faults
        else (),
        faults=faults,
        cautions=for_place(Place.PACKING),
    )


def _line(slot: Slot) -> SlotLine:
    return SlotLine(
        place=slot.place,
        serial=slot.device.serial,
        tag=slot.device.tag,
        device=slot.device.id,
        state=slot.state,
        reason=slot.reason,
        away=slot.away,
    )


def site_name(election: Election, site: str) -> str:
    """A site's id and name; the id alone where no name is known."""
    found = next((one for one in election.sites if one.id == site), None)
    return f"{found.id.removeprefix('site/')} {found.name}" if found is not None else site


def _where(election: Election, carts: tuple[PackedCart, ...], cart: str) -> str:
    found = next((one for one in carts if one.cart == cart), None)
    if found is None:
        return cart
    return " · ".join(filter(None, (found.tag or found.cart, site_name(election, found.site))))


def _at(into: str, did: str = "", code: str = "") -> str:
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
        return _at(cart.cart, "cart")
    if not any(one.cart == into for one in carts):
        return _at("", "first")
    named = Book(election.devices).named(code)
    if len(named) != 1:
        return _at(into, "unknown", code)
    device = named[0]
    if not device.cart:
        return _at(into, "no-cart", code)
    if device.cart != into:
        return _at(into, "other", code)
    mine = next(one for one in carts if one.cart == into)
    slot = next(s for s in mine.slots if s.device.id == device.id)
    if slot.state == "packed":
        return _at(into, "again", code)
    pack(ask, device.id, ThingPacked(into=into))
    empty = any(s.state in ("waits", "elsewhere") and s.place < slot.place for s in mine.slots)
    return _at(into, "away" if slot.away else "order" if empty else "in", code)


def pack(ask: Ask, device: str, body: ThingPacked, reason: str = "") -> None:
    """Record what became of one device."""
    ask.folder.write(
        body,
        who=ask.person(),
        subject=device,
        after=ask.folder.fold().heads(device, ThingPacked.kind),
        private=Reason(reason=reason) if reason else None,
    )


def take_command(ask: Ask, carts: tuple[PackedCart, ...], command: Command, into: str) -> str:
    """What a card does while packing."""
    if command is Command.UNDO:
        return take_back(ask, carts, into)
    if command is Command.NEXT:
        return _at("", "first")
    if command is Command.STOP:
        return _at(into, "stop")
    if command is Command.OTHER_PAIR:
        return f"/who?{urlencode({'next': _at(into)})}"
    return _at(into, "no-use")


def take_back(ask: Ask, carts: tuple[PackedCart, ...], into: str) -> str:
    """Withdraw the newest word about a device of this cart."""
    slots = [s for cart in carts if cart.cart == into for s in cart.slots if s.event]
    if not slots:
        return _at(into, "nothing")
    order = {event: number for number, event in enumerate(ask.folder.fold().order)}
    last = max(slots, key=lambda slot: (slot.utc_ms, order.get(slot.event, 0)))
    ask.folder.write(
        EntryCorrected(corrects=last.event, of_kind=ThingPacked.kind, value=FrozenObject({})),
        who=ask.person(),
        subject=last.device.id,
        private=CorrectionPrivate(reason="Taken back at the scan station"),
    )
    return _at(into, "undo", last.device.serial)


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
    return _at(into, "left", slot.device.serial)


def look(ask: Ask) -> tuple[Wrong, ...] | str:
    """Keep the last look: order, panels, straps, lock."""
    into, panels = ask.form.text("into"), ask.form.text("panels")
    if not any(one.cart == into for one in carts_of(ask)):
        return (Wrong(field="in_order", words=message(N_("Scan the label of a cart or case first"))),)
    if panels and whole(panels) is None:
        return (
            Wrong(field="panels", words=message(N_("Type how many panels in digits, or leave it blank."))),
        )
    subject = f"cart/{into}"
    ask.folder.write(
        CartChecked(
            in_order=LOOKED.get(ask.form.text("in_order"), "not_looked"),
            straps=LOOKED.get(ask.form.text("straps"), "not_looked"),
            locked=LOOKED.get(ask.form.text("locked"), "not_looked"),
            panels=whole(panels) if panels else None,
        ),
        who=ask.person(),
        subject=subject,
        after=ask.folder.fold().heads(subject, CartChecked.kind),
    )
    return _at(into, "looked")


@get(HERE)
@in_thread
def packing(request: Request[Any, Any, Any]) -> Response[str]:
    """The carts, or the one that is being packed."""
    ask = Ask(request)
    return answer(ask, pack_page(ask))


@post(HERE)
@in_thread
def take_packing(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take a scan, a device that is left out, the last look, or an undo."""
    ask = Ask(request)
    what = ask.form.text("do")
    if what == "scan":
        return go(take_scan(ask))
    if what == "undo":
        return go(take_back(ask, carts_of(ask), ask.form.text("into")))
    if what not in ("leave", "look"):
        raise Trouble(400, N_("This form is not known here."), N_("Open the page again, then send it."), HERE)
    taken = leave_out(ask) if what == "leave" else look(ask)
    return go(taken) if isinstance(taken, str) else answer(ask, pack_page(ask, taken), 422)
