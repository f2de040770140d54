"""Forward and backward pass over the tasks: earliest and latest dates, total and free slack, critical path.

The critical path method: Kelley and Walker, "Critical-path planning and scheduling", 1959 (from memory), here
over working days and with dates that tasks have of their own. Slack is counted in working days.
"""

from __future__ import annotations

import datetime as dt
import graphlib

import msgspec

from pollstead.election.calendar import Task, Timing
from pollstead.election.values import Value
from pollstead.plan.calendar.days import WorkingDays
from pollstead.plan.calendar.due import Circle, Due, Links, due_dates, without_circles


class Done(Value, frozen=True, kw_only=True):
    """A task that is done, and since when."""

    task: str
    on: dt.date


class TaskDates(Value, frozen=True, kw_only=True):
    """The dates of one task, all of them days on which it begins or ends.

    `due` is the table's own date, None where it gives none. `total_slack` is how many working days it may
    end later than its earliest end with no date missed, below 0 where one is missed already; `free_slack`
    how many with no other task moved. A done task has the day on which it was done everywhere, and no slack.
    """

    task: str
    due: dt.date | None
    early_start: dt.date
    early_finish: dt.date
    late_start: dt.date
    late_finish: dt.date
    total_slack: int
    free_slack: int
    critical: bool = False
    done: bool = False

    @property
    def by(self) -> dt.date:
        """The date under which it stands in lists: the table's own, else the latest end."""
        return self.late_finish if self.due is None else self.due


class Schedule(Value, frozen=True, kw_only=True):
    """The dates of every task, in the order given, and what could not be computed."""

    begin: dt.date
    tasks: tuple[TaskDates, ...]
    dues: tuple[Due, ...]
    circles: tuple[Circle, ...] = ()

    def of(self, task: str) -> TaskDates:
        """The dates of one task; raises KeyError naming it otherwise."""
        for dates in self.tasks:
            if dates.task == task:
                return dates
        raise KeyError(f"no task has the id {task!r}")

    def due(self, task: str) -> Due:
        """The table's date of one task with its steps; raises KeyError naming it otherwise."""
        for due in self.dues:
            if due.task == task:
                return due
        raise KeyError(f"no task has the id {task!r}")


class Network:
    """Tasks with their links and dates, ready for passes in either direction."""

    def __init__(self, tasks: tuple[Task, ...], election_day: dt.date, days: WorkingDays) -> None:
        self.tasks = {task.id: task for task in tasks}
        self.days = days
        self.dues, counted = due_dates(tasks, election_day, days)
        self.before, waiting = without_circles({task.id: task.after for task in tasks}, "after")
        self.circles = (*waiting, *counted)
        self.order = tuple(graphlib.TopologicalSorter(self.before).static_order())
        self.behind: Links = dict.fromkeys(self.order, ())
        for name in self.order:
            for before in self.before[name]:
                self.behind[before] = (*self.behind[before], name)
        self.last_date = max(
            (due.date for due in self.dues.values() if due.date is not None), default=election_day
        )

    def ends(self, name: str, at: dt.date, boundary: dt.date, latest: dict[str, dt.date]) -> dt.date:
        """The earliest end of a task that may begin at the end of `at`, seen on the day after `boundary`.

        A task that should have begun before (`latest` are the latest boundaries), and that waits for nothing
        still to come, is taken as begun in time: it needs no more than is left of its time, and where all of
        that is over it can end today.
        """
        task = self.tasks[name]
        today = boundary + dt.timedelta(days=1)
        if latest.get(name, boundary) < boundary and at <= today:
            length = task.duration_days
            return max(today, self.days.advance(latest[name], length, task.duration_counts))
        return self.days.advance(at, task.duration_days, task.duration_counts)

    def retreat(self, task: Task, finish: dt.date) -> dt.date:
        """The latest boundary from which `task` ends by `finish`."""
        return self.days.retreat(finish, task.duration_days, task.duration_counts)

    def forward(
        self, begin: dt.date, done: dict[str, dt.date], latest: dict[str, dt.date]
    ) -> tuple[dict[str, dt.date], dict[str, dt.date]]:
        """The earliest boundary and the earliest end of each task; nothing begins before the end of `begin`.

        A task that happens on a date does not end before it. What should have begun: see `ends`.
        """
        start: dict[str, dt.date] = {}
        finish: dict[str, dt.date] = {}
        for name in self.order:
            task, due = self.tasks[name], self.dues[name].date
            if name in done:
                start[name] = finish[name] = done[name]
                continue
            at = max([begin, *(finish[before] for before in self.before[name])])
            end = self.ends(name, at, begin, latest)
            if task.timing == Timing.ON.value and due is not None:
                at = max(at, self.retreat(task, due))
                end = max(end, due)
            start[name] = at
            finish[name] = end
        return start, finish

    def backward(
        self, last: dt.date, done: dict[str, dt.date]
    ) -> tuple[dict[str, dt.date], dict[str, dt.date]]:
        """The latest boundary and the latest end of each task such that no date is missed."""
        start: dict[str, dt.date] = {}
        finish: dict[str, dt.date] = {}
        for name in reversed(self.order):
            if name in done:
                start[name] = finish[name] = done[name]
                continue
            due = self.dues[name].date
            # What is done needed this one before, but a date of its own still gives it its own time.
            waiting = [start[behind] for behind in self.behind[name] if behind not in done or due is None]
            finish[name] = min([*waiting, due if due is not None else last])
            start[name] = self.retreat(self.tasks[name], finish[name])
        return start, finish


