"""Forward and backward pass, slack, critical path, conflicts and circles.

Outside reference: ``networkx.dag_longest_path_length`` (NetworkX), which knows nothing of dates.
"""

from __future__ import annotations

import datetime as dt

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.calendar import Counted, Task
from pollstead.election.notice import NoticeKind
from pollstead.plan.calendar.conflicts import ConflictKind, conflict_notices, conflicts
from pollstead.plan.calendar.days import WorkingDays
from pollstead.plan.calendar.due import due_dates
from pollstead.plan.calendar.network import Done, schedule

DAY = dt.date(2028, 11, 7)
EVERY = WorkingDays(weekdays=tuple(range(7)))
WEEK = WorkingDays(weekdays=(0, 1, 2, 3, 4))
BEGIN = dt.date(2028, 5, 1)


def task(name: str, length: int = 1, after: str = "", **more: object) -> Task:
    """A task with as little as it needs."""
    return Task(id=name, words=name, duration_days=length, after=tuple(after.split()), **more)  # type: ignore[arg-type]


@st.composite
def networks(draw: st.DrawFn) -> tuple[Task, ...]:
    """Up to nine tasks without dates; each waits for some of those before it."""
    made: list[Task] = []
    for n in range(draw(st.integers(1, 9))):
        after = draw(st.sets(st.sampled_from(range(n)), max_size=3)) if n else set()
        made.append(task(f"t{n}", draw(st.integers(0, 8)), " ".join(f"t{m}" for m in sorted(after))))
    return tuple(made)


def longest(tasks: tuple[Task, ...]) -> tuple[int, dict[str, int]]:
    """By networkx: the length of the whole work, and of the longest path through each task."""
    graph = nx.DiGraph()
    for one in tasks:
        graph.add_edge(f"{one.id}<", f"{one.id}>", weight=one.duration_days)
        graph.add_edge("start", f"{one.id}<", weight=0)
        graph.add_edge(f"{one.id}>", "end", weight=0)
        for before in one.after:
            graph.add_edge(f"{before}>", f"{one.id}<", weight=0)
    through = {}
    for one in tasks:
        to = graph.subgraph(nx.ancestors(graph, f"{one.id}>") | {f"{one.id}>"})
        on = graph.subgraph(nx.descendants(graph, f"{one.id}>") | {f"{one.id}>"})
        through[one.id] = nx.dag_longest_path_length(to) + nx.dag_longest_path_length(on)
    return nx.dag_longest_path_length(graph), through


@given(networks())
def test_slack_is_what_the_longest_paths_of_networkx_leave(tasks: tuple[Task, ...]) -> None:
    """Every day worked, no dates: total slack is the whole length less the longest path through a task."""
    length, through = longest(tasks)
    made = schedule(tasks, BEGIN + dt.timedelta(days=length - 1), EVERY, begin=BEGIN)
    assert max(row.early_finish for row in made.tasks) == BEGIN + dt.timedelta(days=length - 1)
    for row in made.tasks:
        assert row.total_slack == length - through[row.task]
        assert row.critical == (row.total_slack == 0)
        assert 0 <= row.free_slack <= row.total_slack


@given(networks(), st.sampled_from([EVERY, WEEK]))
def test_free_slack_moves_no_other_task(tasks: tuple[Task, ...], days: WorkingDays) -> None:
    """A task that takes its free slack longer moves no other task's earliest end."""
    made = schedule(tasks, DAY, days, begin=BEGIN)
    before = {row.task: row.early_finish for row in made.tasks}
    for row in made.tasks:
        longer = tuple(
            Task(id=t.id, words=t.words, duration_days=t.duration_days + row.free_slack, after=t.after)
            if t.id == row.task
            else t
            for t in tasks
        )
        after = {r.task: r.early_finish for r in schedule(longer, DAY, days, begin=BEGIN).tasks}
        assert {name for name in after if after[name] != before[name]} <= {row.task}


def test_a_small_network_as_computed_by_hand() -> None:
    """a 3 → b 4 → d 2, a → c 1 → d, from Monday 2028-05-01, Monday to Friday (computed by hand)."""
    tasks = (task("a", 3), task("b", 4, "a"), task("c", 1, "a"), task("d", 2, "b c"))
    made = schedule(tasks, dt.date(2028, 5, 11), WEEK, begin=BEGIN)
    rows = {row.task: row for row in made.tasks}
    assert (rows["a"].early_start, rows["a"].early_finish) == (dt.date(2028, 5, 1), dt.date(2028, 5, 3))
    assert (rows["b"].early_start, rows["b"].early_finish) == (dt.date(2028, 5, 4), dt.date(2028, 5, 9))
    assert (rows["d"].early_start, rows["d"].early_finish) == (dt.date(2028, 5, 10), dt.date(2028, 5, 11))
    assert (rows["c"].total_slack, rows["c"].free_slack) == (3, 3)
    assert (rows["c"].late_start, rows["c"].late_finish) == (dt.date(2028, 5, 9), dt.date(2028, 5, 9))
    assert [row.task for row in made.tasks if row.critical] == ["a", "b", "d"]


