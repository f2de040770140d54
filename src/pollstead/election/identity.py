"""Ids: text that is never used again for another thing.

``site/S01`` · ``station/S01/check-in/3`` · ``device/scanner/0012`` · ``closure/scanner/0012/lid`` ·
``seal/SERIES/0048211`` · ``sheet/...`` · ``person/P012``.
"""

from __future__ import annotations

import re

_PART = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
KINDS = ("site", "station", "device", "closure", "seal", "sheet", "person", "precinct", "day", "cart")

# Characters that people and poor print confuse: letter O and zero, letters I and L and one, and
# the pairs B/8, S/5, Z/2. Common practice, no source; varies by county.
_LOOK_ALIKE = str.maketrans({"O": "0", "Q": "0", "I": "1", "L": "1", "B": "8", "S": "5", "Z": "2"})


def make_id(kind: str, *parts: str) -> str:
    """Join `kind` and `parts` into an id; raises ValueError naming the part that does not fit."""
    if kind not in KINDS:
        raise ValueError(f"id kind must be one of {', '.join(KINDS)}, got {kind!r}")
    if not parts:
        raise ValueError(f"an id of kind {kind!r} needs at least one part")
    for part in parts:
        if not _PART.fullmatch(part):
            raise ValueError(
                f"an id part must be letters, digits, dot, dash or underscore (1 to 64), got {part!r}"
            )
    return "/".join((kind, *parts))


def split_id(text: str) -> tuple[str, ...]:
    """The kind and parts of an id; raises ValueError when `text` is not one."""
    kind, *parts = text.split("/")
    make_id(kind, *parts)
    return (kind, *parts)


def require_part(text: str, what: str) -> None:
    """Raise ValueError naming `what` unless `text` can be one part of an id."""
    if not _PART.fullmatch(text):
        raise ValueError(
            f"{what} must be letters, digits, dot, dash or underscore, without slash or blank, got {text!r}"
        )


def is_id(text: str) -> bool:
    """Whether `text` is a well-formed id."""
    try:
        split_id(text)
    except ValueError:
        return False
    return True


def look_alike_key(text: str) -> str:
    """A key that is equal for serials which people would confuse (``O`` for zero, ``I`` for one)."""
    return text.upper().translate(_LOOK_ALIKE)
