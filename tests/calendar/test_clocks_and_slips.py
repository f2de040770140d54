"""Changes of the clocks, what a slip does, and this list beside the last one."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from pollstead.election.calendar import Task
from pollstead.election.county import Hours, Site
from pollstead.plan.calendar.clocks import changed_hours, clock_changes
from pollstead.plan.calendar.compare import compare_lists
from pollstead.plan.calendar.days import WorkingDays
from pollstead.plan.calendar.network import Done, schedule
from pollstead.plan.calendar.states import TaskState, standings
from pollstead.plan.calendar.what_if import Shortened, what_if_slips

DAY = dt.date(2028, 11, 7)
WEEK = WorkingDays(weekdays=(0, 1, 2, 3, 4))
BEGIN = dt.date(2028, 8, 1)


def task(name: str, length: int = 1, after: str = "", **more: object) -> Task:
    """A task with as little as it needs."""
    return Task(id=name, words=name, duration_days=length, after=tuple(after.split()), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("zone", ["America/New_York", "America/Chicago", "America/Los_Angeles", "EST5EDT"])
def test_clocks_of_2028_change_on_the_second_sunday_of_march_and_the_first_of_november(zone: str) -> None:
    """15 U.S.C. 260a (from memory): second Sunday of March to first Sunday of November."""
    found = clock_changes(dt.date(2028, 1, 1), dt.date(2028, 12, 31), zone, DAY)
    assert [(one.date, one.shift_min) for one in found] == [
        (dt.date(2028, 3, 12), -60),
        (dt.date(2028, 11, 5), 60),
    ]
    assert [one.near for one in found] == [False, True]
    assert found[1].days_to_election == -2


@pytest.mark.parametrize("zone", ["America/Phoenix", "Pacific/Honolulu", "Etc/UTC"])
def test_zones_without_summer_time_have_no_change(zone: str) -> None:
    """Arizona (but the Navajo Nation) and Hawaii keep one time all year (IANA zone database)."""
    assert clock_changes(dt.date(2028, 1, 1), dt.date(2028, 12, 31), zone, DAY) == ()


def test_the_night_before_the_change_is_an_hour_longer_than_the_clocks_say() -> None:
    """Early voting 09:00 to 18:00 on 4 and 5 November: the doors are shut for 16 hours, not 15."""
    hours = tuple(Hours(date=dt.date(2028, 11, d), opens_min=540, closes_min=1080) for d in (4, 5, 6))
    (change,) = clock_changes(dt.date(2028, 11, 1), DAY, "America/Chicago", DAY)
    (one, late) = changed_hours(
        (
            Site(id="S01", name="Library", hours=hours),
            Site(id="S02", name="Late hall", hours=(Hours(date=change.date, opens_min=60, closes_min=540),)),
            Site(id="S03", name="Closed that day"),
        ),
        change,
        "America/Chicago",
    )
    assert (one.open_min, one.open_wall_min) == (540, 540)
    assert (one.night_min, one.night_wall_min) == (960, 900)
    assert (late.open_min, late.open_wall_min, late.night_min) == (540, 480, None)


CHAIN = (
    task("definition", 2, offset_days=-45),
    task("decks", 5, "definition"),
    task("test", 8, "decks"),
    task("seal", 2, "test", offset_days=-20, kind="law"),
    task("thanks", 1, offset_days=20),
)


def test_a_slip_within_the_room_there_is_moves_nothing_else() -> None:
    """The definition is due on E-45 and needed only later: some days are absorbed."""
    found = what_if_slips(CHAIN, DAY, WEEK, task="definition", slip_days=2, begin=BEGIN)
    assert found.absorbed is False, "its own date breaks"
    assert [one.task for one in found.broken] == ["definition"]
    assert [one.task for one in found.moved] == ["definition"]
    loose = (task("definition", 2), *CHAIN[1:])
    late = what_if_slips(loose, DAY, WEEK, task="thanks", slip_days=1, begin=BEGIN)
    assert [one.task for one in late.broken] == ["thanks"] and not late.broken[0].bound
    assert late.repair == () and late.repair_complete


def test_a_slip_on_the_chain_names_the_date_by_law_that_breaks_and_the_least_change() -> None:
    """Decks end 3 working days later: testing and sealing move, the sealing date breaks by 3 working days."""
    found = what_if_slips(CHAIN, DAY, WEEK, task="decks", slip_days=3, begin=BEGIN)
    assert [one.task for one in found.moved] == ["decks", "test", "seal"]
    (broken,) = found.broken
    assert (broken.task, broken.over_days, broken.bound, broken.before) == ("seal", 3, True, False)
    assert found.repair == (Shortened(task="test", days=3, left=5),)
    assert found.repair_complete


def test_a_slip_that_no_shorter_work_mends_says_so() -> None:
    """30 days late: everything behind keeps a day at least, and that is not enough."""
    found = what_if_slips(CHAIN, DAY, WEEK, task="decks", slip_days=30, begin=BEGIN)
    assert not found.repair_complete
    assert {one.task: one.left for one in found.repair} == {"seal": 1, "test": 1}


@pytest.mark.parametrize("slip", [1, 2, 5, 7])
def test_the_repair_named_keeps_the_date_and_a_day_less_does_not(slip: int) -> None:
    """Counted with numpy along the chain: decks end late, testing is shorter, sealing takes two days."""
    found = what_if_slips(CHAIN, DAY, WEEK, task="decks", slip_days=slip, begin=BEGIN)
    assert [one.task for one in found.repair] == ["test"]
    planned = schedule(CHAIN, DAY, WEEK, begin=BEGIN).of("decks").late_finish
    for less, kept in ((found.repair[0].days, True), (found.repair[0].days - 1, False)):
        end = np.busday_offset(planned, slip + 8 - less + 2).astype(dt.date)
        assert (end <= dt.date(2028, 10, 18)) is kept


@pytest.mark.parametrize(("name", "days"), [("nobody", 1), ("test", 0), ("test", 366)])
def test_a_slip_of_nothing_or_of_an_unknown_task_is_refused(name: str, days: int) -> None:
    """ValueError says what was expected and found."""
    with pytest.raises(ValueError, match=r"no task|got"):
        what_if_slips(CHAIN, DAY, WEEK, task=name, slip_days=days, begin=BEGIN)


def test_nothing_counts_as_done_by_default() -> None:
    """The day after everything was due, everything is late but what somebody said is done."""
    today = dt.date(2028, 12, 24)
    made = schedule(CHAIN, DAY, WEEK, begin=today, done=(Done(task="seal", on=dt.date(2028, 10, 17)),))
    states = {one.task.id: one.state for one in standings(CHAIN, made, today)}
    assert states == dict.fromkeys(("definition", "decks", "test", "thanks"), TaskState.LATE) | {
        "seal": TaskState.DONE
    }


@pytest.mark.parametrize(
    ("today", "state"),
    [
        (dt.date(2028, 11, 28), TaskState.LATE),
        (dt.date(2028, 11, 27), TaskState.DUE),
        (dt.date(2028, 11, 21), TaskState.DUE),
        (dt.date(2028, 11, 20), TaskState.LATER),
    ],
)
def test_due_this_week_is_today_and_six_days_after(today: dt.date, state: TaskState) -> None:
    """A task due on Monday 2028-11-27."""
    tasks = (task("thanks", 1, offset_days=20),)
    made = schedule(tasks, DAY, WEEK, begin=today)
    assert standings(tasks, made, today)[0].state is state


def test_a_task_that_must_have_begun_is_told_before_it_is_due() -> None:
    """Twenty working days due on E-0 must begin four weeks before."""
    tasks = (task("classes", 20, offset_days=0),)
    for today, state in ((dt.date(2028, 10, 11), TaskState.LATER), (dt.date(2028, 10, 12), TaskState.BEGIN)):
        made = schedule(tasks, DAY, WEEK, begin=today)
        assert standings(tasks, made, today)[0].state is state, made.of("classes")


def test_the_last_list_is_compared_field_by_field() -> None:
    """What came, what went, each offset or owner that differs; the order of rows and names does not count."""
    before = (task("a", 1, owner_role="clerk", offset_days=-46), task("b"), task("c", 1, "a b"))
    now = (task("c", 1, "b a"), task("a", 1, owner_role="trainer", offset_days=-45), task("d"))
    found = compare_lists(before, now)
    assert (found.added, found.gone) == (("d",), ("b",))
    assert [(one.task, one.field, one.before, one.now) for one in found.changed] == [
        ("a", "offset_days", "-46", "-45"),
        ("a", "owner_role", "clerk", "trainer"),
    ]
    assert compare_lists(now, now).same