def test_a_task_without_a_date_is_due_when_the_next_must_begin() -> None:
    """Supplies of 5 working days before a delivery of 2 days by Friday 2028-11-03 end by Wednesday."""
    tasks = (task("pack", 5), task("deliver", 2, "pack", offset_days=-4))
    row = schedule(tasks, DAY, WEEK, begin=BEGIN).of("pack")
    assert row.due is None
    assert row.by == dt.date(2028, 11, 1)
    assert row.late_start == dt.date(2028, 10, 26)


def test_a_done_task_frees_what_waits_for_it() -> None:
    """What is done has no slack and lets the next begin the day after it was done."""
    tasks = (task("order", 10), task("receive", 1, "order"))
    done = (Done(task="order", on=BEGIN),)
    made = schedule(tasks, DAY, WEEK, begin=BEGIN, done=done)
    assert made.of("order").done and made.of("order").total_slack == 0
    assert made.of("receive").early_start == dt.date(2028, 5, 2)


def test_a_date_that_happens_is_not_reached_earlier() -> None:
    """Early voting opens on its day, however early everything before it is done."""
    tasks = (
        task("ready", 1),
        task("open", 0, "ready", offset_days=-11, timing="on"),
        task("next", 1, "open"),
    )
    made = schedule(tasks, DAY, WEEK, begin=BEGIN)
    assert made.of("open").early_finish == dt.date(2028, 10, 27)
    assert made.of("next").early_start == dt.date(2028, 10, 30)


def test_dates_that_cross_are_named_with_what_lies_between() -> None:
    """Ballots due on E-30 with 10 days of testing behind them by E-25 are needed earlier."""
    tasks = (
        task("ballots", 1, offset_days=-30),
        task("test", 10, "ballots"),
        task("seal", 2, "test", offset_days=-25, kind="law"),
    )
    found, circles = conflicts(tasks, DAY, WEEK)
    assert circles == ()
    (one,) = found
    assert (one.kind, one.task, one.behind, one.through) == (
        ConflictKind.CROSSING,
        "ballots",
        "seal",
        ("test",),
    )
    # E-25 is Friday 2028-10-13; 2 + 10 working days back end on Wednesday 2028-09-27 (by hand).
    assert one.due == dt.date(2028, 10, 8)
    assert one.needed == dt.date(2028, 9, 27)
    assert one.bound
    (notice,) = conflict_notices(tasks, DAY, WEEK)
    assert notice.kind is NoticeKind.RULE_NOT_MET
    assert notice.who_decides == "counsel"
    mended = (tasks[0], task("test", 2, "ballots"), tasks[2])
    assert conflict_notices(mended, DAY, WEEK) == ()


def test_a_decided_date_before_its_predecessor_can_end_is_named() -> None:
    """A test on Tuesday 2028-10-17 needs its notice by the 16th, two working days before E-20 (by hand)."""
    tasks = (
        task("notice", 1, offset_days=-20),
        task("public-test", 1, "notice", fixed_date=dt.date(2028, 10, 17), fixed_reason="the hall is free"),
    )
    (one,) = conflicts(tasks, DAY, WEEK)[0]
    assert one.kind is ConflictKind.FIXED_TOO_EARLY
    assert (one.task, one.behind, one.short_days) == ("notice", "public-test", 2)


def test_each_circle_is_named_and_the_rest_still_gets_its_dates() -> None:
    """Two circles of waiting and one of counting; what lies outside is dated as ever."""
    tasks = (
        task("a", 1, "c"),
        task("b", 1, "a"),
        task("c", 1, "b"),
        task("d", 1, "e"),
        task("e", 1, "d"),
        task("f", 1, offset_days=-5, from_task="g"),
        task("g", 1, offset_days=-5, from_task="f"),
        task("h", 1, offset_days=-5),
    )
    _, circles = conflicts(tasks, DAY, WEEK)
    assert [(one.what, one.tasks) for one in circles] == [
        ("after", ("a", "c", "b", "a")),
        ("after", ("d", "e", "d")),
        ("from_task", ("f", "g", "f")),
    ]
    assert {n.subject for n in conflict_notices(tasks, DAY, WEEK) if n.kind is NoticeKind.FAULT} == {
        "tasks/after/a-c-b",
        "tasks/after/d-e",
        "tasks/from_task/f-g",
    }
    assert schedule(tasks, DAY, WEEK, begin=BEGIN).of("h").due == dt.date(2028, 11, 2)


def test_every_step_to_a_date_is_told() -> None:
    """45 days before election day is a Saturday and rolls back; five working days before count from it."""
    tasks = (
        task("letters", 1, offset_days=-45, roll="previous working day"),
        task("print", 1, offset_days=-5, from_task="letters", offset_counts=Counted.WORKING.value),
        task("kept", 1, fixed_date=dt.date(2028, 9, 1), fixed_reason="the board meets then", offset_days=-3),
    )
    dues, _ = due_dates(tasks, DAY, WEEK)
    told = [(step.text.english(), step.date) for step in dues["letters"].steps]
    assert told == [
        ("Election day is day 0.", DAY),
        ("45 days before it.", dt.date(2028, 9, 23)),
        ("The office is closed then; the table says: previous working day.", dt.date(2028, 9, 22)),
    ]
    assert dues["print"].date == dt.date(2028, 9, 15)
    assert [step.text.english() for step in dues["print"].steps] == [
        "It counts from letters.",
        "5 working days before it.",
    ]
    assert dues["kept"].steps[0].text.english() == "A person decided this date: the board meets then"
