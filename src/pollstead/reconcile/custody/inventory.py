"""Inventory: the book, what was scanned, and a list from elsewhere, held against one another as sets.

Serials and tags both name a thing. A code that no list has is never guessed at: the codes that a person may
have meant (letter O for 0, I for 1, one edit away) are named, and the person decides.
"""

from __future__ import annotations

import enum
from collections import defaultdict
from collections.abc import Iterable

from rapidfuzz.distance import OSA

from pollstead.election.county import Device
from pollstead.election.identity import look_alike_key
from pollstead.election.values import Value


class Found(enum.StrEnum):
    """What one scan is."""

    PRESENT = "present"
    AGAIN = "counted already"
    WRONG_PLACE = "wrong place"
    LOOKS_LIKE = "looks like another"
    UNKNOWN = "unknown"


class Scanned(Value, frozen=True, kw_only=True):
    """One scan that stands: the code as read, where it was counted ("" for anywhere), its event."""

    code: str
    place: str = ""
    event: str = ""
    utc_ms: int = 0
    n: int = 0


class ScanAnswer(Value, frozen=True, kw_only=True):
    """What a scan is: the thing it names, where the book has it, and what else it may be.

    `device` is empty where nothing of that name is in the book. `meant` are codes of the book that look like
    the scanned one; nearest first.
    """

    found: Found
    code: str
    device: str = ""
    serial: str = ""
    belongs: str = ""
    meant: tuple[str, ...] = ()


class Line(Value, frozen=True, kw_only=True):
    """One code of the result, and on which of the three it stands; `scans` is how often it was scanned."""

    code: str
    device: str = ""
    in_book: bool
    scanned: bool
    in_third: bool | None = None
    scans: int = 0
    counted_at: str = ""
    belongs: str = ""
    meant: tuple[str, ...] = ()


class Inventory(Value, frozen=True, kw_only=True):
    """The result of a count. Each line stands in as many lists as fit it; `lines` has every code once."""

    lines: tuple[Line, ...]

    @property
    def present(self) -> tuple[Line, ...]:
        """In the book and scanned."""
        return tuple(line for line in self.lines if line.in_book and line.scanned)

    @property
    def missing(self) -> tuple[Line, ...]:
        """In the book and not scanned."""
        return tuple(line for line in self.lines if line.in_book and not line.scanned)

    @property
    def unknown(self) -> tuple[Line, ...]:
        """Scanned and not in the book."""
        return tuple(line for line in self.lines if line.scanned and not line.in_book)

    @property
    def doubled(self) -> tuple[Line, ...]:
        """Scanned more than once: one label twice, or one thing counted at two places."""
        return tuple(line for line in self.lines if line.scans > 1)

    @property
    def wrong_place(self) -> tuple[Line, ...]:
        """Scanned where the book does not have it."""
        return tuple(line for line in self.lines if line.in_book and line.scanned and line.belongs)

    @property
    def only_third(self) -> tuple[Line, ...]:
        """On the third list alone."""
        return tuple(line for line in self.lines if line.in_third and not line.in_book and not line.scanned)

    @property
    def not_third(self) -> tuple[Line, ...]:
        """In the book or scanned, and not on the third list where there is one."""
        return tuple(line for line in self.lines if line.in_third is False)


class Book:
    """The devices of the county by every code that may be scanned: serial and tag."""

    def __init__(self, devices: Iterable[Device]) -> None:
        self.devices = tuple(devices)
        self._by_code: dict[str, list[Device]] = defaultdict(list)
        self._by_look: dict[str, list[str]] = defaultdict(list)
        for device in self.devices:
            for code in dict.fromkeys(filter(None, (device.serial, device.tag))):
                if device not in self._by_code[tidy(code)]:
                    self._by_code[tidy(code)].append(device)
                self._by_look[look_alike_key(tidy(code))].append(code)

    def named(self, code: str) -> tuple[Device, ...]:
        """The devices that a code names: one, none, or several where a tag stands twice."""
        return tuple(self._by_code.get(tidy(code), ()))

    def like(self, code: str, most: int = 3) -> tuple[str, ...]:
        """Codes of the book that a person may have meant: those that look alike, then those one edit away.

        One edit is one character more, less or other, or two neighbors swapped (optimal string alignment).
        """
        wanted = tidy(code)
        alike = [one for one in self._by_look.get(look_alike_key(wanted), ()) if tidy(one) != wanted]
        near = [
            one for one in self._by_code if one != wanted and OSA.distance(one, wanted, score_cutoff=1) == 1
        ]
        return tuple(dict.fromkeys((*map(tidy, alike), *sorted(near))))[:most]


def tidy(code: str) -> str:
    """A code as it is compared: without blanks around it, letters in capitals."""
    return code.strip().upper()


def answer_scan(book: Book, earlier: Iterable[Scanned], code: str, place: str = "") -> ScanAnswer:
    """What the scan of `code` at `place` (a cart's id, or "" for anywhere) is, given the earlier scans."""
    named = book.named(code)
    if len(named) > 1:
        return ScanAnswer(found=Found.LOOKS_LIKE, code=code, meant=tuple(device.serial for device in named))
    if not named:
        meant = book.like(code)
        return ScanAnswer(found=Found.LOOKS_LIKE if meant else Found.UNKNOWN, code=code, meant=meant)
    device = named[0]
    again = key_of(book, code) in {key_of(book, scan.code) for scan in earlier}
    elsewhere = _elsewhere(device, place)
    found = Found.AGAIN if again else Found.WRONG_PLACE if elsewhere else Found.PRESENT
    return ScanAnswer(found=found, code=code, device=device.id, serial=device.serial, belongs=elsewhere)


def key_of(book: Book, code: str) -> str:
    """The one name under which a code is counted: the serial of the device it names, else the code itself."""
    named = book.named(code)
    return tidy(named[0].serial) if len(named) == 1 else tidy(code)


def reconcile_inventory(
    book: Book, scans: Iterable[Scanned], third: Iterable[str] | None = None
) -> Inventory:
    """Every code of book, scans and third list once, with where it stands."""
    told: dict[str, list[Scanned]] = defaultdict(list)
    for scan in scans:
        told[key_of(book, scan.code)].append(scan)
    devices = {tidy(device.serial): device for device in book.devices}
    listed = None if third is None else {key_of(book, code) for code in third if code.strip()}
    codes = dict.fromkeys((*devices, *told, *sorted(listed or ())))
    return Inventory(lines=tuple(_line(code, book, devices, told, listed) for code in sorted(codes)))


def _line(
    code: str,
    book: Book,
    devices: dict[str, Device],
    told: dict[str, list[Scanned]],
    listed: set[str] | None,
) -> Line:
    device = devices.get(code)
    mine = told.get(code, [])
    last = mine[-1] if mine else None
    return Line(
        code=device.serial if device is not None else code,
        device=device.id if device is not None else "",
        in_book=device is not None,
        scanned=bool(mine),
        in_third=None if listed is None else code in listed,
        scans=len(mine),
        counted_at=last.place if last is not None else "",
        belongs=_elsewhere(device, last.place) if device is not None and last is not None else "",
        meant=book.like(code) if device is None and mine else (),
    )


def _elsewhere(device: Device, place: str) -> str:
    """The cart that the book has the device in, where it is counted at another one; empty otherwise."""
    return device.cart if place and device.cart and device.cart != place else ""
