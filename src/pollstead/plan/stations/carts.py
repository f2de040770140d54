"""Carts and cases: which devices a cart holds, in serial order, and which of them stand elsewhere."""

from __future__ import annotations

from collections import Counter

from pollstead.election.county import Device
from pollstead.election.fleet import Cart
from pollstead.election.identity import make_id
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.station_type import DeviceOrder
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan.stations.order import in_order, reading_key
from pollstead.plan.stations.serials import Place


class CartList(Value, frozen=True, kw_only=True):
    """One cart: its devices in serial order, the site it belongs to (or blank), what does not fit.

    `away` are device ids that stand at another site than the cart's; `over` is how many devices more than
    the cart has places for.
    """

    cart: str
    tag: str
    site: str
    devices: tuple[Device, ...]
    away: tuple[str, ...] = ()
    over: int = 0


def cart_site(cart: str, devices: list[Device], carts: dict[str, Cart]) -> str:
    """The site a cart is at home at: the table's, else the home of most of its devices, else blank."""
    known = carts.get(cart)
    if known is not None and known.site:
        return known.site
    homes = Counter(device.home for device in devices if device.home)
    return min(homes, key=lambda site: (-homes[site], site)) if homes else ""


def cart_lists(
    devices: tuple[Device, ...], carts: tuple[Cart, ...], sites_of: dict[str, tuple[str, ...]]
) -> tuple[CartList, ...]:
    """Every cart with its devices, serials low to high; `sites_of` is device id -> where it stands."""
    known = {cart.id: cart for cart in carts}
    held: dict[str, list[Device]] = {cart: [] for cart in known}
    for device in devices:
        if device.cart:
            held.setdefault(device.cart, []).append(device)
    lists = []
    for cart in sorted(held, key=reading_key):
        mine = in_order(held[cart], DeviceOrder.LOW_TO_HIGH)
        site = cart_site(cart, mine, known)
        places = known[cart].places if cart in known else None
        lists.append(
            CartList(
                cart=cart,
                tag=known[cart].tag if cart in known else "",
                site=site,
                devices=tuple(mine),
                away=tuple(d.id for d in mine if site and any(at != site for at in sites_of.get(d.id, ()))),
                over=max(0, len(mine) - places) if places is not None else 0,
            )
        )
    return tuple(lists)


def away_from_cart(places: list[Place], devices: tuple[Device, ...], carts: tuple[Cart, ...]) -> list[Notice]:
    """An open item for each site with devices whose cart belongs to another site, and for each full cart."""
    sites_of: dict[str, tuple[str, ...]] = {}
    for place in places:
        if place.device is not None:
            sites_of[place.device.id] = (*sites_of.get(place.device.id, ()), place.site)
    serial = {device.id: device.serial for device in devices}
    away: dict[str, list[str]] = {}
    notices = []
    for cart in cart_lists(devices, carts, sites_of):
        for device in cart.away:
            for site in dict.fromkeys(sites_of[device]):
                if site != cart.site:
                    away.setdefault(site, []).append(f"{serial[device]} ({cart.cart})")
        if cart.over:
            notices.append(_over(cart))
    for site, found in sorted(away.items()):
        listed = ", ".join(sorted(found, key=reading_key))
        notices.append(
            Notice(
                kind=NoticeKind.OPEN_ITEM,
                rule="device-away-from-cart",
                subject=make_id("site", site),
                text=message(
                    N_("Devices stand here whose cart belongs to another site: {devices}."), devices=listed
                ),
                remedy=message(N_("Move them to a cart of this site, and correct devices.csv.")),
                owner="equipment manager",
                depends=(listed,),
            )
        )
    return notices


def _over(cart: CartList) -> Notice:
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="cart-too-full",
        subject=f"cart/{cart.cart}",
        text=message(N_("Cart {cart} has {over} devices more than places."), cart=cart.cart, over=cart.over),
        found=str(len(cart.devices)),
        wanted=str(len(cart.devices) - cart.over),
        remedy=message(N_("Move devices to another cart, or correct the places in carts.csv.")),
        owner="equipment manager",
        depends=(str(len(cart.devices)), str(cart.over)),
    )
