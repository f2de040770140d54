"""The header of a record: which county and election it is of, and whose key certifies devices."""

from __future__ import annotations

import functools
import json

import msgspec

from pollstead.election.canonical import canonical_bytes, sha256_hex
from pollstead.election.values import Value, require
from pollstead.record.event import DIGEST

HEADER_VERSION = 1


class Header(Value, frozen=True, kw_only=True):
    """What a record is about; its digest, the record id, stands in every signature.

    `office_key` is the office's Ed25519 public key (64 hexadecimal digits). A practice election
    has `practice` true, keys of its own, and so a record id of its own.
    """

    v: int = HEADER_VERSION
    county: str
    election: str
    practice: bool
    office_key: str
    created_utc_ms: int

    def __post_init__(self) -> None:
        require(self.v == HEADER_VERSION, f"the header's v must be {HEADER_VERSION}, got {self.v}")
        require(
            bool(DIGEST.fullmatch(self.office_key)),
            f"office_key must be 64 hexadecimal digits, got {self.office_key!r}",
        )
        require(bool(self.county and self.election), "a record needs its county and election")
        require(self.created_utc_ms >= 0, f"created_utc_ms must be >= 0, got {self.created_utc_ms}")

    def to_bytes(self) -> bytes:
        """The canonical bytes of the header."""
        return canonical_bytes(msgspec.to_builtins(self))

    @property
    def record_id(self) -> str:
        """The SHA-256 of the header's bytes, in hexadecimal."""
        return _record_id(self)


@functools.lru_cache(maxsize=64)
def _record_id(header: Header) -> str:
    # Asked for with each event that is signed or checked; a header never changes.
    return sha256_hex(header.to_bytes())


def read_header(data: bytes) -> Header:
    """Read a header from its canonical bytes; raises ValueError saying what does not fit."""
    try:
        header = msgspec.convert(json.loads(data), Header)
    except (UnicodeDecodeError, RecursionError, json.JSONDecodeError, msgspec.ValidationError) as error:
        raise ValueError(f"the record's header does not fit: {error}") from error
    require(header.to_bytes() == data, "the header is not in canonical form (RFC 8785)")
    return header
