"""What the station types say of a cart: the order of its devices, and what without a serial goes with them.

Parts by count (a privacy panel) go with the stations whose first device is in the cart; supplies *per
container* (straps, panels a cart) once for each type in it. What a type does not say is not asked for.
Common practice, no source; varies by county.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from pollstead.election.county import Device
from pollstead.election.station_type import DeviceOrder, IdentifiedBy, StationType
from pollstead.election.values import Value
from pollstead.plan.stations.order import in_order
from pollstead.plan.terms.version import Station


class CartThing(Value, frozen=True, kw_only=True):
    """A thing without a serial and how many of it belong in the cart."""

    item: str
    quantity: int


class CartContents(Value, frozen=True, kw_only=True):
    """The order of the devices, left to right; things without a serial; names of the types in the cart."""

    order: DeviceOrder = DeviceOrder.LOW_TO_HIGH
    things: tuple[CartThing, ...] = ()
    types: tuple[str, ...] = ()


def contents_of(
    devices: Iterable[Device], types: Iterable[StationType], stations: Iterable[Station]
) -> CartContents:
    """What the types of the stations say that the cart's devices belong to; linear in the stations."""
    held = {device.id for device in devices}
    by_id = {one.id: one for one in types}
    orders: Counter[DeviceOrder] = Counter()
    things: Counter[str] = Counter()
    in_cart: dict[str, StationType] = {}
    seen: set[str] = set()
    for station in stations:
        kind = by_id.get(station.station_type)
        mine = [part for part in station.parts if part.device in held] if kind is not None else []
        if kind is None or not mine or station.id in seen:
            continue
        seen.add(station.id)
        of_part = {part.id: part.order for part in kind.parts}
        orders.update(of_part[part.part] for part in mine if part.part in of_part)
        first = next(iter(kind.serial_parts()), None)
        if first is None or not any(part.part == first.id for part in mine):
            continue
        in_cart[kind.id] = kind
        for part in kind.parts:
            if part.identified_by is IdentifiedBy.COUNT:
                things[part.name] += part.per_station
    for kind in in_cart.values():
        for use in kind.supplies:
            if use.per_container:
                things[use.item] += use.per_container
    most = max(orders.values(), default=0)
    order = next((one for one in DeviceOrder if orders[one] == most), DeviceOrder.LOW_TO_HIGH)
    return CartContents(
        order=order if most else DeviceOrder.LOW_TO_HIGH,
        things=tuple(CartThing(item=item, quantity=n) for item, n in sorted(things.items())),
        types=tuple(kind.name for kind in in_cart.values()),
    )


def left_to_right(devices: Iterable[Device], contents: CartContents) -> tuple[Device, ...]:
    """The devices of a cart in the order that the types say."""
    return tuple(in_order(list(devices), contents.order))
