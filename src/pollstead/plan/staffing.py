"""When check-in stations take no voter: the county's breaks and slow hours on the clock of one day."""

from __future__ import annotations

from pollstead.election.instants import MS_PER_MINUTE
from pollstead.election.rules import CountyRules
from pollstead.plan.terms.lines import Absence, Breaks, Stage


def breaks(rules: CountyRules, open_ms: int, close_ms: int) -> tuple[Breaks, ...]:
    """The breaks of one day; none where the county gives none or the day is too short for them.

    `open_ms` and `close_ms` since the operating day began.
    """
    lasts, after, before = (
        rules.whole(rule) * MS_PER_MINUTE
        for rule in ("break-length", "break-after-opening", "break-before-closing")
    )
    first, last = open_ms + after, close_ms - before
    if lasts == 0 or first + lasts > last:
        return ()
    return (Breaks(stage=Stage.CHECK_IN, lasts_ms=lasts, from_ms=first, until_ms=last),)


def slow_hours(rules: CountyRules, open_ms: int, close_ms: int) -> tuple[Absence, ...]:
    """The check-in stations that nobody staffs in the slow hours of one day; one always is."""
    after, lasts = (
        rules.whole(rule) * MS_PER_MINUTE for rule in ("check-in-short-from", "check-in-short-for")
    )
    first = open_ms + after
    until = min(first + lasts, close_ms)
    if until <= first:
        return ()
    return tuple(
        Absence(stage=Stage.CHECK_IN, from_ms=first, until_ms=until, only_above=k)
        for k in range(1, rules.whole("check-in-short") + 1)
    )
