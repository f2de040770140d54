"""The words of ``vectors`` on numpy arrays: slow, every place and every range checked.

The same source of ``kernel`` runs on both; this one is its debugger and its judge. Raises IndexError for a
place outside an array, OverflowError for a number that does not fit, ValueError for what is not a time.
"""

from __future__ import annotations

from typing import Any

import numpy as np

LANES = 16
_EARLIEST, _LATEST = 1 << 52, (1 << 53) - 1


def compiled(function: Any) -> Any:
    """The function as it is."""
    return function


inlined = inner = compiled


def _whole(values: Any) -> Any:
    return np.asarray(values).astype(np.int64)


def _inside(array: Any, at: int, kind: Any) -> None:
    if array.dtype != kind:
        raise TypeError(f"an array of {np.dtype(kind)} is expected, got {array.dtype}")
    if not 0 <= at <= len(array) - LANES:
        raise IndexError(f"{LANES} places from {at} on are not all inside an array of {len(array)}")


def _times(*lanes: Any) -> None:
    for one in lanes:
        if int(one.min()) < _EARLIEST or int(one.max()) > _LATEST:
            raise ValueError(
                f"a time lies from 2**52 to below 2**53, got {int(one.min())} to {int(one.max())}"
            )


def all_of(number: Any) -> Any:
    """See ``vectors``; numbers beyond 64 bits wrap as they do there."""
    return np.full(LANES, int(number) & ((1 << 64) - 1), np.uint64).view(np.int64)


def plus(a: Any, b: Any) -> Any:
    """See ``vectors``."""
    return a + b


def minus(a: Any, b: Any) -> Any:
    """See ``vectors``."""
    return a - b


def times(a: Any, b: Any) -> Any:
    """See ``vectors``."""
    return a * b


def times_32(a: Any, b: Any) -> Any:
    """See ``vectors``."""
    for one in (a, b):
        if int(one.min()) < 0 or int(one.max()) >= 1 << 32:
            raise OverflowError("numbers below 2**32 are expected")
    return a * b


def both(a: Any, b: Any) -> Any:
    """See ``vectors``."""
    return a & b


def either(a: Any, b: Any) -> Any:
    """See ``vectors``."""
    return a | b


def unlike(a: Any, b: Any) -> Any:
    """See ``vectors``."""
    return a ^ b


def _bits(count: int) -> int:
    if not 0 <= count <= 63:
        raise ValueError(f"a shift is by 0 to 63 bits, got {count}")
    return count


def up(a: Any, count: int) -> Any:
    """See ``vectors``."""
    return a << _bits(count)


def down(a: Any, count: int) -> Any:
    """See ``vectors``."""
    return (a.view(np.uint64) >> np.uint64(_bits(count))).view(np.int64)


def less(a: Any, b: Any) -> Any:
    """See ``vectors``."""
    return a < b


def same(a: Any, b: Any) -> Any:
    """See ``vectors``."""
    return a == b


def choose(choice: Any, a: Any, b: Any) -> Any:
    """See ``vectors``."""
    return np.where(choice, a, b)


def somewhere(choice: Any) -> bool:
    """See ``vectors``."""
    return bool(choice.any())


def sooner(a: Any, b: Any) -> Any:
    """See ``vectors``."""
    _times(a, b)
    return np.minimum(a, b)


def later(a: Any, b: Any) -> Any:
    """See ``vectors``."""
    _times(a, b)
    return np.maximum(a, b)


def nearest(a: Any, factor: Any) -> Any:
    """See ``vectors``."""
    if int(a.min()) < 0 or int(a.max()) >= 1 << 52:
        raise OverflowError("a number below 2**52 is expected")
    product = a.astype(np.float64) * factor.view(np.float64)
    if float(product.max()) >= 2.0**51:
        raise OverflowError("a product below 2**51 is expected")
    return (product + 2.0**52).view(np.int64) - (0x433 << 52)


def load(array: Any, at: int) -> Any:
    """See ``vectors``."""
    _inside(array, at, np.int64)
    return array[at : at + LANES].copy()


def load_real(array: Any, at: int) -> Any:
    """See ``vectors``."""
    _inside(array, at, np.float64)
    return array[at : at + LANES].copy().view(np.int64)


def load_narrow(array: Any, at: int) -> Any:
    """See ``vectors``."""
    _inside(array, at, np.int32)
    return _whole(array[at : at + LANES])


def store(array: Any, at: int, lanes: Any) -> None:
    """See ``vectors``."""
    _inside(array, at, np.int64)
    array[at : at + LANES] = lanes


def store_narrow(array: Any, at: int, lanes: Any) -> None:
    """See ``vectors``."""
    _inside(array, at, np.int32)
    if int(lanes.min()) < -(1 << 31) or int(lanes.max()) >= 1 << 31:
        raise OverflowError(f"a number of 32 bits is expected, got {int(lanes.min())} to {int(lanes.max())}")
    array[at : at + LANES] = lanes


def _places(array: Any, places: Any, kind: Any) -> Any:
    if array.dtype != kind:
        raise TypeError(f"an array of {np.dtype(kind)} is expected, got {array.dtype}")
    if int(places.min()) < 0 or int(places.max()) >= len(array):
        raise IndexError(f"places {int(places.min())} to {int(places.max())} of an array of {len(array)}")
    return array[places]


def look_up(array: Any, places: Any) -> Any:
    """See ``vectors``."""
    return _places(array, places, np.int64)


def look_up_narrow(array: Any, places: Any) -> Any:
    """See ``vectors``."""
    return _whole(_places(array, places, np.int32))


def machine() -> str:
    """No processor's vectors."""
    return "checked"
