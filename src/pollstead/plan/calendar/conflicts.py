"""Dates that do not go together: a date before the end of what must come first, and circles.

Only what the tables say counts here, not the day on which somebody looks: these conflicts stand from the
first day on.
"""

from __future__ import annotations

import datetime as dt
import enum

from pollstead.election.calendar import Task, Timing
from pollstead.election.notice import Grade, Notice, NoticeKind, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan.calendar.days import WorkingDays
from pollstead.plan.calendar.due import Circle
from pollstead.plan.calendar.network import Network

FILE = "tasks.csv"
OFFICIAL = N_("election official")


class ConflictKind(enum.StrEnum):
    """Whether the later task happens on its date whatever comes, or has it as its last day."""

    FIXED_TOO_EARLY = "date before the end of what comes first"
    CROSSING = "dates cross"


class Conflict(Value, frozen=True, kw_only=True):
    """`task` is due on `due`, but `behind`, dated `behind_due`, needs it by `needed`, `short_days` earlier.

    `through` are the tasks between the two that have no date of their own that binds, in order of work.
    `short_days` are working days.
    """

    kind: ConflictKind
    task: str
    due: dt.date
    behind: str
    behind_due: dt.date
    needed: dt.date
    short_days: int
    through: tuple[str, ...] = ()
    bound: bool = False


def conflicts(
    tasks: tuple[Task, ...], election_day: dt.date, days: WorkingDays
) -> tuple[tuple[Conflict, ...], tuple[Circle, ...]]:
    """Every pair of dates that cross, in the order of the earlier task's id, and every circle."""
    network = Network(tasks, election_day, days)
    start, finish = network.backward(network.last_date, {})
    found = []
    for name in sorted(network.tasks):
        due = network.dues[name].date
        if due is None or due <= finish[name]:
            continue
        path = _to_the_date_that_binds(network, name, start, finish)
        behind = network.tasks[path[-1]]
        behind_due = network.dues[behind.id].date
        if behind_due is None:
            continue
        fixed = behind.timing == Timing.ON.value or behind.fixed_date is not None
        found.append(
            Conflict(
                kind=ConflictKind.FIXED_TOO_EARLY if fixed else ConflictKind.CROSSING,
                task=name,
                due=due,
                behind=behind.id,
                behind_due=behind_due,
                needed=finish[name],
                short_days=max(days.between(finish[name], due), 1),
                through=path[1:-1],
                bound=behind.bound or network.tasks[name].bound,
            )
        )
    return tuple(found), network.circles


def _to_the_date_that_binds(
    network: Network, name: str, start: dict[str, dt.date], finish: dict[str, dt.date]
) -> tuple[str, ...]:
    """The path from `name` along the tasks that set its latest end, to the one whose own date does."""
    path = [name]
    while True:
        here = path[-1]
        following = sorted(behind for behind in network.behind[here] if start[behind] == finish[here])
        if len(path) > 1 and network.dues[here].date == finish[here]:
            return tuple(path)
        if not following:
            return tuple(path)
        path.append(following[0])


def conflict_notices(tasks: tuple[Task, ...], election_day: dt.date, days: WorkingDays) -> tuple[Notice, ...]:
    """A rule not met for each pair of dates that cross, a fault for each circle."""
    crossing, circles = conflicts(tasks, election_day, days)
    row = {task.id: task for task in tasks}
    return (
        *(_circle_notice(circle) for circle in circles),
        *(_crossing_notice(conflict, row) for conflict in crossing),
    )


def _crossing_notice(conflict: Conflict, tasks: dict[str, Task]) -> Notice:
    return Notice(
        kind=NoticeKind.RULE_NOT_MET,
        rule="dates-cross",
        subject=f"task/{conflict.task}/{conflict.behind}",
        text=message(
            N_("{task} is due on {due}; {behind}, dated {behind_due}, waits for it and needs it by {needed}"),
            task=conflict.task,
            due=conflict.due.isoformat(),
            behind=conflict.behind,
            behind_due=conflict.behind_due.isoformat(),
            needed=conflict.needed.isoformat(),
        ),
        found=conflict.due.isoformat(),
        wanted=conflict.needed.isoformat(),
        remedy=message(
            N_("Date {task} earlier, give fewer days to the work between, or ask who may move {behind}."),
            task=conflict.task,
            behind=conflict.behind,
        ),
        place=Place(file=FILE),
        owner=tasks[conflict.task].owner_role or OFFICIAL,
        who_decides=N_("counsel") if conflict.bound else OFFICIAL,
        due=conflict.needed.isoformat(),
        depends=(
            conflict.due.isoformat(),
            conflict.needed.isoformat(),
            conflict.behind_due.isoformat(),
            *conflict.through,
        ),
    )


def _circle_notice(circle: Circle) -> Notice:
    chain = " → ".join(circle.tasks)
    waiting = circle.what == "after"
    return Notice(
        kind=NoticeKind.FAULT,
        grade=Grade.CONTRADICTS,
        rule="tasks-in-a-circle",
        subject=f"tasks/{circle.what}/{'-'.join(circle.tasks[:-1])}",
        text=message(
            N_("These tasks wait for one another in a circle, so that none can begin: {chain}")
            if waiting
            else N_("These tasks count their dates from one another in a circle: {chain}"),
            chain=chain,
        ),
        found=chain,
        remedy=message(N_("Take one of them out of the circle; until then these links are not used.")),
        place=Place(file=FILE, column=circle.what),
        owner=OFFICIAL,
        depends=circle.tasks,
    )
