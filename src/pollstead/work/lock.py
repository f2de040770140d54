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

from pollstead.store.file_lock import try_lock

LOCK_NAME: Final = ".pollstead-worker.lock"


@contextlib.contextmanager
def worker_lock(folder: Path) -> Iterator[bool]:
    """Hold the folder's worker lock for a block; gives False, and holds nothing, where another does."""
    handle = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        yield try_lock(handle)
    finally:
        os.close(handle)
