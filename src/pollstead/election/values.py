"""The base of every value: deeply frozen, checked when it is made."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec

if TYPE_CHECKING:
    import numpy as np


class Value(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A fact, a term or a result that never changes once made.

    Write ``class X(Value, frozen=True, kw_only=True)``: msgspec applies ``kw_only`` to each class's own
    fields only. Fields hold text, whole numbers, truth values, dates, tuples, enumerations, other values, or
    read-only arrays; a change is a new value (``msgspec.structs.replace``).
    """


def frozen_array(values: Any, dtype: str) -> np.ndarray[Any, Any]:
    """Copy `values` into a read-only, C-ordered array of `dtype`, for a field of a `Value`."""
    import numpy as np

    array = np.array(values, dtype=dtype, order="C", copy=True)
    array.setflags(write=False)
    return array


def require(truth: bool, message: str) -> None:
    """Raise `ValueError` with `message` unless `truth` holds; used by ``__post_init__`` checks."""
    if not truth:
        raise ValueError(message)


def require_unique(items: tuple[str, ...], what: str) -> None:
    """Raise `ValueError` naming the first item of `what` that stands twice."""
    seen: set[str] = set()
    for item in items:
        if item in seen:
            raise ValueError(f"{what} must be unique, got {item!r} twice")
        seen.add(item)
