"""What is due, late, done, without owner or not confirmed, on a given day; nothing is done by default."""

from __future__ import annotations

import datetime as dt
import enum

from pollstead.election.calendar import Task
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.calendar.network import Schedule, TaskDates

DAYS_OF_A_WEEK = 7


class TaskState(enum.StrEnum):
    """How a task stands on a day."""

    DONE = N_("done")
    LATE = N_("late")
    DUE = N_("due this week")
    BEGIN = N_("should have begun")
    LATER = N_("later")


class Standing(Value, frozen=True, kw_only=True):
    """One task with its dates and its state; `waits_for` are the tasks before it that are not done."""

    task: Task
    dates: TaskDates
    state: TaskState
    waits_for: tuple[str, ...] = ()

    @property
    def owned(self) -> bool:
        """Whether a person or a role owns it."""
        return bool(self.task.owner or self.task.owner_role)

    @property
    def unconfirmed(self) -> bool:
        """Whether law or a directive is said to set its date and nobody confirmed it."""
        return self.task.bound and not self.task.confirmed


def state_of(dates: TaskDates, today: dt.date) -> TaskState:
    """The state of a task on `today`; due this week means today and the six days after it."""
    if dates.done:
        return TaskState.DONE
    if dates.by < today:
        return TaskState.LATE
    if dates.by < today + dt.timedelta(days=DAYS_OF_A_WEEK):
        return TaskState.DUE
    return TaskState.BEGIN if dates.late_start < today else TaskState.LATER


def standings(tasks: tuple[Task, ...], schedule: Schedule, today: dt.date) -> tuple[Standing, ...]:
    """Every task as it stands on `today`, in the order of its date, then of its id."""
    by_id = {dates.task: dates for dates in schedule.tasks}
    found = [
        Standing(
            task=task,
            dates=by_id[task.id],
            state=state_of(by_id[task.id], today),
            waits_for=tuple(name for name in task.after if name in by_id and not by_id[name].done),
        )
        for task in tasks
    ]
    return tuple(sorted(found, key=lambda one: (one.dates.by, one.task.id)))
