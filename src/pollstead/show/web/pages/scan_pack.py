"""Pack a cart or case by scanner: its label, then each device; what belongs elsewhere names its cart."""

from __future__ import annotations

from typing import Any, ClassVar, Final

from litestar import Request, Response, get, post

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.custody.inventory import Book
from pollstead.reconcile.custody.near_sites import NearSite, near_to
from pollstead.reconcile.custody.not_back import leads_of
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.badges import DID as BADGE_DID
from pollstead.show.web.badges import badge_answer
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.likely import Likely
from pollstead.show.web.likely_code import likely_code
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.scan_pack_acts import (
    HERE,
    ThingField,
    address_of,
    carts_of,
    leave_out,
    look,
    take_back,
    take_scan,
    things_of,
)
from pollstead.show.web.pages.stock_acts import county_of
from pollstead.show.web.ready_view import names_of
from pollstead.show.web.typed import Wrong
from pollstead.work.cart_packing import PackedCart, Slot

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
} | BADGE_DID


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
    order: str
    types: tuple[str, ...]
    things: tuple[ThingField, ...]
    lock_asked: bool
    leads: tuple[str, ...]
    near: tuple[NearSite, ...]
    shape: str
    words: str
    scanned: str
    belongs: str
    said_likely: tuple[Likely, ...]
    place: int
    may_change: bool
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    cautions: tuple[Caution, ...]


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
        order=cart.contents.order.value if cart is not None else "",
        types=cart.contents.types if cart is not None else (),
        things=things_of(cart) if cart is not None else (),
        lock_asked=cart is not None and cart.padlocked is not False,
        leads=leads_words(ask, election, carts, cart, belongs),
        near=near_to(election, cart.site) if cart is not None and cart.site else (),
        shape=shape,
        words=words,
        scanned=code,
        belongs=_where(election, carts, belongs),
        said_likely=likely_code(ask, code, Book(election.devices).like(code), len(election.devices))
        if did == "unknown"
        else (),
        place=slot.place if slot is not None else 0,
        may_change=ask.may(Capability.STOCK),
        typed=tuple(TypedValue(field=f, value=ask.form.text(f)) for f in ("reason", "panels"))
        if faults
        else (),
        faults=faults,
        cautions=for_place(Place.PACKING),
    )


def leads_words(
    ask: Ask, election: Election, carts: tuple[PackedCart, ...], cart: PackedCart | None, belongs: str
) -> tuple[str, ...]:
    """Site and lead of a device that belongs elsewhere, then those of this cart; names by role."""
    other = next((one.site for one in carts if one.cart == belongs), "")
    if not belongs or not other or cart is None or other == cart.site:
        return ()
    names, see = names_of(ask, election), ask.may(Capability.SEE_PEOPLE)
    found = []
    for site in filter(None, (other, cart.site)):
        for lead in leads_of(election, site.removeprefix("site/"))[:1]:
            short = lead.removeprefix("person/")
            found.append(f"{site_name(election, site)}: {names.get(short, short) if see else short}")
    return tuple(found)


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
        into = ask.form.text("into")
        badge = badge_answer(ask, ask.form.text("code"), lambda did, _: address_of(into, did))
        return badge or go(take_scan(ask))
    if what == "undo":
        return go(take_back(ask, carts_of(ask), ask.form.text("into")))
    if what not in ("leave", "look"):
        raise Trouble(400, N_("This form is not known here."), N_("Open the page again, then send it."), HERE)
    taken = leave_out(ask) if what == "leave" else look(ask)
    return go(taken) if isinstance(taken, str) else answer(ask, pack_page(ask, taken), 422)
