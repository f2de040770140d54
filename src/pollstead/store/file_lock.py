"""A lock on an open file that ends with the process that holds it, whichever way that process ends."""

from __future__ import annotations

import os


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
