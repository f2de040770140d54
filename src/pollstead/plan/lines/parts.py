"""Which code a compiled function is made of: its module and those of the same package that it takes from."""

from __future__ import annotations

import hashlib
import inspect
import sys
from functools import cache
from types import ModuleType


@cache
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
        for value in known.values():
            owner = getattr(value, "__name__" if isinstance(value, ModuleType) else "__module__", None)
            if package and isinstance(owner, str) and owner.rpartition(".")[0] == package:
                waiting.append(owner)
    return hashlib.sha256(repr(sorted(texts.items())).encode()).hexdigest()
