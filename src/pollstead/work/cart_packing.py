"""How far each cart and case is packed: its devices by the book, what was scanned in, what stays out."""

from __future__ import annotations

from pollstead.election.county import Device, Election
from pollstead.election.values import Value
from pollstead.plan.stations.cart_contents import CartContents, contents_of, left_to_right
from pollstead.plan.stations.carts import cart_lists
from pollstead.plan.terms.version import PlanVersion
from pollstead.record.facts import Fold, Reading
from pollstead.record.kinds.warehouse import CartChecked, ThingPacked


class Slot(Value, frozen=True, kw_only=True):
    """One place of a cart, left to right in the order of serials: its device and how far it is."""

    place: int
    device: Device
    state: str  # "waits", "packed", "left_out" or "elsewhere"
    reason: str = ""
    away: bool = False
    event: str = ""
    utc_ms: int = 0


class PackedCart(Value, frozen=True, kw_only=True):
    """One cart or case: the site it goes to, its places, the last look at what has no serial."""

    cart: str
    tag: str
    site: str
    slots: tuple[Slot, ...]
    contents: CartContents = CartContents()
    padlocked: bool | None = None
    checked: tuple[tuple[str, str], ...] = ()

    @property
    def waiting(self) -> tuple[Slot, ...]:
        """The places whose device is neither packed here nor named with a reason."""
        return tuple(slot for slot in self.slots if slot.state in ("waits", "elsewhere"))


def packed_carts(election: Election, plan: PlanVersion | None, folded: Fold) -> tuple[PackedCart, ...]:
    """Every cart and case that the book has, with what the record says of each of its devices."""
    sites_of: dict[str, tuple[str, ...]] = {}
    for site in () if plan is None else plan.sites:
        for station in site.stations:
            for part in station.parts:
                if part.device:
                    sites_of[part.device] = (*sites_of.get(part.device, ()), site.site)
    stations = tuple(station for site in (() if plan is None else plan.sites) for station in site.stations)
    locks = {cart.id: cart.padlocked for cart in election.carts}
    packed = {fact.subject: _newest(fact.current) for fact in folded.named(ThingPacked.kind)}
    looked = {fact.subject: _newest(fact.current) for fact in folded.named(CartChecked.kind)}
    found = []
    for cart in cart_lists(election.devices, election.carts, sites_of):
        contents = contents_of(cart.devices, election.station_types, stations)
        found.append(
            PackedCart(
                cart=cart.cart,
                tag=cart.tag,
                site=cart.site,
                slots=tuple(
                    _slot(place, device, cart.cart, packed.get(device.id), away=device.id in cart.away)
                    for place, device in enumerate(left_to_right(cart.devices, contents), start=1)
                ),
                contents=contents,
                padlocked=locks.get(cart.cart),
                checked=_checked(looked.get(f"cart/{cart.cart}")),
            )
        )
    return tuple(found)


def _newest(current: tuple[Reading, ...]) -> Reading | None:
    return max(current, key=lambda reading: (reading.utc_ms, reading.n), default=None)


def _slot(place: int, device: Device, cart: str, told: Reading | None, *, away: bool) -> Slot:
    if told is None or told.value.get("state") == "taken_out":
        return Slot(place=place, device=device, state="waits", away=away)
    into, state = str(told.value.get("into", "")), str(told.value.get("state", "packed"))
    reason = told.private.get("reason") if told.private is not None else None
    return Slot(
        place=place,
        device=device,
        state="elsewhere" if into and into != cart else state,
        reason=reason if isinstance(reason, str) else "",
        away=away,
        event=told.event,
        utc_ms=told.utc_ms,
    )


def _checked(told: Reading | None) -> tuple[tuple[str, str], ...]:
    if told is None:
        return ()
    said = [
        (key, str(told.value[key])) for key in ("in_order", "panels", "straps", "locked") if key in told.value
    ]
    counts = zip(told.value.get("items", ()), told.value.get("counts", ()), strict=False)
    return (*said, *((str(item), str(count)) for item, count in counts))
