"""One copy of a county folder at a time, by a lock that ends with the process that holds it."""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from pollstead.store.file_lock import try_lock

LOCK_NAME: Final = ".pollstead-copy.lock"


@contextlib.contextmanager
def one_copy_at_a_time(folder: Path) -> Iterator[None]:
    """Hold the folder's copy lock for a block; waits for a copy that another process makes."""
    handle = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        if os.name == "nt":  # pragma: no cover - not tried on Windows
            while not try_lock(handle):
                time.sleep(0.2)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


@contextlib.contextmanager
def held_or_left(path: Path) -> Iterator[bool]:
    """Hold the lock file `path` for a block where nobody does; False where its holder is at work.

    So a folder that a killed program left half made can be told from one that is being made.
    """
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        yield try_lock(handle)
    finally:
        os.close(handle)
