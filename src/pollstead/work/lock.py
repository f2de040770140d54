"""A lock that ends with the process that holds it, whichever way that process ends.

It is the one sign that a worker lives: a job that stands as running while nobody holds the lock was
interrupted. No clock and no process number is asked.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

LOCK_NAME: Final = ".pollstead-worker.lock"


def try_lock(handle: int) -> bool:
    """Take the lock on an open file; False where another process (or another handle) holds it."""
    if os.name == "nt":  # pragma: no cover - not tried on Windows
        import msvcrt

        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        except OSError:
            return False
        return True
    import fcntl

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


@contextlib.contextmanager
def worker_lock(folder: Path) -> Iterator[bool]:
    """Hold the folder's worker lock for a block; gives False, and holds nothing, where another does."""
    handle = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        yield try_lock(handle)
    finally:
        os.close(handle)
