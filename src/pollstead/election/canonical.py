"""One byte string for one JSON value (RFC 8785), so that a digest can stand for the value.

Pure: no file, no clock. `canonical_bytes` is a complete canonicaliser: numbers as ECMAScript writes
them (RFC 8785 section 3.2.2.3), keys in the order of their UTF-16 code units (3.2.3), the
escapes of 3.2.2.2, UTF-8 out. Snapshots, plans and events all take their digests from here.
"""

from __future__ import annotations

import hashlib
import json.encoder
import math
from collections.abc import Mapping
from typing import Any, Final

import msgspec

LARGEST_INT: Final = 2**53 - 1
"""The largest whole number that every JSON reader keeps exactly (RFC 8785 section 3.1, I-JSON)."""

# The C implementation escapes exactly what RFC 8785 3.2.2.2 asks: quote, backslash, and the
# controls below U+0020, with the short forms \b \t \n \f \r and lower-case \u00xx for the rest.
_escape_text = json.encoder.encode_basestring


def canonical_bytes(value: Any) -> bytes:
    """The RFC 8785 bytes of `value`: null, truth values, numbers, text, lists, mappings, values.

    A tuple counts as a list; a `Value` counts as the mapping of its fields. Raises TypeError for
    anything else and ValueError for what JSON cannot carry exactly (a number that is not finite, a
    whole number beyond 2^53 - 1, a lone surrogate), both naming the place inside `value`.
    """
    out: list[str] = []
    _write(value, out, "$")
    try:
        return "".join(out).encode("utf-8")
    except UnicodeEncodeError as error:
        raise ValueError(
            f"text must be Unicode without lone surrogates, found U+{ord(error.object[error.start]):04X}"
        ) from error


def sha256_hex(data: bytes) -> str:
    """The SHA-256 digest of `data` as 64 lower-case hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def digest_of(value: Any) -> str:
    """The SHA-256 of the canonical bytes of `value`, in hexadecimal; raises as `canonical_bytes`.

    An array field counts as its type, shape and the digest of its little-endian bytes.
    """
    return sha256_hex(canonical_bytes(value))


def es6_number(number: float) -> str:
    """Write a finite double as ECMAScript's Number.prototype.toString does (ECMA-262, 7.1.12.1).

    Python's `repr` already gives the shortest digits that read back as the same double, which is
    what ECMAScript asks; only the placing of the point and the exponent differ. Raises ValueError
    for infinities and not-a-number.
    """
    if not math.isfinite(number):
        raise ValueError(f"a number must be finite, got {number!r}")
    if number == 0:
        return "0"  # minus zero too
    sign = "-" if number < 0 else ""
    mantissa, _, exponent_text = repr(abs(number)).partition("e")
    whole, _, fraction = mantissa.partition(".")
    if fraction == "0":
        fraction = ""
    digits = (whole + fraction).lstrip("0")
    leading_zeros = len(whole + fraction) - len(digits)
    # The value is 0.digits times ten to the power of `point`.
    point = len(whole) - leading_zeros + int(exponent_text or "0")
    digits = digits.rstrip("0")
    count = len(digits)
    if count <= point <= 21:
        return sign + digits + "0" * (point - count)
    if 0 < point <= 21:
        return sign + digits[:point] + "." + digits[point:]
    if -6 < point <= 0:
        return sign + "0." + "0" * -point + digits
    exponent = point - 1
    power = ("e+" if exponent >= 0 else "e-") + str(abs(exponent))
    return sign + digits[0] + ("." + digits[1:] if count > 1 else "") + power


def _utf16_key(key: str) -> bytes:
    return key.encode("utf-16-be", "surrogatepass")


def _write(value: Any, out: list[str], place: str) -> None:
    """Append the canonical text of `value`; `place` is the path that an error names."""
    if value is None:
        out.append("null")
    elif value is True:
        out.append("true")
    elif value is False:
        out.append("false")
    elif isinstance(value, str):
        out.append(_escape_text(value))
    elif isinstance(value, int):
        if not -LARGEST_INT <= value <= LARGEST_INT:
            raise ValueError(f"a whole number must be within +-(2^53 - 1), got {int(value)} at {place}")
        out.append(str(int(value)))
    elif isinstance(value, float):
        try:
            out.append(es6_number(value))
        except ValueError as error:
            raise ValueError(f"{error} at {place}") from error
    elif isinstance(value, (list, tuple)):
        _write_list(value, out, place)
    elif isinstance(value, Mapping):
        _write_mapping(value, out, place)
    elif isinstance(value, msgspec.Struct):
        _write(msgspec.to_builtins(value, enc_hook=_plain), out, place)
    else:
        _write(_plain(value), out, place)


def _write_list(items: list[Any] | tuple[Any, ...], out: list[str], place: str) -> None:
    out.append("[")
    for index, item in enumerate(items):
        if index:
            out.append(",")
        _write(item, out, f"{place}[{index}]")
    out.append("]")


def _write_mapping(mapping: Mapping[Any, Any], out: list[str], place: str) -> None:
    for key in mapping:
        if not isinstance(key, str):
            raise TypeError(f"a key must be text, got {key!r} at {place}")
    ascii_only = all(key.isascii() for key in mapping)
    keys = sorted(mapping) if ascii_only else sorted(mapping, key=_utf16_key)
    out.append("{")
    for index, key in enumerate(keys):
        if index:
            out.append(",")
        out.append(_escape_text(key))
        out.append(":")
        _write(mapping[key], out, f"{place}.{key}")
    out.append("}")


def _plain(value: Any) -> Any:
    """Turn an array, date, enumeration or other value into plain JSON types."""
    if isinstance(value, Mapping):
        return dict(value)
    # Recognised by its buffer, so that this module needs no array library.
    if hasattr(value, "dtype") and hasattr(value, "tobytes"):
        little = value.astype(value.dtype.newbyteorder("<"), copy=False)
        return {
            "array": str(value.dtype.name),
            "shape": list(value.shape),
            "sha256": sha256_hex(little.tobytes(order="C")),
        }
    try:
        plain = msgspec.to_builtins(value)
    except (TypeError, NotImplementedError) as error:
        raise TypeError(f"a {type(value).__name__} has no canonical form") from error
    if type(plain) is type(value):
        raise TypeError(f"a {type(value).__name__} has no canonical form")
    return plain
