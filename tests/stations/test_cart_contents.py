"""What a cart holds follows from its station types; another type gives another list and another order."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import pytest

from pollstead.election.county import Device, Election
from pollstead.election.station_type import DeviceOrder, StationType, SupplyUse
from pollstead.intake.folder import read_folder
from pollstead.plan.stations.cart_contents import CartContents, contents_of, left_to_right
from pollstead.plan.terms.version import PartOfStation, Station

SMALL = Path(__file__).resolve().parents[2] / "small"


@pytest.fixture(scope="module")
def facts() -> Election:
    """The small county: one of its sites has ballot-marking devices with printers and panels."""
    found = read_folder(SMALL).election
    assert found is not None
    return found


def cart(facts: Election, name: str) -> tuple[Device, ...]:
    """The devices of a cart."""
    return tuple(device for device in facts.devices if device.cart == name)


def stations(facts: Election, kind: StationType, count: int) -> tuple[Station, ...]:
    """So many stations of a type with the first devices and printers of the site's two carts."""
    markers, printers = cart(facts, "cart-S02-V"), cart(facts, "cart-S02-P")
    made = []
    for number in range(count):
        parts = tuple(
            PartOfStation(part=part.id, name=part.name, quantity=1, device=held[number].id, by_serial=True)
            for part, held in zip(kind.serial_parts(), (markers, printers), strict=True)
        )
        made.append(Station(id=f"station/{number}", station_type=kind.id, number=number + 1, parts=parts))
    return tuple(made)


def changed(kind: StationType, **fields: Any) -> StationType:
    """The type with other fields."""
    return msgspec.structs.replace(kind, **fields)


def test_panels_and_straps_of_a_cart_follow_from_the_type(facts: Election) -> None:
    """Five stations with two panels each: ten panels; two straps a cart where the type says so, else none."""
    kind = facts.station_type("ballot-marker")
    five = stations(facts, kind, 5)
    devices = cart(facts, "cart-S02-V")[:5]
    plain = contents_of(devices, (kind,), five)
    assert {one.item: one.quantity for one in plain.things} == {"privacy panel": 10}
    strapped = changed(kind, supplies=(*kind.supplies, SupplyUse(item="strap", per_container=2)))
    told = contents_of(devices, (strapped,), five)
    assert {one.item: one.quantity for one in told.things} == {"privacy panel": 10, "strap": 2}
    bare = changed(kind, parts=tuple(p for p in kind.parts if p.id != "panel"), supplies=())
    assert contents_of(devices, (bare,), five).things == ()
    # The printers stand in a cart of their own: the panels go with the devices, once.
    assert contents_of(cart(facts, "cart-S02-P"), (strapped,), five).things == ()
    assert contents_of((), (kind,), five) == CartContents()


@pytest.mark.parametrize("order", list(DeviceOrder))
def test_the_order_left_to_right_is_the_type_s(facts: Election, order: DeviceOrder) -> None:
    """Low to high unless the type says otherwise; the printers of the same type keep their own order."""
    kind = facts.station_type("ballot-marker")
    parts = tuple(msgspec.structs.replace(p, order=order) if p.id == "device" else p for p in kind.parts)
    devices = cart(facts, "cart-S02-V")
    found = contents_of(devices, (changed(kind, parts=parts),), stations(facts, kind, 4))
    assert found.order is order
    serials = [device.serial for device in left_to_right(reversed(devices), found)]
    assert serials == sorted(serials, reverse=order is DeviceOrder.HIGH_TO_LOW)
