"""Hours assigned, sworn and paid: minute by minute, two parties when the county asks, nothing assumed."""

from __future__ import annotations

import itertools
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.reconcile.conftest import DAY

from pollstead.election.county import Election, Person
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.reconcile.worked import (
    SiteHours,
    Stretch,
    hours_notices,
    shared,
    site_hours,
    together,
    without,
)
from pollstead.record.kinds import canvass

PEOPLE = (
    Person(id="P001", name="Ida Fenwright", party="party A", site="S01"),
    Person(id="P002", name="Tobin Oakley", party="party B", site="S01"),
    Person(id="P003", name="Odell Briarly", party="party A", site="S01"),
    Person(id="P004", name="Una Tolliver", site="S01"),
)
minutes = st.lists(st.tuples(st.integers(0, 90), st.integers(1, 40)), max_size=5).map(
    lambda pairs: tuple(Stretch(from_min=a, until_min=a + length) for a, length in pairs)
)


def facts(county_maker: Any, how: str) -> Election:
    """Two sites, open 07:00 to 20:00; `how` is when two parties must be there."""
    rules = CountyRules(settings=(RuleSetting(rule="both-parties", value=how),))
    return msgspec.structs.replace(county_maker.election(), people=PEOPLE, rules=rules)


def told(
    record: Any, person: str, which: str, *spans: tuple[int, int], by: str = "P010", post: str = ""
) -> None:
    """Hours as somebody typed them."""
    body = canvass.HoursTold(
        which=which,  # type: ignore[arg-type]
        post=post,
        spans=tuple(canvass.Span(from_min=a, until_min=b) for a, b in spans),
    )
    record.write(body, f"person/{person}", by)


def hours_at(county_maker: Any, record: Any, how: str = "not asked") -> SiteHours:
    """The hours of S01."""
    (site,) = site_hours(facts(county_maker, how), record.fold(), DAY)
    return site


def of(stretches: tuple[Stretch, ...]) -> list[tuple[int, int]]:
    """Plain pairs."""
    return [(one.from_min, one.until_min) for one in stretches]


def test_paid_within_sworn_within_assigned_says_nothing(county: Any, record: Any) -> None:
    """05:30 to 21:00 assigned, sworn from 05:45, paid until 20:50."""
    told(record, "P001", "assigned", (330, 1260))
    told(record, "P001", "sworn", (345, 1260))
    told(record, "P001", "paid", (345, 1250))
    site = hours_at(county, record)
    assert hours_notices((site,)) == ()
    assert site.people[0].untold == ()


def test_minutes_outside_are_named_and_a_whole_day_is_not(county: Any, record: Any) -> None:
    """Two half-shifts with a break: sworn through the break, paid before the oath."""
    told(record, "P001", "assigned", (360, 720), (780, 1200))
    told(record, "P001", "sworn", (375, 1200))
    told(record, "P001", "paid", (360, 720), (780, 1200))
    (one,) = hours_at(county, record).people
    assert of(one.sworn_unassigned) == [(720, 780)]
    assert of(one.paid_unsworn) == [(360, 375)]
    words = [n.text.english() for n in hours_notices((hours_at(county, record),))]
    assert words == [
        "person/P001 at S01: sworn in at hours without an assignment: 12:00 to 13:00.",
        "person/P001 at S01: paid for hours without being sworn in: 06:00 to 06:15.",
    ]


def test_a_list_that_nobody_typed_is_missing_and_compared_with_nothing(county: Any, record: Any) -> None:
    """Paid hours without an oath sheet: the sheet is asked for, no minute is called outside."""
    told(record, "P001", "paid", (360, 720))
    site = hours_at(county, record)
    assert site.people[0].untold == ("assigned", "sworn")
    assert hours_notices((site,)) == ()


def test_two_people_who_typed_different_hours_are_told_and_neither_wins(county: Any, record: Any) -> None:
    """The oath sheet was typed twice."""
    told(record, "P001", "assigned", (360, 720))
    told(record, "P001", "sworn", (360, 700))
    told(record, "P001", "sworn", (360, 800), by="P011")
    site = hours_at(county, record)
    assert site.people[0].differing == ("sworn",)
    assert [n.rule for n in hours_notices((site,))] == ["hours-differ"]


def test_two_posts_of_one_day_are_one_persons_hours(county: Any, record: Any) -> None:
    """Greeter in the morning, check-in in the afternoon: each list has both."""
    told(record, "P001", "assigned", (360, 720), post="greeter")
    told(record, "P001", "assigned", (720, 1200), post="check_in")
    told(record, "P001", "sworn", (360, 1200))
    assert hours_notices((hours_at(county, record),)) == ()


@pytest.mark.parametrize(
    ("how", "gaps"),
    [
        ("not asked", []),
        ("while voters vote", [(720, 760)]),
        ("while the site closes", [(1230, 1290)]),
        ("from setting up until leaving", [(720, 760), (1230, 1290)]),
    ],
)
def test_a_stretch_with_people_of_one_party_only_is_named_without_a_party(
    county: Any, record: Any, how: str, gaps: list[tuple[int, int]]
) -> None:
    """Both are there but from 12:00 to 12:40 and after 20:30; the day as a whole had two parties."""
    told(record, "P001", "sworn", (330, 1300))
    told(record, "P002", "sworn", (330, 720), (760, 1230))
    told(record, "P003", "sworn", (330, 1300))
    site = hours_at(county, record, how)
    assert of(site.alone) == gaps
    words = " ".join(n.text.english() + str(n.remedy) for n in hours_notices((site,)))
    assert "party A" not in words and "party B" not in words and "P00" not in words


def test_somebody_whose_party_no_table_tells_leaves_the_gap_open_and_is_counted(
    county: Any, record: Any
) -> None:
    """Unknown is a state: the gap stays, with how many people it may be about."""
    told(record, "P001", "sworn", (330, 1300))
    told(record, "P004", "sworn", (330, 1300))
    site = hours_at(county, record, "while voters vote")
    assert of(site.alone) == [(420, 1200)] and site.no_party == ("person/P004",)
    (notice,) = hours_notices((site,))
    assert notice.remedy is not None and "1 people" in notice.remedy.english()


@given(minutes, minutes)
def test_stretches_are_sets_of_minutes(one: tuple[Stretch, ...], other: tuple[Stretch, ...]) -> None:
    """Together, without and shared are union, difference and intersection of minutes."""

    def plain(stretches: tuple[Stretch, ...]) -> set[int]:
        return {minute for s in stretches for minute in range(s.from_min, s.until_min)}

    assert plain(together(one)) == plain(one)
    assert plain(without(one, other)) == plain(one) - plain(other)
    assert plain(shared(one, other)) == plain(one) & plain(other)
    joined = together((*one, *other))
    assert all(a.until_min < b.from_min for a, b in itertools.pairwise(joined))
