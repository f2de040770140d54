"""People's names, read once for a whole page: a page of entries names hundreds of them."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from contextvars import ContextVar

_NAMES: ContextVar[dict[object, dict[str, str]] | None] = ContextVar("names", default=None)


@contextlib.contextmanager
def names_read_once() -> Iterator[None]:
    """Within this, the names of a folder are read once; outside, each time that one is asked for."""
    token = _NAMES.set({})
    try:
        yield
    finally:
        _NAMES.reset(token)


def kept_names() -> dict[object, dict[str, str]] | None:
    """What was read within, by folder: the name of each person's id; None outside."""
    return _NAMES.get()
