"""Search indexes kept in memory, the last few asked for."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Final

from pollstead.show.web.finding import Index

MOST_KEPT: Final = 4


class KeptIndexes:
    """Indexes by what they were made of; safe between threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: OrderedDict[Hashable, Index] = OrderedDict()

    def get(self, key: Hashable, make: Callable[[], Index]) -> Index:
        """The index of `key`, made where it is not kept."""
        with self._lock:
            found = self._kept.get(key)
            if found is None:
                found = self._kept[key] = make()
                while len(self._kept) > MOST_KEPT:
                    self._kept.popitem(last=False)
            self._kept.move_to_end(key)
            return found
