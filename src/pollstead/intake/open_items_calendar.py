"""Open items of the calendar: tasks without owner, dates by law that nobody confirmed, lost names."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from pollstead.election.calendar import Task
from pollstead.election.county import Person
from pollstead.election.notice import Notice, Place
from pollstead.election.words import N_, message
from pollstead.intake.notices import due_before, open_item
from pollstead.intake.tables_calendar import TABLES_OF_CALENDAR
from pollstead.intake.taken import Taken

FILE = TABLES_OF_CALENDAR[0].file
OFFICIAL = N_("election official")


def tasks_without_owner(taken: Taken) -> Iterator[Notice]:
    """Each task for which neither a person nor a role is named."""
    for row, task in taken.of(Task):
        if not task.owner and not task.owner_role:
            yield open_item(
                "task-without-owner",
                f"task/{task.id}",
                message(N_("Nobody owns the task {task}: {words}"), task=task.id, words=task.words),
                place=Place(file=FILE, row=row, column="owner"),
                found=N_("no owner"),
                remedy=message(
                    N_("Name a person or at least a role; a task without owner is done by nobody.")
                ),
                owner=OFFICIAL,
                due=due_before(taken.election_day, -(task.offset_days or 0) + 30),
            )


def dates_not_confirmed(taken: Taken) -> Iterator[Notice]:
    """Each date that the county says law or a directive sets, and that nobody confirmed by name and day."""
    for row, task in taken.of(Task):
        if task.bound and not task.confirmed:
            yield open_item(
                "date-not-confirmed",
                f"task/{task.id}",
                message(
                    N_("The date of {task} is typed in as {kind} and not confirmed"),
                    task=task.id,
                    kind=task.kind,
                ),
                place=Place(file=FILE, row=row, column="confirmed_by"),
                found=task.source or N_("no source"),
                wanted=N_("who confirmed it, and on which date"),
                remedy=message(N_("Ask counsel; nobody relies on the date before that.")),
                owner=OFFICIAL,
                who_decides=N_("counsel"),
                depends=(str(task.offset_days), str(task.fixed_date), task.kind, task.source),
            )


def task_names_that_lead_nowhere(taken: Taken) -> Iterator[Notice]:
    """Tasks that wait for, or count from, a task that is not in the table; owners who are in no table."""
    tasks = taken.of(Task)
    known = {task.id for _, task in tasks}
    people = {person.id for _, person in taken.of(Person)}
    for row, task in tasks:
        named = [("after", name) for name in task.after] + [("from_task", task.from_task)]
        lost = [(column, name) for column, name in named if name and name not in known]
        if task.owner and people and task.owner not in people:
            lost.append(("owner", task.owner))
        for column, name in lost:
            yield open_item(
                "task-name-leads-nowhere",
                f"task/{task.id}/{column}/{name}",
                message(
                    N_("{task} names {name} in column {column}, which no table lists"),
                    task=task.id,
                    name=name,
                    column=column,
                ),
                place=Place(file=FILE, row=row, column=column),
                found=name,
                remedy=message(N_("Look for a typing error; what cannot be joined is not used.")),
                owner=OFFICIAL,
            )


CHECKS: tuple[Callable[[Taken], Iterator[Notice]], ...] = (
    tasks_without_owner,
    dates_not_confirmed,
    task_names_that_lead_nowhere,
)
