"""One copy of a county folder at a time, by a lock that ends with the process that holds it."""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

LOCK_NAME: Final = ".pollstead-copy.lock"


@contextlib.contextmanager
def one_copy_at_a_time(folder: Path) -> Iterator[None]:
    """Hold the folder's copy lock for a block; waits for a copy that another process makes."""
    handle = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        if os.name == "nt":  # pragma: no cover - not tried on Windows
            import msvcrt

            while True:
                with contextlib.suppress(OSError):
                    msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
                    break
                time.sleep(0.2)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
