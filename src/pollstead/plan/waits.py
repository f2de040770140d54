"""The answer of sizing as the plan keeps it."""

from __future__ import annotations

from pollstead.election.instants import MS_PER_MINUTE
from pollstead.election.words import N_
from pollstead.plan.lines.words import change_words
from pollstead.plan.terms.lines import SIZED, LineWhatIf, SizingAnswer, WaitFigures
from pollstead.plan.terms.version import HourWait, WaitReport, WhatIf

AS_PLANNED = N_("The plan itself")


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
        what_ifs=tuple(_what_if(what_if) for what_if in answer.what_ifs),
        accepted_ppm=answer.limit.risk_ppm,
        undecided=answer.undecided,
        compared=None if answer.compared is None else _told(AS_PLANNED, answer.compared),
        compared_days=0 if answer.compared is None else answer.compared.risk.days,
        told_singly=answer.refused,
        day=answer.date,
        hours=tuple(
            HourWait(
                from_min=hour.from_ms // MS_PER_MINUTE, p50_ms=hour.p50_longest_ms, p90_ms=hour.p90_longest_ms
            )
            for hour in answer.hours
        ),
        hour_days=answer.hour_days,
    )


def _what_if(what_if: LineWhatIf) -> WhatIf:
    stage, figures = what_if.stage, what_if.figures
    return _told(
        change_words(what_if.change, stage).template,
        figures,
        None if stage is None else dict(zip(SIZED, figures.counts.by_stage(), strict=True))[stage],
        what_if.percent,
    )


def _told(change: str, figures: WaitFigures, count: int | None = None, percent: int | None = None) -> WhatIf:
    return WhatIf(
        change=change,
        count=count,
        risk_ppm=figures.risk.risk_ppm,
        p95_longest_wait_ms=figures.p95_longest_ms,
        voter_minutes=figures.voter_minutes_a_day,
        percent=percent,
    )
