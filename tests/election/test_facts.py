"""Ids, notices, rules and the county's values."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.county import Election, Hours, Site
from pollstead.election.identity import is_id, look_alike_key, make_id, split_id
from pollstead.election.notice import Grade, Notice, NoticeKind, by_key
from pollstead.election.rules import BY_ID, REGISTRY, CountyRules, RuleLevel, RuleSetting
from pollstead.election.station_type import (
    Closure,
    LineKind,
    MemoryDevices,
    SheetLine,
    StationType,
    VoterStep,
)
from pollstead.election.words import message

PART = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,20}", fullmatch=True)


@given(st.lists(PART, min_size=1, max_size=3))
def test_ids_split_into_what_they_were_made_of(parts: list[str]) -> None:
    """Making and splitting are inverse."""
    assert split_id(make_id("closure", *parts)) == ("closure", *parts)


@pytest.mark.parametrize("text", ["", "site", "site/", "boat/S01", "site/../S01", "site/S 01", "site/S01\n"])
def test_what_is_no_id_is_known_as_such(text: str) -> None:
    """Unknown kinds, empty parts, spaces and path tricks are no ids."""
    assert not is_id(text)


def test_serials_that_people_confuse_have_one_key() -> None:
    """Letter O and zero, letter I and one (common practice, no source; varies by county)."""
    assert look_alike_key("LM-O01I") == look_alike_key("lm-0O11")
    assert look_alike_key("LM-0012") != look_alike_key("LM-0013")


def _notice(rule: str = "hours", subject: str = "site/A1") -> Notice:
    return Notice(kind=NoticeKind.OPEN_ITEM, rule=rule, subject=subject, text=message("Say when it opens"))


def test_a_notice_key_is_rule_subject_and_day() -> None:
    """The key does not depend on the words."""
    assert _notice().key == "hours|site/A1|"


def test_a_fault_without_a_grade_is_refused() -> None:
    """Cannot read, or contradicts itself: a fault says which."""
    with pytest.raises(ValueError, match="a fault needs a grade"):
        Notice(kind=NoticeKind.FAULT, rule="r", subject="s", text=message("x"))
    assert Notice(kind=NoticeKind.FAULT, rule="r", subject="s", text=message("x"), grade=Grade.CANNOT_READ)


def test_notices_are_sorted_by_key_and_kept_once() -> None:
    """The same key twice is one notice."""
    assert [n.rule for n in by_key((_notice("b"), _notice("a"), _notice("b")))] == ["a", "b"]


def test_every_rule_has_words_a_citation_and_a_default_that_fits() -> None:
    """Each default of the registry is a value that its own checks accept."""
    for rule in REGISTRY:
        assert rule.words
        assert rule.citation
        assert rule.who_decides
        RuleSetting(rule=rule.id, value=rule.default)
    assert len(BY_ID) == len(REGISTRY)


def test_a_rule_that_the_county_has_not_set_is_assumed() -> None:
    """The default comes back with level assumed and nobody's confirmation."""
    setting = CountyRules().setting("wait-limit")
    assert (setting.value, setting.level, setting.confirmed_by) == (30, RuleLevel.ASSUMED, "")


@pytest.mark.parametrize(
    ("rule", "value"), [("wait-limit", -1), ("clock-differs", "ignore"), ("no-such-rule", 1)]
)
def test_a_setting_that_does_not_fit_its_rule_is_refused(rule: str, value: int | str) -> None:
    """Unknown rules, unknown choices and negative numbers do not pass."""
    with pytest.raises(ValueError, match="rule"):
        RuleSetting(rule=rule, value=value)


def test_a_text_rule_takes_the_countys_own_words_and_nothing_that_no_page_head_holds() -> None:
    """The name of the canvassing body is free text of one line, at most 80 characters."""
    own = RuleSetting(rule="canvassing-body", value="Board of Larkmoor")
    assert CountyRules(settings=(own,)).text("canvassing-body") == "Board of Larkmoor"
    assert CountyRules().setting("canvassing-body").level is RuleLevel.ASSUMED
    for wrong in ("", "  ", "a\nb", "x" * 81, 7):
        with pytest.raises(ValueError, match="canvassing-body"):
            RuleSetting(rule="canvassing-body", value=wrong)


def test_the_longest_wait_default_is_the_published_thirty_minutes() -> None:
    """Presidential Commission on Election Administration, report of January 2014, page 13: half an hour."""
    assert BY_ID["wait-limit"].default == 30


def test_a_sheet_line_that_names_an_unknown_closure_is_refused() -> None:
    """The message names the type, the line and what there is."""
    with pytest.raises(ValueError, match=r"names closure 'hatch', which is not one of \['lid'\]"):
        StationType(
            id="box",
            name="Box",
            step=VoterStep.CAST,
            closures=(Closure(id="lid", name="lid", seal_kind="wire seal"),),
            opening=(SheetLine(kind=LineKind.CLOSURE, ref="hatch", words="Look at the hatch"),),
        )


def test_more_memory_devices_cannot_travel_than_there_are() -> None:
    """Zero, one or two; and no more travel than are in the machine."""
    with pytest.raises(ValueError, match="travels"):
        MemoryDevices(count=1, travels=2)


def test_closing_before_opening_is_refused() -> None:
    """Hours run forward within the operating day."""
    with pytest.raises(ValueError, match="opening must come before closing"):
        Hours(date=dt.date(2028, 11, 7), opens_min=1200, closes_min=420)


def test_two_sites_with_one_id_are_refused() -> None:
    """Ids are never used twice."""
    with pytest.raises(ValueError, match="site ids must be unique, got 'A1' twice"):
        Election(
            county="Larkmoor County",
            name="General election",
            election_day=dt.date(2028, 11, 7),
            zone_name="EST5EDT",
            sites=(Site(id="A1", name="One"), Site(id="A1", name="Two")),
        )
