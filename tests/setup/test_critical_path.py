"""Levelling a set-up by the number of people, and what cannot be scheduled."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.plan.setup.critical_path import (
    Activity,
    WaitsForItself,
    critical_path,
    levelled,
    people_at_once,
)


@st.composite
def projects(draw: st.DrawFn) -> tuple[Activity, ...]:
    """Up to 12 activities, each of which may wait for earlier ones."""
    count = draw(st.integers(1, 12))
    return tuple(
        Activity(
            id=f"a{index}",
            minutes=draw(st.integers(0, 9)),
            people=draw(st.integers(1, 3)),
            after=tuple(f"a{b}" for b in draw(st.sets(st.integers(0, index - 1), max_size=3)))
            if index
            else (),
        )
        for index in range(count)
    )


@given(projects(), st.integers(3, 6))
def test_no_minute_has_more_people_than_the_crew(work: tuple[Activity, ...], crew: int) -> None:
    """A levelled schedule keeps to the crew and to every precedence."""
    start = levelled(work, crew)
    assert max(people_at_once(work, start), default=0) <= crew
    by_id = {a.id: a for a in work}
    for activity in work:
        for before in activity.after:
            assert start[activity.id] >= start[before] + by_id[before].minutes


@given(projects())
def test_with_people_enough_everything_starts_as_early_as_can_be(work: tuple[Activity, ...]) -> None:
    """Levelling by a crew that is never short gives the critical path's earliest starts."""
    start = levelled(work, crew=3 * len(work))
    assert start == {times.id: times.early_start for times in critical_path(work)}


@given(projects(), st.integers(3, 6))
def test_a_crew_never_finishes_before_the_critical_path(work: tuple[Activity, ...], crew: int) -> None:
    """Neither the critical path nor the work of all people divided by the crew can be beaten."""
    start = levelled(work, crew)
    end = max(start[a.id] + a.minutes for a in work)
    assert end >= max(t.early_finish for t in critical_path(work))
    assert end * crew >= sum(a.minutes * a.people for a in work)


def test_activities_that_wait_for_one_another_are_named() -> None:
    """A circle has no schedule; the message names who waits for whom."""
    circle = (
        Activity(id="unlock", minutes=1, after=("open",)),
        Activity(id="open", minutes=1, after=("unlock",)),
    )
    with pytest.raises(WaitsForItself, match=r"open.*unlock|unlock.*open"):
        critical_path(circle)


def test_waiting_for_what_is_not_there_is_refused_by_name() -> None:
    """An activity cannot wait for one that nobody described."""
    with pytest.raises(ValueError, match="'nothing'"):
        critical_path((Activity(id="a", minutes=1, after=("nothing",)),))


def test_a_step_for_more_people_than_the_crew_is_refused() -> None:
    """A step that takes three people cannot be done by two."""
    with pytest.raises(ValueError, match="needs 3 people"):
        levelled((Activity(id="lift", minutes=5, people=3),), crew=2)
