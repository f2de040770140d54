"""Sizing's results kept in the store between plans, and compared with those made anew by a rebuild."""

from __future__ import annotations

import functools
import hashlib
import importlib.resources
from typing import TYPE_CHECKING

from pollstead.plan.terms.version import EngineVersion
from pollstead.work.clock import now_ms
from pollstead.work.county_folder import engines

if TYPE_CHECKING:
    from pollstead.store.opening import Store

CODE = (
    ("pollstead.plan.lines", "*"),
    ("pollstead.plan.terms", "lines.py"),
)
"""The code whose change may change a kept result."""

WRITTEN_AT_ONCE = 16
"""Results that wait in memory: a plan that is stopped loses no more than these."""


class StoreKeeping:
    """A `Keeping` in the store of a county folder. Use as a context: what waits is written at its end."""

    def __init__(self, store: Store, made_by: tuple[EngineVersion, ...] | None = None) -> None:
        self._store = store
        self._salt = salt(engines() if made_by is None else made_by)
        self._new: dict[str, bytes] = {}
        self._used: set[str] = set()

    def get(self, key: str) -> bytes | None:
        """What is kept under a key by this code and these versions of the engines."""
        found = self._store.kept.get(self._salt + key)
        if found is not None:
            self._used.add(self._salt + key)
        return found

    def put(self, key: str, data: bytes) -> None:
        """Keep a result."""
        self._new[self._salt + key] = data
        if len(self._new) >= WRITTEN_AT_ONCE:
            self.write()

    def write(self) -> None:
        """Write what waits, and note what was used."""
        if self._new or self._used:
            self._store.kept.save(self._new, self._used, utc_ms=now_ms())
            self._new, self._used = {}, set()

    def __enter__(self) -> StoreKeeping:
        return self

    def __exit__(self, *_: object) -> None:
        # Also after an error or a stop: what was computed is right, whatever came later.
        self.write()
        self._store.kept.forget_unused()


class ComparedKeeping:
    """A `Keeping` that gives nothing and compares all that is made anew with what the store keeps."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._salt = salt(engines())
        self.same = 0
        self.different: list[str] = []

    def get(self, key: str) -> bytes | None:
        """Nothing, so that everything is computed."""
        return None

    def put(self, key: str, data: bytes) -> None:
        """Compare with what is kept; what is not kept any more says nothing."""
        found = self._store.kept.get(self._salt + key)
        if found is None:
            return
        if found == data:
            self.same += 1
        else:
            self.different.append(key)


def salt(made_by: tuple[EngineVersion, ...]) -> str:
    """What sets results of other code or other engines apart: 16 digits before each key."""
    versions = ",".join(f"{engine.name} {engine.version}" for engine in made_by)
    return hashlib.sha256(f"{versions}\n{_code_digest()}".encode()).hexdigest()[:16]


@functools.cache
def _code_digest() -> str:
    digest = hashlib.sha256()
    for package, name in CODE:
        for file in sorted(importlib.resources.files(package).iterdir(), key=lambda f: f.name):
            if file.name.endswith(".py") and name in ("*", file.name):
                digest.update(file.name.encode() + b"\0" + file.read_bytes())
    return digest.hexdigest()
