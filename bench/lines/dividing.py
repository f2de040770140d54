"""The split of the county's fleet: how far from the bound, and what it saves on fresh days."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from pollstead.plan.lines.split import split
from pollstead.plan.lines.split_fresh import fresh
from pollstead.plan.splitting import splitting_of
from pollstead.plan.terms.part import NoWatch
from pollstead.plan.terms.split import SplitAnswer

if TYPE_CHECKING:
    from bench.lines.county import County


def divide(
    county: County, days: int, fresh_days: int, threads: int
) -> tuple[dict[str, float], dict[str, object]]:
    """Gap and gain in percent, and what they come from. Raises ValueError where the fleet cannot be split."""
    start, cpu = time.perf_counter(), time.process_time()
    made = splitting_of(county.election, county.version, county.told, NoWatch(), days=days)
    outcome = split(made.given, county.version.seed, workers=threads)
    answer = outcome.value
    if not isinstance(answer, SplitAnswer):
        raise ValueError("expected a fleet that gives every site its least numbers; it does not")
    split_s, split_cpu = time.perf_counter() - start, time.process_time() - cpu
    compared = fresh(made.given, answer, county.version.seed, fresh_days, workers=threads)
    ratios = {
        "split_gap_pct": 100 * (answer.value - answer.bound) / max(1, answer.bound),
        "split_gain_pct": 100 * (1 - compared.split_ms / max(1, compared.load_ms)),
    }
    return ratios, {
        "sites": len(answer.sites),
        "goal": answer.goal.value,
        "days": days,
        "fresh_days": fresh_days,
        "breaks": county.breaks,
        "numbers_tried": answer.tried,
        "best_of_tried": answer.best_of_tried,
        "voter_passes": outcome.work_units,
        "value_ms": answer.value,
        "bound_ms": answer.bound,
        "fresh_wait_hours_a_day": {
            "split": round(compared.split_ms / 3.6e6 / fresh_days, 1),
            "by load": round(compared.load_ms / 3.6e6 / fresh_days, 1),
            "as planned, spares not held back": round(compared.now_ms / 3.6e6 / fresh_days, 1),
        },
        "split_wall_s": round(split_s, 2),
        "split_cpu_s": round(split_cpu, 2),
        "threads": threads,
    }
