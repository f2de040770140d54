"""Certify this computer in a folder that was restored from a copy, with the key of the office."""

from __future__ import annotations

from pathlib import Path

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import load_pem_private_key

from pollstead.election.words import N_
from pollstead.record.event import Person, Signed
from pollstead.record.header import Header
from pollstead.record.keys import OFFICE_SCOPE, Trust, certify, public_hex
from pollstead.record.kinds.offices import DeviceCertified
from pollstead.record.write import Moment, Recorder
from pollstead.store.desk import CERTIFIED_DAYS, DESK_KEY, DEVICE_KEY, MS_PER_DAY, OFFICE_KEY
from pollstead.store.keyring import Keyring
from pollstead.store.opening import Store, open_store
from pollstead.store.refusal import refusal


def read_office_key(path: Path) -> Ed25519PrivateKey:
    """The private key in a PEM file; raises `Refusal` when the file holds something else."""
    try:
        key = load_pem_private_key(path.read_bytes(), password=None)
    except (OSError, ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise refusal(N_("{file} cannot be read as a key: {why}"), file=str(path), why=str(error)) from error
    if not isinstance(key, Ed25519PrivateKey):
        raise refusal(N_("{file} holds a key of another sort than the office's."), file=str(path))
    return key


def certify_restored(
    folder: Path,
    *,
    people: tuple[Person, ...],
    moment: Moment,
    office_key: Ed25519PrivateKey | None = None,
) -> Signed:
    """Give this computer a key, an id and a certificate in a restored folder; its first event.

    The office's key is the one given, which is not kept here, or else the one that came with the
    copy. May be called again after an interruption. Raises `Refusal` when there is no office key,
    or it is of another record, or this computer is certified already.
    """
    keyring = Keyring(folder)
    with open_store(folder, create=False) as store:
        header = store.header()
        if header is None:
            raise refusal(
                N_("{folder} has no record yet, so no computer needs to be admitted."), folder=str(folder)
            )
        device = _device(store, keyring)
        if device is not None and _certified(store, header, device):
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
        key = keyring.load(DESK_KEY) or keyring.create(DESK_KEY)
        # From the key, so that two folders restored from one copy never share an id.
        device = f"desk/office-{public_hex(key)[:12]}"
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
        return Recorder(header, device, key, store.events).record(
            certificate, subject=device, people=people, moment=moment
        )


def _device(store: Store, keyring: Keyring) -> str | None:
    said = store.settings.get(DEVICE_KEY)
    return said.decode() if said and keyring.load(DESK_KEY) is not None else None


def _certified(store: Store, header: Header, device: str) -> bool:
    return device in Trust(header, store.events.of_kinds(DeviceCertified.kind)).certificates
