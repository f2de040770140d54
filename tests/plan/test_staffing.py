"""Breaks and slow hours of a county's rules on the clock of a day."""

from __future__ import annotations

import datetime as dt

import pytest

from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.values import frozen_array
from pollstead.plan import gaps, staffing
from pollstead.plan.terms.lines import HOUR_MS, ArrivalDay

OPEN, CLOSE = 7 * HOUR_MS, 20 * HOUR_MS


def rules(**values: int) -> CountyRules:
    """Settings by rule, underscores for hyphens."""
    settings = tuple(RuleSetting(rule=r.replace("_", "-"), value=v) for r, v in values.items())
    return CountyRules(settings=settings)


def day(given: CountyRules, close_ms: int = CLOSE) -> ArrivalDay:
    """A day with the rules' breaks and slow hours."""
    return ArrivalDay(
        date=dt.date(2028, 11, 7),
        open_ms=OPEN,
        close_ms=close_ms,
        slot_weights=frozen_array([1] * 52, "int64")
        if close_ms == CLOSE
        else frozen_array([1] * 16, "int64"),
        totals=frozen_array([100], "int64"),
        breaks=staffing.breaks(given, OPEN, close_ms),
        absences=staffing.slow_hours(given, OPEN, close_ms),
    )


def test_a_county_that_sets_nothing_has_no_absences() -> None:
    """The defaults leave the lines as they were."""
    assert day(CountyRules()).absences_of((9, 9, 9, 9)) == ((), (), (), ())


def test_each_desk_has_its_break_between_the_hours_of_the_rules() -> None:
    """Open 7 to 20, two hours off at both ends: four breaks of 30 min from 9:00, the last over by 18:00."""
    away = day(rules(break_length=30)).absences_of((4, 8, 1, 1))
    assert [a.from_ms / HOUR_MS for a in away[0]] == [9, 11.125, 13.25, 15.375]
    assert {a.lasts_ms for a in away[0]} == {HOUR_MS // 2}
    assert away[1:] == ((), (), ())


def test_a_day_too_short_for_breaks_has_none() -> None:
    """Open for four hours, two hours off at both ends."""
    assert day(rules(break_length=30), OPEN + 4 * HOUR_MS).breaks == ()


@pytest.mark.parametrize(("desks", "away"), [(1, 0), (2, 1), (3, 2), (9, 2)])
def test_slow_hours_take_desks_away_but_never_the_last(desks: int, away: int) -> None:
    """Two desks fewer from 9:00 to 11:00, where there are more than one."""
    found = day(rules(check_in_short=2)).absences_of((desks, 5, 1, 1))[0]
    assert [(a.from_ms, a.until_ms) for a in found] == [(9 * HOUR_MS, 11 * HOUR_MS)] * away


def test_shares_that_cannot_go_together_are_refused() -> None:
    """Accessible and curbside voters are different people; more than all voters are a slip."""
    with pytest.raises(ValueError, match="at most 1,000,000 together"):
        rules(accessible_share=600_000, curbside_share=500_000)
    with pytest.raises(ValueError, match="at most 240"):
        rules(break_length=241)


def test_every_switch_has_its_companions_in_the_registry() -> None:
    """What is named as an assumption exists, and only where the switch is on."""
    for switch, others in gaps.WITH.items():
        assert CountyRules().whole(switch) == 0
        assert all(CountyRules().whole(rule) >= 1 for rule in others)
