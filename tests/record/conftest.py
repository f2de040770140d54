"""A small record in memory, with fixed keys, for the tests of the record."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from pollstead.record.check import Row
from pollstead.record.event import Means, Part, Person, Side, Signed
from pollstead.record.header import Header
from pollstead.record.keys import certify, public_hex
from pollstead.record.kinds.body import Body, Private
from pollstead.record.kinds.days import CountRead
from pollstead.record.tree import FIRST_ARRIVAL, next_arrival
from pollstead.record.write import MemoryJournal, Moment, Recorder

START = 1_857_200_000_000
END = START + 86_400_000
SITE = "site/S01"
SCANNER = "device/scanner/0012"
ME = (Person(person="person/P001", means=Means.OWN_DEVICE, part=Part.AUTHOR),)


class Office:
    """An office with a desk and what tablets a test certifies; all events go into one journal."""

    def __init__(self, practice: bool = False) -> None:
        self.office_key = self.key("office")
        self.header = Header(
            county="Larkmoor (invented)",
            election="General",
            practice=practice,
            office_key=public_hex(self.office_key),
            created_utc_ms=START,
        )
        self.journal = MemoryJournal()
        self.clock = START
        self.recorders: dict[str, Recorder] = {}
        self.certify("desk/office")

    @staticmethod
    def key(name: str) -> Ed25519PrivateKey:
        """A fixed key for `name`."""
        return Ed25519PrivateKey.from_private_bytes(hashlib.sha256(name.encode()).digest())

    def certify(self, device: str, *, scope: str = "office", start: int = START, end: int = END) -> None:
        """Certify a device; the desk writes the event (the desk's own is its first)."""
        key = self.key(device)
        self.recorders.setdefault(device, Recorder(self.header, device, key, self.journal))
        certificate = certify(
            self.header,
            self.office_key,
            device=device,
            public_key=public_hex(key),
            scope=scope,
            valid_from_utc_ms=start,
            valid_to_utc_ms=end,
        )
        self.record(certificate, device, site="")

    def record(
        self,
        body: Body,
        subject: str = SCANNER,
        *,
        device: str = "desk/office",
        site: str = SITE,
        after: tuple[str, ...] = (),
        private: Private | None = None,
        **changes: Any,
    ) -> Signed:
        """Record one event a second after the one before."""
        self.clock += 1_000
        moment = Moment(utc_ms=changes.pop("utc_ms", self.clock), offset_min=-300, uncertainty_ms=0)
        return self.recorders[device].record(
            body,
            subject=subject,
            people=changes.pop("people", ME),
            moment=moment,
            site=site,
            day="2028-11-07" if site else "",
            after=after,
            private=private,
            salt=hashlib.sha256(str(self.clock).encode()).digest(),
            **changes,
        )

    def count(self, value: int, *, device: str = "desk/office", term: str = "public_counter_open") -> Signed:
        """Record one reading of a counter."""
        return self.record(CountRead(term=term, value=value, source="screen"), device=device)

    @property
    def events(self) -> tuple[Signed, ...]:
        """Every event so far."""
        return tuple(self.journal.events)

    @property
    def sides(self) -> dict[str, Side | None]:
        """Every private part so far."""
        return dict(self.journal.sides)


def rows_of(events: tuple[Signed, ...]) -> tuple[Row, ...]:
    """Events as a store would hold them."""
    rows, arrival = [], FIRST_ARRIVAL
    for seq, signed in enumerate(events, 1):
        arrival = next_arrival(arrival, signed.id)
        rows.append(Row(seq=seq, id=signed.id, data=signed.data, signature=signed.signature, arrival=arrival))
    return tuple(rows)


@pytest.fixture
def office() -> Office:
    """An office with a certified desk."""
    return Office()


@pytest.fixture
def make_office() -> Callable[..., Office]:
    """Make further offices."""
    return Office


@pytest.fixture
def as_rows() -> Callable[[tuple[Signed, ...]], tuple[Row, ...]]:
    """Turn events into stored rows."""
    return rows_of
