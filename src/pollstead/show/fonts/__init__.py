"""The typefaces that ship with the program, and which characters they hold."""

from __future__ import annotations

import functools
import importlib.resources
import struct
from importlib.resources.abc import Traversable

FAMILY = "Public Sans"
_NO_GLYPH = frozenset("\n\t\u2066\u2067\u2068\u2069")
FILES = ("PublicSans-Regular.ttf", "PublicSans-Bold.ttf", "PublicSans-Italic.ttf")


def folder() -> Traversable:
    """Where the font files are."""
    return importlib.resources.files("pollstead.show.fonts")


@functools.cache
def covered(file: str) -> frozenset[int]:
    """The Unicode code points for which a font file has a glyph.

    Reads the ``cmap`` table, formats 4 and 12 (OpenType specification 1.9, chapter cmap). Raises
    ValueError when the file has no Unicode character map of these formats.
    """
    data = folder().joinpath(file).read_bytes()
    (tables,) = struct.unpack_from(">H", data, 4)
    for index in range(tables):
        tag, _, start, _ = struct.unpack_from(">4sIII", data, 12 + 16 * index)
        if tag == b"cmap":
            return _character_map(data, start, file)
    raise ValueError(f"{file} has no cmap table")


def _character_map(data: bytes, start: int, file: str) -> frozenset[int]:
    (count,) = struct.unpack_from(">H", data, start + 2)
    found: set[int] = set()
    for index in range(count):
        platform, encoding, offset = struct.unpack_from(">HHI", data, start + 4 + 8 * index)
        if (platform, encoding) not in {(0, 3), (0, 4), (3, 1), (3, 10)}:
            continue
        (kind,) = struct.unpack_from(">H", data, start + offset)
        if kind == 4:
            found |= _format_4(data, start + offset)
        elif kind == 12:
            (groups,) = struct.unpack_from(">I", data, start + offset + 12)
            for group in range(groups):
                first, last, _ = struct.unpack_from(">III", data, start + offset + 16 + 12 * group)
                found.update(range(first, last + 1))
    if not found:
        raise ValueError(f"{file} has no Unicode character map of format 4 or 12")
    return frozenset(found)


def _format_4(data: bytes, start: int) -> set[int]:
    segments = struct.unpack_from(">H", data, start + 6)[0] // 2
    ends = struct.unpack_from(f">{segments}H", data, start + 14)
    starts = struct.unpack_from(f">{segments}H", data, start + 16 + 2 * segments)
    deltas = struct.unpack_from(f">{segments}H", data, start + 16 + 4 * segments)
    offsets_at = start + 16 + 6 * segments
    offsets = struct.unpack_from(f">{segments}H", data, offsets_at)
    found: set[int] = set()
    for index, (first, last, delta, offset) in enumerate(zip(starts, ends, deltas, offsets, strict=True)):
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code
            if offset:
                place = offsets_at + 2 * index + offset + 2 * (code - first)
                (glyph,) = struct.unpack_from(">H", data, place)
                if not glyph:
                    continue
            if (glyph + delta) % 0x10000:
                found.add(code)
    return found


@functools.cache
def _held() -> frozenset[int]:
    return frozenset.intersection(*(covered(file) for file in FILES))


def missing(text: str) -> tuple[str, ...]:
    """The characters of `text` that not every shipped weight holds, in order of code point.

    Marks that only steer the direction of text need no glyph.
    """
    held = _held()
    return tuple(sorted(c for c in set(text) if c not in _NO_GLYPH and ord(c) not in held))


_MOST_NAMED = 12


def named(letters: tuple[str, ...]) -> str:
    """Letters as a reader finds them: each with its code point; the first dozen and how many more."""
    told = " ".join(f"{c} (U+{ord(c):04X})" for c in letters[:_MOST_NAMED])
    more = len(letters) - _MOST_NAMED
    return f"{told} +{more}" if more > 0 else told
