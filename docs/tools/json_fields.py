"""What docs/formats/json.md says of each command's JSON, and how a printed value differs from it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from found import DOCS

PAGE = DOCS / "formats" / "json.md"
_SECTION = re.compile(r"^## pollstead (.+?) --json\n(.*?)(?=^## |\Z)", re.DOTALL | re.MULTILINE)
_FIELD = re.compile(r"^\| `([^`]+)` \| ([^|]+?) \| ([^|]+?) \|$", re.MULTILINE)
_TYPES = {str: "text", bool: "yes or no", int: "number", type(None): "null"}
EMPTY = "empty"


def documented() -> dict[str, dict[str, str]]:
    """For each command as the page writes it, its fields with their types."""
    text = PAGE.read_text(encoding="utf-8")
    return {
        found[1]: {name: kind for name, kind, _ in _FIELD.findall(found[2])}
        for found in _SECTION.finditer(text)
    }


def leaves(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """(path, type) of everything in a JSON value that holds nothing further; an empty list is ``empty``."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for inner in value:
            yield from leaves(inner, f"{path}[]")
        if not value:
            yield f"{path}[]", EMPTY
    else:
        yield path, _TYPES.get(type(value), type(value).__name__)


def fits(path: str, kind: str, fields: dict[str, str]) -> bool:
    """Whether the page names this path with this type."""
    if kind == EMPTY:
        return any(name == path or name.startswith((f"{path}.", f"{path}[")) for name in fields)
    told = fields.get(path, "")
    return told == kind or kind in told.split(" or ")


def differences(printed: Any, fields: dict[str, str]) -> list[str]:
    """Fields printed that the page lacks or gives another type, and fields of the page not printed.

    What stands below an empty list cannot be printed and is no difference.
    """
    found = set(leaves(printed))
    unknown = [f"{path} ({kind}) is not on the page" for path, kind in found if not fits(path, kind, fields)]
    seen = {path for path, _ in found}
    empty = {path for path, kind in found if kind == EMPTY}
    gone = [
        f"{name} is not printed"
        for name in fields
        if name not in seen
        and not any(path.startswith(f"{name}.") for path in seen)
        and not any(name.startswith((f"{path}.", f"{path}[")) for path in empty)
    ]
    return sorted(unknown + gone)
