"""Where the sites of a part are computed: in this process, or wherever else the same code runs."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Protocol, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Sequence

Given = TypeVar("Given")
Made = TypeVar("Made")


class Spreading(Protocol):
    """Computes each of many things that do not depend on one another; where it is done changes no result."""

    def in_order(self, make: Callable[[Given], Made], given: Sequence[Given]) -> Generator[Made, None, None]:
        """What `make` gives for each of `given`, in their order; `make` is a function of a module.

        A caller that stops early closes the iterator: what has not begun then is not begun.
        """


class InThreads:
    """Threads of this process; the engine lets them run side by side."""

    def __init__(self, threads: int) -> None:
        """Raises ValueError for threads < 1."""
        if threads < 1:
            raise ValueError(f"workers must be >= 1, got {threads}")
        self._threads = threads

    def in_order(self, make: Callable[[Given], Made], given: Sequence[Given]) -> Generator[Made, None, None]:
        """See `Spreading.in_order`."""
        with ThreadPoolExecutor(self._threads) as pool:
            jobs = [pool.submit(make, one) for one in given]
            try:
                for job in jobs:
                    yield job.result()
            finally:
                pool.shutdown(wait=True, cancel_futures=True)
