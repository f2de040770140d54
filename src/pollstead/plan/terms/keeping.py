"""Results kept by what went in: a part asks before it computes, and hands over what it has computed."""

from __future__ import annotations

from typing import Protocol


class Keeping(Protocol):
    """Where results of one part are kept, each under the digest of all that it follows from.

    What is not there is computed anew and is the same, byte by byte: keeping changes the time alone.
    """

    def get(self, key: str) -> bytes | None:
        """What is kept under a key; None where nothing is."""

    def put(self, key: str, data: bytes) -> None:
        """Keep a result under its key."""


class NothingKept:
    """A place that keeps nothing: everything is computed."""

    def get(self, key: str) -> bytes | None:
        """Nothing."""
        return None

    def put(self, key: str, data: bytes) -> None:
        """Forget it."""
