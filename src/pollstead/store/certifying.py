"""Certify this computer in a folder that was restored from a copy, with the key of the office."""

from __future__ import annotations

from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from pollstead.election.words import N_
from pollstead.record.event import Person, Signed
from pollstead.record.header import Header
from pollstead.record.keys import OFFICE_SCOPE, Trust, certify, public_hex
from pollstead.record.kinds.offices import DeviceCertified
from pollstead.record.write import Moment, Recorder
from pollstead.store.copy_state import forget_copies
from pollstead.store.desk import CERTIFIED_DAYS, DESK_KEY, DEVICE_KEY, MS_PER_DAY, OFFICE_KEY, device_of
from pollstead.store.high_water import MarkedJournal, mark_path, older_store
from pollstead.store.keyring import Keyring, read_key
from pollstead.store.opening import Store, open_store
from pollstead.store.refusal import Refusal, refusal


def read_office_key(path: Path) -> Ed25519PrivateKey:
    """The private key in a PEM file; raises `Refusal` when the file holds something else."""
    try:
        return read_key(path)
    except Refusal:
        raise
    except (OSError, ValueError) as error:
        raise refusal(N_("{file} cannot be read as a key: {why}"), file=str(path), why=str(error)) from error


def certify_restored(
    folder: Path,
    *,
    people: tuple[Person, ...],
    moment: Moment,
    office_key: Ed25519PrivateKey | None = None,
) -> Signed:
    """Give this computer a key, an id and a certificate in a restored folder; its first event.

    The office's key is the one given, which is not kept here, or else the one that came with the
    copy. Where the store is older than what this computer's key has signed, the key is put aside
    and a new one made. May be called again after an interruption. Raises `Refusal` when there is
    no office key, or it is of another record, or this computer is certified already.
    """
    keyring = Keyring(folder)
    with open_store(folder, create=False) as store:
        header = store.header()
        if header is None:
            raise refusal(
                N_("{folder} has no record yet, so no computer needs to be admitted."), folder=str(folder)
            )
        device = _device(store, keyring)
        older = device is not None and older_store(store, keyring, device) is not None
        if device is not None and _certified(store, header, device) and not older:
            raise refusal(N_("This computer is admitted already, as {device}."), device=device)
        office = keyring.load(OFFICE_KEY) if office_key is None else office_key
        if office is None:
            raise refusal(
                N_(
                    "The key of the office is not here. Whoever keeps it must admit this computer, by: "
                    "pollstead restore admit {folder} --by PERSON --office-key FILE"
                ),
                folder=str(folder),
            )
        if public_hex(office) != header.office_key:
            raise refusal(
                N_("That key is not the one of the office of {county}, {election}."),
                county=header.county,
                election=header.election,
            )
        if older:
            # The key that counted further is kept aside and never signs again. Its copies are another
            # folder's from now on: this one goes a way of its own.
            keyring.retire(DESK_KEY)
            forget_copies(store)
        key = keyring.load(DESK_KEY) or keyring.create(DESK_KEY)
        # From the key, so that two folders restored from one copy never share an id.
        device = device_of(public_hex(key))
        store.settings.set(DEVICE_KEY, device.encode())
        certificate = certify(
            header,
            office,
            device=device,
            public_key=public_hex(key),
            scope=OFFICE_SCOPE,
            valid_from_utc_ms=moment.utc_ms,
            valid_to_utc_ms=moment.utc_ms + CERTIFIED_DAYS * MS_PER_DAY,
        )
        return Recorder(header, device, key, MarkedJournal(store, mark_path(keyring))).record(
            certificate, subject=device, people=people, moment=moment
        )


def _device(store: Store, keyring: Keyring) -> str | None:
    said = store.settings.get(DEVICE_KEY)
    return said.decode() if said and keyring.load(DESK_KEY) is not None else None


def _certified(store: Store, header: Header, device: str) -> bool:
    return device in Trust(header, store.events.of_kinds(DeviceCertified.kind)).certificates
