"""One byte string for one JSON value (RFC 8785), so that a digest can stand for the value.

Pure: no file, no clock. `canonical_bytes` is a complete canonicaliser: numbers as ECMAScript writes
them (RFC 8785 section 3.2.2.3), keys in the order of their UTF-16 code units (3.2.3), the
escapes of 3.2.2.2, UTF-8 out. Snapshots, plans and events all take their digests from here.
"""

from __future__ import annotations

import functools
import hashlib
import json
import json.encoder
import math
import re
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
    quick = _quickly(value)
    if quick is not None:
        return quick
    out: list[str] = []
    _write(value, out, "$")
    try:
        return "".join(out).encode("utf-8")
    except UnicodeEncodeError as error:
        raise ValueError(
            f"text must be Unicode without lone surrogates, found U+{ord(error.object[error.start]):04X}"
        ) from error


def canonical_object(fields: dict[str, Any]) -> bytes:
    """As `canonical_bytes`, for plain JSON whose keys are all known to be text: several times as fast.

    Written by the encoder in C; where it might write something otherwise, the long way is taken.
    """
    try:
        data = _plain_encoder.encode(fields).encode("utf-8")
    except (TypeError, ValueError):
        return canonical_bytes(fields)  # names what is wrong and where
    if _NUMBER_TO_LOOK_AT.search(data) or not _keys_in_order(data):
        return canonical_bytes(fields)
    return data


_plain_encoder = json.JSONEncoder(
    ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False, check_circular=False
)


def _keys_in_order(data: bytes) -> bool:
    """Whether the order of code points, by which keys were sorted, is that of UTF-16 for all that is here."""
    return data.isascii() or not _ORDERED_OTHERWISE.search(data.decode("utf-8"))


# A number after what can stand before one, that is no whole number or may lie beyond 2^53 - 1.
_NUMBER_TO_LOOK_AT = re.compile(rb"[:,\[]-?\d+(?:[.eE]|(?<=\d{16}))")
# From U+E000 on, the order of code points and that of UTF-16 code units are not the same.
_ORDERED_OTHERWISE = re.compile("[\ue000-\U0010ffff]")


def _quickly(value: Any) -> bytes | None:
    """The same bytes from the encoder in C, forty times as fast; None where it might write them otherwise.

    Taken only for a `Value` whose type can hold no float, since that encoder writes some floats otherwise;
    what it gives is looked over for large numbers and for letters whose order differs. A mapping inside is
    written by the long way.
    """
    if not isinstance(value, msgspec.Struct) or not _whole_numbers_only(type(value)):
        return None
    try:
        data = msgspec.json.encode(value, enc_hook=_plain_quickly, order="sorted")
        if _NUMBER_TO_LOOK_AT.search(data):
            return None
        if not _keys_in_order(data):
            return None
    except (TypeError, ValueError, NotImplementedError, OverflowError):
        return None  # The long way names what is wrong and where.
    return data


def _plain_quickly(value: Any) -> Any:
    """As `_plain`; a mapping comes as its canonical bytes."""
    if isinstance(value, Mapping):
        return msgspec.Raw(canonical_bytes(dict(value)))
    return _plain(value)


@functools.cache
def _whole_numbers_only(kind: type) -> bool:
    """Whether a value type and all types inside can hold no float, no mapping and nothing of any type."""
    seen: set[type] = set()

    def look(found: msgspec.inspect.Type) -> bool:
        if isinstance(found, msgspec.inspect.StructType):
            if found.cls in seen:
                return True
            seen.add(found.cls)
            return all(look(field.type) for field in found.fields) and not found.array_like
        if isinstance(found, msgspec.inspect.UnionType):
            return all(map(look, found.types))
        if isinstance(found, msgspec.inspect.TupleType):
            return all(map(look, found.item_types))
        if isinstance(found, (msgspec.inspect.VarTupleType, msgspec.inspect.ListType)):
            return look(found.item_type)
        if isinstance(found, msgspec.inspect.Metadata):
            return look(found.type)
        return isinstance(found, _PLAIN_TYPES)

    return look(msgspec.inspect.type_info(kind))


_PLAIN_TYPES = (
    msgspec.inspect.NoneType,
    msgspec.inspect.BoolType,
    msgspec.inspect.IntType,
    msgspec.inspect.StrType,
    msgspec.inspect.DateType,
    msgspec.inspect.EnumType,
    msgspec.inspect.LiteralType,
    msgspec.inspect.CustomType,
)


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
