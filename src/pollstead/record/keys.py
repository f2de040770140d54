"""Keys: the office key signs device certificates; each device key signs its own events.

Signing uses Ed25519 (RFC 8032) from the ``cryptography`` package. The office key never signs an
event; it signs statements, which travel in the bodies of ``key.*`` events, so that a record
carries all that is needed to check it but the one office key named in its header.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable
from typing import Any, Final

import msgspec
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from pollstead.election.canonical import canonical_bytes
from pollstead.election.values import Value, require
from pollstead.election.words import N_
from pollstead.record.event import Event, Signed, signed_bytes
from pollstead.record.header import Header
from pollstead.record.kinds.offices import DeviceCertified, DeviceRevoked
from pollstead.record.kinds.registry import body_of
from pollstead.record.problem import Problem, Trouble, trouble

OFFICE_CONTEXT: Final = b"pollstead/office/v1\x00"
OFFICE_SCOPE: Final = "office"
# A device says itself how far its clock may be off, so its word must not carry it far beyond its time.
LARGEST_SLACK_MS: Final = 3_600_000
OFFICE_WORDS: Final = frozenset(
    {"expected", "facts", "key", "mapping", "packet", "plan", "rule", "side", "value"}
)
"""First words of the kinds that only a device of the office may sign: what a site must not decide."""


def public_hex(key: Ed25519PrivateKey) -> str:
    """The public half of a key as 64 hexadecimal digits."""
    return key.public_key().public_bytes_raw().hex()


@functools.lru_cache(maxsize=1024)
def _public_key(hexadecimal: str) -> Ed25519PublicKey:
    return Ed25519PublicKey.from_public_bytes(bytes.fromhex(hexadecimal))


def signature_fits(public_key: str, signature: bytes, data: bytes) -> bool:
    """Whether `signature` is that of the holder of `public_key` (hexadecimal) over `data`."""
    try:
        _public_key(public_key).verify(signature, data)
    except (InvalidSignature, ValueError):
        return False
    return True


def belongs_to_office(event: Event) -> bool:
    """Whether only a device of the office may sign the event: by its kind, or by what it corrects."""
    kinds = (event.kind, str(event.body.get("of_kind", "")))
    return any(kind.partition(".")[0] in OFFICE_WORDS for kind in kinds)


def statement_bytes(header: Header, kind: str, device: str, fields: dict[str, Any]) -> bytes:
    """What the office key signs: context, record id, and the statement's canonical bytes.

    The statement is the event's body without ``office_signature``, with ``device`` and ``kind``.
    """
    statement = {**fields, "device": device, "kind": kind}
    statement.pop("office_signature", None)
    return OFFICE_CONTEXT + bytes.fromhex(header.record_id) + canonical_bytes(statement)


def certify(
    header: Header,
    office_key: Ed25519PrivateKey,
    *,
    device: str,
    public_key: str,
    scope: str,
    valid_from_utc_ms: int,
    valid_to_utc_ms: int,
) -> DeviceCertified:
    """The certificate of a recording device, signed by the office key; practice is the header's.

    Raises ValueError when `office_key` is not the key of the header, or the times are reversed.
    """
    require(
        public_hex(office_key) == header.office_key, "the office key must be the one of the record's header"
    )
    require(
        valid_from_utc_ms <= valid_to_utc_ms,
        f"valid_from_utc_ms must be <= valid_to_utc_ms, got {valid_from_utc_ms} and {valid_to_utc_ms}",
    )
    fields: dict[str, Any] = {
        "public_key": public_key,
        "scope": scope,
        "valid_from_utc_ms": valid_from_utc_ms,
        "valid_to_utc_ms": valid_to_utc_ms,
        "practice": header.practice,
    }
    signature = office_key.sign(statement_bytes(header, DeviceCertified.kind, device, fields))
    return DeviceCertified(**fields, office_signature=signature.hex())


def revoke(header: Header, office_key: Ed25519PrivateKey, *, device: str, last_n: int) -> DeviceRevoked:
    """The end of a device's key: its events after counter `last_n` do not check."""
    require(
        public_hex(office_key) == header.office_key, "the office key must be the one of the record's header"
    )
    require(last_n >= 0, f"last_n must be >= 0, got {last_n}")
    signature = office_key.sign(statement_bytes(header, DeviceRevoked.kind, device, {"last_n": last_n}))
    return DeviceRevoked(last_n=last_n, office_signature=signature.hex())


def office_signed(header: Header, event: Event, body: DeviceCertified | DeviceRevoked) -> bool:
    """Whether the office key signed the statement that the event carries."""
    fields = msgspec.to_builtins(body)
    data = statement_bytes(header, event.kind, event.subject, fields)
    return signature_fits(header.office_key, bytes.fromhex(body.office_signature), data)


