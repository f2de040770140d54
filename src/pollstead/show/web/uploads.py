"""Files that a browser sends: which route takes them, how large they may be, and how long they are held.

A file is held in memory between the page that takes it and the page that acts on it, not on the disk:
a workbook holds names and phones, and nobody would delete it.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from typing import Final

from pollstead.election.values import Value

FILE_ROUTES: Final = frozenset({"/workbook", "/scan/inventory/list", "/counts/import", "/timings"})
"""Paths whose POST sends a file (RFC 7578) instead of a plain form."""

LARGEST_FILE_BYTES: Final = 20_000_000
LARGEST_REQUEST_BYTES: Final = LARGEST_FILE_BYTES + 65_536
MOST_HELD: Final = 3


class Upload(Value, frozen=True):
    """A file as it came: its name on the sender's disk, its bytes."""

    name: str
    data: bytes


class Uploads:
    """The last few files, by the digest of their bytes."""

    def __init__(self) -> None:
        self._held: OrderedDict[str, Upload] = OrderedDict()
        self._lock = threading.Lock()

    def keep(self, upload: Upload) -> str:
        """Hold a file and give its digest; the oldest gives way."""
        digest = hashlib.sha256(upload.data).hexdigest()
        with self._lock:
            self._held[digest] = upload
            self._held.move_to_end(digest)
            while len(self._held) > MOST_HELD:
                self._held.popitem(last=False)
        return digest

    def get(self, digest: str) -> Upload | None:
        """The file of this digest, or None where it is not held any more."""
        with self._lock:
            return self._held.get(digest)

    def drop(self, digest: str) -> None:
        """Hold a file no longer."""
        with self._lock:
            self._held.pop(digest, None)


def takes_files(method: str, path: str) -> bool:
    """Whether this request sends a file that its page reads."""
    return method == "POST" and path in FILE_ROUTES