def schedule(
    tasks: tuple[Task, ...],
    election_day: dt.date,
    days: WorkingDays,
    *,
    begin: dt.date | None = None,
    done: tuple[Done, ...] = (),
) -> Schedule:
    """The dates and slack of every task.

    Work begins on `begin` at the earliest; without it, on the day on which the first task must begin so that
    no date is missed. Slack below 0 is how many working days a date is missed already.
    """
    network = Network(tasks, election_day, days)
    finished = {one.task: one.on for one in done if one.task in network.tasks}
    latest, _ = network.backward(network.last_date, finished)
    boundary = begin - dt.timedelta(days=1) if begin is not None else None
    if boundary is None:
        open_tasks = [date for name, date in latest.items() if name not in finished]
        boundary = min(open_tasks, default=election_day)
    early, ends = network.forward(boundary, finished, latest)
    last = max([network.last_date, *ends.values()])
    late, late_ends = network.backward(last, finished)
    rows = [_dates(network, name, early, ends, late, late_ends, finished) for name in network.tasks]
    least = min((row.total_slack for row in rows if not row.done), default=0)
    return Schedule(
        begin=boundary + dt.timedelta(days=1),
        tasks=tuple(
            msgspec.structs.replace(row, critical=not row.done and row.total_slack <= max(least, 0))
            for row in rows
        ),
        dues=tuple(network.dues.values()),
        circles=network.circles,
    )


def _dates(
    network: Network,
    name: str,
    early: dict[str, dt.date],
    ends: dict[str, dt.date],
    late: dict[str, dt.date],
    late_ends: dict[str, dt.date],
    done: dict[str, dt.date],
) -> TaskDates:
    task, days = network.tasks[name], network.days

    def first(boundary: dt.date) -> dt.date:
        return (
            boundary if name in done else days.first_day(boundary, task.duration_days, task.duration_counts)
        )

    waiting = [
        days.between(ends[name], early[behind]) for behind in network.behind[name] if behind not in done
    ]
    total = 0 if name in done else days.between(ends[name], late_ends[name])
    return TaskDates(
        task=name,
        due=network.dues[name].date,
        early_start=first(early[name]),
        early_finish=ends[name],
        late_start=first(late[name]),
        late_finish=late_ends[name],
        total_slack=total,
        free_slack=0 if name in done else min([total, *waiting]),
        done=name in done,
    )