class Certificate(Value, frozen=True):
    """A device's certificate as accepted from the record."""

    device: str
    public_key: str
    scope: str
    valid_from_utc_ms: int
    valid_to_utc_ms: int


class Trust:
    """The certificates and revocations of one record, and what does not check among them.

    `troubles` names certificates that the office key did not sign, that are of the other practice
    flag, or that give one device a second key. One device keeps one key; a further certificate
    with the same key extends its time or scope.
    """

    def __init__(self, header: Header, events: Iterable[Signed]) -> None:
        self.header = header
        self.certificates: dict[str, tuple[Certificate, ...]] = {}
        self.last_n: dict[str, int] = {}
        self.troubles: list[Trouble] = []
        # In order of id, so that the outcome does not depend on the order of arrival.
        for signed in sorted(events, key=lambda signed: signed.id):
            if signed.event.kind.startswith("key."):
                self._take(signed)

    def _take(self, signed: Signed) -> None:
        event, body = signed.event, body_of(signed.event)
        where: dict[str, Any] = {"event": signed.id, "device": event.device, "n": event.n}
        if not isinstance(body, (DeviceCertified, DeviceRevoked)):
            return
        if not office_signed(self.header, event, body):
            template = N_("event {event}: the office key did not sign this {kind} of {subject}")
            self.troubles.append(
                trouble(Problem.CERTIFICATE, template, kind=event.kind, subject=event.subject, **where)
            )
        elif isinstance(body, DeviceRevoked):
            self.last_n[event.subject] = min(body.last_n, self.last_n.get(event.subject, body.last_n))
        elif body.practice != self.header.practice:
            template = N_("event {event}: the certificate of {subject} is for the other of practice and real")
            self.troubles.append(trouble(Problem.PRACTICE, template, subject=event.subject, **where))
        else:
            self._add(event, body, where)

    def _add(self, event: Event, body: DeviceCertified, where: dict[str, Any]) -> None:
        held = self.certificates.get(event.subject, ())
        if held and held[0].public_key != body.public_key:
            template = N_("event {event}: {subject} is certified with two keys; a device keeps one key")
            self.troubles.append(trouble(Problem.TWO_KEYS, template, subject=event.subject, **where))
        certificate = Certificate(
            device=event.subject,
            public_key=body.public_key,
            scope=body.scope,
            valid_from_utc_ms=body.valid_from_utc_ms,
            valid_to_utc_ms=body.valid_to_utc_ms,
        )
        self.certificates[event.subject] = (*held, certificate)

    def check(self, signed: Signed, seq: int = 0) -> Trouble | None:
        """The first thing wrong with the key, signature, time, scope or counter of an event."""
        event = signed.event
        where: dict[str, Any] = {"event": signed.id, "device": event.device, "n": event.n, "seq": seq}
        held = self.certificates.get(event.device, ())
        if not held:
            return trouble(
                Problem.UNKNOWN_DEVICE,
                N_("event {event}: {device} has no certificate of this office"),
                **where,
            )
        data = signed_bytes(self.header.record_id, signed.data)
        keys = dict.fromkeys(certificate.public_key for certificate in held)
        signer = next((key for key in keys if signature_fits(key, signed.signature, data)), None)
        if signer is None:
            template = N_("event {event}: the signature is not that of {device} (its event {n})")
            return trouble(Problem.SIGNATURE, template, **where)
        held = tuple(c for c in held if c.public_key == signer)
        slack = min(event.uncertainty_ms, LARGEST_SLACK_MS)
        timely = tuple(
            c for c in held if c.valid_from_utc_ms - slack <= event.utc_ms <= c.valid_to_utc_ms + slack
        )
        if not timely:
            template = N_("event {event}: {device} was not certified at the time of its event {n}")
            return trouble(Problem.OUT_OF_TIME, template, **where)
        if not any(c.scope in (OFFICE_SCOPE, event.site) for c in timely):
            template = N_("event {event}: {device} is certified for {scope}, its event {n} is of {site}")
            scopes = ", ".join(sorted({c.scope for c in timely}))
            return trouble(
                Problem.OUT_OF_SCOPE, template, scope=scopes, site=event.site or N_("the county"), **where
            )
        if belongs_to_office(event) and all(c.scope != OFFICE_SCOPE for c in timely):
            template = N_("event {event}: {kind} belongs to the office, {device} is certified for a site")
            return trouble(Problem.OFFICE_ONLY, template, kind=event.kind, **where)
        if event.n > self.last_n.get(event.device, event.n):
            template = N_(
                "event {event}: {device} was revoked after its event {last_n}, this is its event {n}"
            )
            return trouble(Problem.REVOKED, template, last_n=self.last_n[event.device], **where)
        return None
