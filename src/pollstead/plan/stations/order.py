"""The order of serials as people read them: digits count as numbers, so that 9 comes before 10."""

from __future__ import annotations

import re

from pollstead.election.county import Device
from pollstead.election.station_type import DeviceOrder

_PIECES = re.compile(r"\d+|\D+")

ReadingKey = tuple[tuple[int, int, str], ...]


def reading_key(text: str) -> ReadingKey:
    """A key under which texts sort as people read them: ``LM-V-9`` before ``LM-V-10``."""
    return tuple(
        (0, int(piece), piece) if piece.isdecimal() and piece.isascii() else (1, 0, piece)
        for piece in _PIECES.findall(text)
    )


def in_order(devices: list[Device], order: DeviceOrder) -> list[Device]:
    """The devices in the order in which they get the numbers of stations, left to right."""
    by_serial = sorted(devices, key=lambda d: (reading_key(d.serial), d.id))
    if order is DeviceOrder.HIGH_TO_LOW:
        return by_serial[::-1]
    if order is DeviceOrder.TAG:
        return sorted(by_serial, key=lambda d: reading_key(d.tag))
    if order is DeviceOrder.CART:
        return sorted(by_serial, key=lambda d: reading_key(d.cart))
    return by_serial
