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

KNOWN_DIGEST = "f123482472e58be283bdd4069c01d2be60d98f687043f9c6093f9febcfbad690"
"""SHA-256 of the days' rows and voters, little-endian; taken with the versions that follow."""

TAKEN_WITH = {"numba": "0.68.1", "llvmlite": "0.50.0", "numpy": "2.4.6"}


def digest_of_small_days(simulate: Callable[..., Any] | None = None) -> str:
    """Draw and simulate the small days, as ``engine.simulate_days`` or another does; hexadecimal SHA-256."""
    import numpy as np

    from pollstead.plan.lines import draws
    from pollstead.plan.lines.beside import Absences
    from pollstead.plan.lines.engine import simulate_days
    from pollstead.plan.lines.laws import gap_table, law_table
    from pollstead.plan.terms.lines import HOUR_MS, LawKind, ServiceLaw

    def law(mean_ms: int, kind: LawKind = LawKind.DETERMINISTIC) -> ServiceLaw:
        return ServiceLaw(kind=kind, mean_ms=mean_ms)

    # Laws whose tables are made without a library's functions, so that the digest is the engine's alone:
    # gaps, the four stages, jam, curb, the repairs of the four stages.
    means = (70_000, 200_000, 450_000, 20_000, 60_000, 400_000, 500_000, 700_000, 300_000, 900_000)
    flat = [gap_table(), *(law_table(law(ms)) for ms in means)]
    spread = np.stack([table * (1 + np.arange(len(table)) % 257) // 129 + 256 for table in flat])
    totals = np.array([60, 0, 1, 75, 33, 60, 60, 12, 80, 64, 3, 59, 44, 71, 28, 66, 50, 9], np.int64)
    candidates = np.array([[1, 4, 1, 1], [2, 4, 1, 1], [2, 5, 2, 0], [0, 12, 1, 2]], np.int64)
    edges = np.array([0, 900_000, 1_800_000, 2_700_000, 3_000_000], np.int64)
    shares = np.array([0, 1 << 26, 1 << 26, 200_000_000, 1 << draws.SHARE_BITS], np.int64)
    needs = draws.accessible_threshold(200_000)
    rates = [draws.use_rate(k * HOUR_MS) for k in (1, 2, 1, 1)]
    chances = [*rates, draws.chance_threshold(100_000), draws.accessible_threshold(150_000)]
    # From, lasts, until; which of them each stage of each candidate has.
    away = Absences(
        np.array([(0, 0, 400_000), (900_000, 300_000, 0), (900_000, 60_000, 1_100_000), (2_500_000, 1, 0)]),
        np.array(
            [
                [(0, 2), (1, 4), (0, 1), (2, 4)],
                [(1, 2), (1, 4), (0, 1), (2, 4)],
                [(1, 2), (0, 4), (3, 4), (0, 0)],
                [(0, 0), (2, 3), (0, 1), (0, 4)],
            ]
        ),
    )
    beside = np.array(chances, np.int64)
    found = hashlib.sha256()
    for opens_ms, threshold, tables, happens, absences in (
        (0, 0, spread[:5], None, None),
        (600_000, needs, spread[:5], None, None),
        (0, needs, spread, beside, away),
        (600_000, 0, spread, beside, away),
    ):
        rows, voters = (simulate or simulate_days)(
            2028, 5, totals, totals // 4, opens_ms, edges, shares, tables, threshold, candidates, 600_000, 80,
            happens, absences, 2,
        )  # fmt: skip
        for array in (rows, voters):
            found.update(array.astype("<i8").tobytes())
    return found.hexdigest()


@lru_cache(maxsize=1)
def fast_engine_is_right() -> bool:
    """Whether the compiled engine gives the digest here; asked once in a process."""
    return digest_of_small_days() == KNOWN_DIGEST
