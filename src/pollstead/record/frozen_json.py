"""JSON objects that cannot change, for the free part of an event."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container, ItemsView, Iterator, KeysView, Mapping, ValuesView
from typing import Any, final

from pollstead.election.canonical import LARGEST_INT

KEY = re.compile(r"[a-z0-9_]{1,64}")
DEEPEST = 8


@final
class FrozenObject(Mapping[str, Any]):
    """An immutable JSON object: keys sorted, lists as tuples, objects inside frozen too.

    It holds only what an event may hold: null, truth values, whole numbers within 2^53 - 1,
    text in Unicode normal form C, lists and objects with keys of ``[a-z0-9_]``. Raises ValueError
    naming the place of anything else, a number with a fraction among them.
    """

    __slots__ = ("_items",)

    def __init__(self, mapping: Mapping[str, Any] | None = None) -> None:
        source = {} if mapping is None else mapping
        frozen = {key: _freeze(source[key], f"body.{key}", 1) for key in sorted(_checked_keys(source))}
        object.__setattr__(self, "_items", frozen)

    def __setattr__(self, name: str, value: Any) -> None:
        raise AttributeError("a FrozenObject never changes; make a new one")

    def __getitem__(self, key: str) -> Any:
        return self._items[key]  # type: ignore[attr-defined]

    def __iter__(self) -> Iterator[str]:
        return iter(self._items)  # type: ignore[attr-defined]

    def __len__(self) -> int:
        return len(self._items)  # type: ignore[attr-defined]

    # The views and looks of Mapping go through the three methods above, ten times as slowly.

    def __contains__(self, key: object) -> bool:
        return key in self._items  # type: ignore[attr-defined]

    def keys(self) -> KeysView[str]:
        """The keys, in order."""
        return self._items.keys()  # type: ignore[attr-defined,no-any-return]

    def values(self) -> ValuesView[Any]:
        """The values, in the order of their keys."""
        return self._items.values()  # type: ignore[attr-defined,no-any-return]

    def items(self) -> ItemsView[str, Any]:
        """Keys with their values, in order."""
        return self._items.items()  # type: ignore[attr-defined,no-any-return]

    def __hash__(self) -> int:
        return hash(tuple(self._items.items()))  # type: ignore[attr-defined]

    def __eq__(self, other: object) -> bool:
        # True equals 1 in Python but not in JSON, so types are compared too.
        return isinstance(other, FrozenObject) and _typed(self) == _typed(other)

    def __repr__(self) -> str:
        return f"FrozenObject({self.thawed()!r})"

    def without(self, names: Container[str]) -> FrozenObject:
        """The same object without some of its keys; what it holds was looked at when it was made."""
        made = FrozenObject()
        for key, value in self.items():
            if key not in names:
                made._items[key] = value  # type: ignore[attr-defined]
        return made

    def thawed(self) -> dict[str, Any]:
        """A fresh, plain dictionary with lists, for printing and for encoders."""
        return {key: _thaw(value) for key, value in self.items()}


def _typed(value: Any) -> Any:
    if isinstance(value, FrozenObject):
        return tuple((key, _typed(inner)) for key, inner in value.items())
    if isinstance(value, tuple):
        return tuple(_typed(inner) for inner in value)
    return (type(value).__name__, value)


def _checked_keys(mapping: Mapping[Any, Any]) -> list[str]:
    for key in mapping:
        if not isinstance(key, str) or not KEY.fullmatch(key):
            raise ValueError(f"a key must be 1 to 64 of a-z, 0-9 and _, got {key!r}")
    return list(mapping)


def _freeze(value: Any, place: str, depth: int) -> Any:
    if depth > DEEPEST:
        raise ValueError(f"an event nests at most {DEEPEST} levels, {place} is deeper")
    if value is None or value is True or value is False:
        return value
    if type(value) is str:  # nearly everything: the general cases below cost several looks at its type
        check_text(value, place)
        return value
    if isinstance(value, int):
        if not -LARGEST_INT <= value <= LARGEST_INT:
            raise ValueError(f"{place} must be within +-(2^53 - 1), got {value}")
        return int(value)
    if isinstance(value, float):
        raise ValueError(f"{place} must be a whole number of a smaller unit, got {value!r}")
    if isinstance(value, str):
        check_text(value, place)
        return str(value)
    if isinstance(value, (list, tuple)):
        return tuple(_freeze(item, f"{place}[{index}]", depth + 1) for index, item in enumerate(value))
    if isinstance(value, FrozenObject):
        return value
    if isinstance(value, Mapping):
        frozen = {k: _freeze(value[k], f"{place}.{k}", depth + 1) for k in _checked_keys(value)}
        return FrozenObject(frozen)
    raise ValueError(f"{place} must be JSON, got a {type(value).__name__}")


def check_text(text: str, place: str) -> None:
    """Raise ValueError unless `text` is well-formed Unicode in normal form C."""
    if text.isascii():
        return
    if any("\ud800" <= character <= "\udfff" for character in text):
        raise ValueError(f"{place} holds half of a surrogate pair; type the text again")
    if not unicodedata.is_normalized("NFC", text):
        raise ValueError(f"{place} must be in Unicode normal form C; normalise it before recording")


def _thaw(value: Any) -> Any:
    # By its exact type: what is frozen holds no other, and a mapping's isinstance asks Python code.
    kind = type(value)
    if kind is FrozenObject:
        return value.thawed()
    if kind is tuple:
        return [_thaw(item) for item in value]
    return value
