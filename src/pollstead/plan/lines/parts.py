"""Which code a compiled function is made of: its module and those of the same package that it takes from."""

from __future__ import annotations

import hashlib
import inspect
import sys
from types import ModuleType


def words_of_parts(name: str) -> str:
    """A digest of the program text of the module `name` and of all parts that it takes from its package.

    Numbers that come from other packages are part of it too: compiled code holds them as they were.
    """
    package = name.rpartition(".")[0]
    texts: dict[str, str] = {}
    waiting = [name]
    while waiting:
        found = waiting.pop()
        if found in texts or found not in sys.modules:
            continue
        module = sys.modules[found]
        known = vars(module)
        numbers = sorted((n, v) for n, v in known.items() if isinstance(v, int | float))
        texts[found] = f"{numbers}{inspect.getsource(module)}"
        owners = (v.__name__ if isinstance(v, ModuleType) else v.__module__ for v in _told(known))
        waiting += [owner for owner in owners if package and owner.rpartition(".")[0] == package]
    return hashlib.sha256(repr(sorted(texts.items())).encode()).hexdigest()


def _told(known: dict[str, object]) -> list[object]:
    """What a module knows that says which module it is or comes from."""
    return [
        v
        for v in known.values()
        if isinstance(getattr(v, "__module__", None), str) or isinstance(v, ModuleType)
    ]
