"""A county folder as the office works with it: store, keys, and the recorder of this computer."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from pollstead.record.event import Person, Signed
from pollstead.record.facts import Fold
from pollstead.record.header import Header
from pollstead.record.keys import OFFICE_SCOPE, Trust, certify, public_hex
from pollstead.record.kinds.body import Reason
from pollstead.record.kinds.offices import DeviceCertified, SideRedacted
from pollstead.record.write import Moment, Recorder
from pollstead.store.high_water import MarkedJournal, mark_path, older_store, what_to_do
from pollstead.store.keyring import Keyring
from pollstead.store.opening import Store, open_store
from pollstead.store.refusal import Refusal

OFFICE_KEY: Final = "office"
DESK_DEVICE: Final = "desk/office"
DESK_KEY: Final = "desk"
DEVICE_KEY: Final = "desk.device"
MS_PER_DAY: Final = 86_400_000
CERTIFIED_DAYS: Final = 400


class Desk:
    """The office's own recording device: writes through `recorder`, reads through `store`."""

    def __init__(self, store: Store, header: Header, recorder: Recorder) -> None:
        self.store = store
        self.header = header
        self.recorder = recorder

    def fold(self, *, private: bool = False) -> Fold:
        """The facts of the record now; with private parts only where the reader may see them."""
        return self.store.fold(private=private)

    def certified_at(self, moment: Moment) -> bool:
        """Whether a certificate in the record covers this desk at `moment`."""
        trust = Trust(self.header, self.store.events.of_kinds(DeviceCertified.kind))
        return any(
            held.valid_from_utc_ms <= moment.utc_ms <= held.valid_to_utc_ms
            for held in trust.certificates.get(self.recorder.device, ())
        )

    def certify(
        self,
        keyring: Keyring,
        *,
        device: str,
        public_key: str,
        scope: str,
        valid_from_utc_ms: int,
        valid_to_utc_ms: int,
        people: tuple[Person, ...],
        moment: Moment,
    ) -> Signed:
        """Certify a device with the office key and record it; scope is ``office`` or a site id.

        Raises ValueError when the office key is not on this computer.
        """
        office = keyring.load(OFFICE_KEY)
        if office is None:
            raise ValueError(f"{keyring.path(OFFICE_KEY)} must hold the office key to certify a device")
        certificate = certify(
            self.header,
            office,
            device=device,
            public_key=public_key,
            scope=scope,
            valid_from_utc_ms=valid_from_utc_ms,
            valid_to_utc_ms=valid_to_utc_ms,
        )
        return self.recorder.record(certificate, subject=device, people=people, moment=moment)

    def certify_itself(self, keyring: Keyring, people: tuple[Person, ...], moment: Moment) -> Signed:
        """This desk's certificate, from `moment` for 400 days, as an event that the desk signs."""
        key = keyring.load(DESK_KEY)
        if key is None:
            raise ValueError(f"{keyring.path(DESK_KEY)} must hold this computer's key")
        return self.certify(
            keyring,
            device=self.recorder.device,
            public_key=public_hex(key),
            scope=OFFICE_SCOPE,
            valid_from_utc_ms=moment.utc_ms,
            valid_to_utc_ms=moment.utc_ms + CERTIFIED_DAYS * MS_PER_DAY,
            people=people,
            moment=moment,
        )

    def redact(self, event: Signed, *, reason: str, people: tuple[Person, ...], moment: Moment) -> Signed:
        """Delete the private part of an event, and record that, by whom and why.

        The event, its signature and every head stay as they are. Raises ValueError when the event
        has no private part here. Copies made before are beyond reach.
        """
        digest = event.event.private
        if self.store.sides.all().get(digest) is None:
            raise ValueError(f"event {event.id[:12]} has no private part here to redact")
        said = self.recorder.record(
            SideRedacted(digest=digest),
            subject=event.event.subject,
            site=event.event.site,
            day=event.event.day,
            people=people,
            moment=moment,
            after=(event.id,),
            private=Reason(reason=reason),
        )
        self.store.sides.redact(digest, moment.utc_ms)
        return said

    def close(self) -> None:
        """Close the store."""
        self.store.close()


def device_of(public_key: str) -> str:
    """The id of a desk by its public key, so that two computers never share one."""
    return f"desk/office-{public_key[:12]}"


def begin_desk(
    folder: Path,
    *,
    county: str,
    election: str,
    practice: bool,
    people: tuple[Person, ...],
    moment: Moment,
    office_key: Ed25519PrivateKey | None = None,
    desk_key: Ed25519PrivateKey | None = None,
    device: str = DESK_DEVICE,
) -> Desk:
    """Begin the record of a county folder: keys, header, and the desk's certificate as first event.

    A folder that has a record already is opened instead; it must be of the same county,
    election and practice flag (ValueError). Keys may be given (a demo with fixed keys); else made.
    It may be called again after an interruption: each step is done once. Where `moment` lies
    outside the desk's certificates and the office key is here, the desk is certified anew, with
    the same key, by an event of its own.
    """
    keyring = Keyring(folder)
    with open_store(folder) as store:
        kept = store.header()
        if kept is None:
            office = keyring.load(OFFICE_KEY) or keyring.create(OFFICE_KEY, office_key)
            if keyring.load(DESK_KEY) is None:
                keyring.create(DESK_KEY, desk_key)
            store.settings.set_once(DEVICE_KEY, device.encode())
            kept = store.begin_record(
                Header(
                    county=county,
                    election=election,
                    practice=practice,
                    office_key=public_hex(office),
                    created_utc_ms=moment.utc_ms,
                )
            )
        if (kept.county, kept.election, kept.practice) != (county, election, practice):
            raise ValueError(
                f"{folder} holds the record of {kept.county}, {kept.election}"
                f"{' (practice)' if kept.practice else ''}; use another folder for {county}, {election}"
            )
    desk = open_desk(folder)
    if not desk.certified_at(moment) and keyring.load(OFFICE_KEY) is not None:
        desk.certify_itself(keyring, people, moment)
    return desk


def open_desk(folder: Path) -> Desk:
    """Open the record of a county folder for writing; raises ValueError saying what is not there.

    Raises `Refusal` where the store is older than what this computer's key has signed.
    """
    keyring = Keyring(folder)
    key = keyring.load(DESK_KEY)
    if key is None:
        raise ValueError(
            f"{keyring.path(DESK_KEY)} must hold this computer's key; on a computer without it the "
            "record can be read, checked and exported, not written; after a restore, admit it by: "
            f"pollstead restore admit {folder} --by PERSON"
        )
    store = open_store(folder)
    header, device = store.header(), store.settings.get(DEVICE_KEY)
    if header is None or device is None:
        store.close()
        raise ValueError(f"{folder} has no record yet; begin one first")
    older = older_store(store, keyring, device.decode())
    if older is not None:
        store.close()
        raise Refusal(older, what_to_do(folder))
    journal = MarkedJournal(store, mark_path(keyring))
    return Desk(store, header, Recorder(header, device.decode(), key, journal))
