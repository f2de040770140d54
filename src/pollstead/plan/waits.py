"""The answer of sizing as the plan keeps it."""

from __future__ import annotations

from pollstead.plan.lines.words import change_words
from pollstead.plan.terms.lines import (
    SIZED,
    SizingAnswer,
)
from pollstead.plan.terms.version import WaitReport, WhatIf


def wait_report(answer: SizingAnswer) -> WaitReport:
    """What the simulation says of the site's worst day, as the plan keeps it."""
    figures = answer.figures
    return WaitReport(
        limit_ms=answer.limit.limit_ms,
        risk_ppm=figures.risk.risk_ppm,
        low_ppm=figures.risk.low_ppm,
        high_ppm=figures.risk.high_ppm,
        days_used=figures.risk.days,
        mean_wait_ms=figures.mean_wait_ms,
        p50_longest_wait_ms=figures.p50_longest_ms,
        p95_longest_wait_ms=figures.p95_longest_ms,
        binding="" if figures.binding is None else figures.binding.value,
        meets_limit=answer.meets_limit,
        what_ifs=tuple(
            WhatIf(
                change=change_words(what_if.change, what_if.stage).template,
                count=None
                if what_if.stage is None
                else dict(zip(SIZED, what_if.figures.counts.by_stage(), strict=True))[what_if.stage],
                risk_ppm=what_if.figures.risk.risk_ppm,
                p95_longest_wait_ms=what_if.figures.p95_longest_ms,
            )
            for what_if in answer.what_ifs
        ),
    )
