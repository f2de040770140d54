"""Admit a colleague's computer from the office's own, and end the key of one that is gone."""

from __future__ import annotations

from pathlib import Path

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.record.event import Person, Signed
from pollstead.record.keys import OFFICE_SCOPE, public_hex, revoke
from pollstead.record.kinds.body import Reason
from pollstead.record.kinds.offices import DeviceCertified, DeviceRevoked
from pollstead.record.write import Moment
from pollstead.store.desk import (
    CERTIFIED_DAYS,
    DESK_KEY,
    DEVICE_KEY,
    MS_PER_DAY,
    OFFICE_KEY,
    device_of,
    open_desk,
)
from pollstead.store.keyring import Keyring
from pollstead.store.opening import open_store
from pollstead.store.refusal import refusal


class Newcomer(Value, frozen=True, kw_only=True):
    """A computer that asks to be admitted: its id, which follows from its key, and its public key."""

    device: str
    public_key: str
    admitted: bool


def this_computer(folder: Path) -> Newcomer:
    """This computer's id and public key in a folder, made once; the private half never leaves it.

    Raises `Refusal` where there is no record: the folder must be made from a copy first.
    """
    keyring = Keyring(folder)
    with open_store(folder, create=False) as store:
        header = store.header()
        if header is None:
            raise refusal(
                N_("{folder} has no record yet. Make it from a copy first: pollstead restore FROM FOLDER"),
                folder=str(folder),
            )
        key = keyring.load(DESK_KEY)
        if key is None:
            # A folder that came here without its key: whatever device wrote in it, it was another one.
            key = keyring.create(DESK_KEY)
            store.settings.set(DEVICE_KEY, device_of(public_hex(key)).encode())
        public_key = public_hex(key)
        device = store.settings.set_once(DEVICE_KEY, device_of(public_key).encode()).decode()
        held = store.events.of_kinds(DeviceCertified.kind)
        admitted = any(signed.event.subject == device for signed in held)
    return Newcomer(device=device, public_key=public_key, admitted=admitted)


def admit_other(
    folder: Path,
    *,
    public_key: str,
    people: tuple[Person, ...],
    moment: Moment,
    scope: str = OFFICE_SCOPE,
    days: int = CERTIFIED_DAYS,
) -> Signed:
    """Certify another computer by its public key; its records check from `moment` for so many days.

    `scope` is ``office`` or a site's id. Raises ValueError where the key of the office is not here.
    """
    desk = open_desk(folder)
    try:
        return desk.certify(
            Keyring(folder),
            device=device_of(public_key),
            public_key=public_key,
            scope=scope,
            valid_from_utc_ms=moment.utc_ms,
            valid_to_utc_ms=moment.utc_ms + days * MS_PER_DAY,
            people=people,
            moment=moment,
        )
    finally:
        desk.close()


def end_device(
    folder: Path, *, device: str, last_n: int, reason: str, people: tuple[Person, ...], moment: Moment
) -> Signed:
    """End a device's key: its entries after number `last_n` do not check, wherever they turn up.

    Raises `Refusal` for a device that the record does not know, for this computer itself, and
    where the key of the office is not here.
    """
    keyring = Keyring(folder)
    desk = open_desk(folder)
    try:
        known = {signed.event.subject for signed in desk.store.events.of_kinds(DeviceCertified.kind)}
        if device not in known:
            raise refusal(
                N_("The record has no device {device}. Its devices: {known}"),
                device=device,
                known=", ".join(sorted(known)),
            )
        if device == desk.recorder.device:
            raise refusal(
                N_("{device} is this computer. Admit another one first, and end this one from there."),
                device=device,
            )
        office = keyring.load(OFFICE_KEY)
        if office is None:
            raise refusal(
                N_("The key of the office is not in {folder}; only with it can a device be ended."),
                folder=str(keyring.folder),
            )
        body: DeviceRevoked = revoke(desk.header, office, device=device, last_n=last_n)
        private = Reason(reason=reason) if reason else None
        return desk.recorder.record(body, subject=device, people=people, moment=moment, private=private)
    finally:
        desk.close()
