"""The fast engine's test of itself, once in a process: a few small days, and the digest that they must have.

The reference engine gave the days that the digest stands for (a test tells them again). A machine, compiler
or library that makes one bit of them different is found here, before a plan rests on it.
"""

from __future__ import annotations

import hashlib
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

KNOWN_DIGEST = "7af3f9b00cea2afe5537db02d720e03c21d53e2b05efa601bb24c1001e37c267"
"""SHA-256 of the days' rows and voters, little-endian; taken with the versions that follow."""

TAKEN_WITH = {"numba": "0.68.1", "llvmlite": "0.50.0", "numpy": "2.4.6"}


def digest_of_small_days(simulate: Callable[..., Any] | None = None) -> str:
    """Draw and simulate the small days, as ``engine.simulate_days`` or another does; hexadecimal SHA-256."""
    import numpy as np

    from pollstead.plan.lines import draws
    from pollstead.plan.lines.engine import simulate_days
    from pollstead.plan.lines.laws import gap_table, law_table
    from pollstead.plan.terms.lines import LawKind, ServiceLaw

    def law(mean_ms: int, kind: LawKind = LawKind.DETERMINISTIC) -> ServiceLaw:
        return ServiceLaw(kind=kind, mean_ms=mean_ms)

    # Laws whose tables are made without a library's functions, so that the digest is the engine's alone.
    flat = [gap_table(), *(law_table(law(ms)) for ms in (70_000, 200_000, 450_000, 20_000))]
    spread = np.stack([table * (1 + np.arange(len(table)) % 257) // 129 + 256 for table in flat])
    totals = np.array([60, 0, 1, 75, 33, 60, 60, 12, 80, 64, 3, 59, 44, 71, 28, 66, 50, 9], np.int64)
    candidates = np.array([[1, 4, 1, 1], [2, 4, 1, 1], [2, 5, 2, 0], [0, 12, 1, 2]], np.int64)
    edges = np.array([0, 900_000, 1_800_000, 2_700_000, 3_000_000], np.int64)
    shares = np.array([0, 1 << 26, 1 << 26, 200_000_000, 1 << draws.SHARE_BITS], np.int64)
    found = hashlib.sha256()
    for opens_ms, threshold in ((0, 0), (600_000, draws.accessible_threshold(200_000))):
        rows, voters = (simulate or simulate_days)(
            2028, 5, totals, totals // 4, opens_ms, edges, shares, spread, threshold, candidates, 600_000, 80
        )
        for array in (rows, voters):
            found.update(array.astype("<i8").tobytes())
    return found.hexdigest()


@lru_cache(maxsize=1)
def fast_engine_is_right() -> bool:
    """Whether the compiled engine gives the digest here; asked once in a process."""
    return digest_of_small_days() == KNOWN_DIGEST
