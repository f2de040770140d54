"""The calendar of a county as it stands on a day: dates, what the record says is done, what does not fit."""

from __future__ import annotations

import csv
import datetime as dt
import io

from pollstead.election.calendar import Task
from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.fact_edits import Edit, add_row
from pollstead.intake.starter_tasks import starter_text
from pollstead.plan.calendar.clocks import ChangedHours, ClockChange, changed_hours, clock_changes
from pollstead.plan.calendar.conflicts import OFFICIAL, Conflict, conflict_notices, conflicts
from pollstead.plan.calendar.days import WorkingDays, working_days_of
from pollstead.plan.calendar.network import Done, Schedule, schedule
from pollstead.plan.calendar.states import Standing, TaskState, standings
from pollstead.record.facts import Fold
from pollstead.record.kinds.calendars import TaskDone

FACT = "task"


class Said(Value, frozen=True, kw_only=True):
    """One person's word that a task is done (`on` is the date) or open again (`on` is None).

    `why` is the evidence or the reason, None where it is not at hand.
    """

    task: str
    on: dt.date | None
    person: str
    utc_ms: int
    why: str | None
    current: bool


class CalendarView(Value, frozen=True, kw_only=True):
    """The calendar on `today`. `differing` are tasks about which two entries say different things."""

    today: dt.date
    election_day: dt.date
    days: WorkingDays
    schedule: Schedule
    standings: tuple[Standing, ...]
    conflicts: tuple[Conflict, ...]
    changes: tuple[ClockChange, ...]
    changed_hours: tuple[ChangedHours, ...]
    done: tuple[Done, ...]
    differing: tuple[str, ...]

    def of(self, task: str) -> Standing | None:
        """One task as it stands; None where there is none of this id."""
        return next((one for one in self.standings if one.task.id == task), None)

    def in_state(self, *states: TaskState) -> tuple[Standing, ...]:
        """The tasks in these states, in the order of their dates."""
        return tuple(one for one in self.standings if one.state in states)


def said_of(folded: Fold, task: str) -> tuple[Said, ...]:
    """Everything that was said about a task, in the order of causes."""
    fact = folded.find(f"task/{task}", FACT)
    if fact is None:
        return ()
    current = {reading.event for reading in fact.current}
    found = []
    for reading in fact.readings:
        private = reading.private
        why = None if private is None else private.get("evidence", private.get("reason"))
        done = reading.kind == TaskDone.kind
        found.append(
            Said(
                task=task,
                on=dt.date.fromisoformat(str(reading.value["on"])) if done else None,
                person=reading.people[0].person if reading.people else "",
                utc_ms=reading.utc_ms,
                why=why if isinstance(why, str) else None,
                current=reading.event in current,
            )
        )
    return tuple(found)


def done_tasks(folded: Fold, tasks: tuple[Task, ...]) -> tuple[tuple[Done, ...], tuple[str, ...]]:
    """The tasks that everybody's last word says are done, and those about which last words differ.

    Where two last words differ a task counts as open; where both say done, since the later date.
    """
    done: list[Done] = []
    differing: list[str] = []
    for task in tasks:
        last = [one for one in said_of(folded, task.id) if one.current]
        dates = [one.on for one in last if one.on is not None]
        if dates and len(dates) == len(last):
            done.append(Done(task=task.id, on=max(dates)))
        elif dates:
            differing.append(task.id)
    return tuple(done), tuple(differing)


def calendar_view(election: Election, folded: Fold | None, today: dt.date) -> CalendarView:
    """The calendar of `election` as it stands on `today`, with what the record says is done."""
    days = working_days_of(election)
    done, differing = ((), ()) if folded is None else done_tasks(folded, election.tasks)
    made = schedule(election.tasks, election.election_day, days, begin=today, done=done)
    crossing, _ = conflicts(election.tasks, election.election_day, days)
    reach = [today, election.election_day, *(one.by for one in made.tasks)]
    changes = clock_changes(min(reach), max(reach), election.zone_name, election.election_day)
    return CalendarView(
        today=today,
        election_day=election.election_day,
        days=days,
        schedule=made,
        standings=standings(election.tasks, made, today),
        conflicts=crossing,
        changes=changes,
        changed_hours=tuple(
            hours for change in changes for hours in changed_hours(election.sites, change, election.zone_name)
        ),
        done=done,
        differing=differing,
    )


def calendar_notices(election: Election, view: CalendarView) -> tuple[Notice, ...]:
    """Dates that cross, circles, and an open item for each task that is late on the day of the view."""
    late = [_late_notice(one) for one in view.in_state(TaskState.LATE)]
    return (*conflict_notices(election.tasks, election.election_day, view.days), *late)


def _late_notice(standing: Standing) -> Notice:
    task, due = standing.task, standing.dates.by.isoformat()
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="task-late",
        subject=f"task/{task.id}",
        text=message(N_("{task} was due on {due} and nobody said that it is done"), task=task.words, due=due),
        found=N_("not done"),
        wanted=due,
        remedy=message(N_("Do it, or say in the calendar what shows that it is done.")),
        owner=task.owner_role or OFFICIAL,
        due=due,
        who_decides=N_("counsel") if task.bound else OFFICIAL,
        depends=(due, task.kind),
    )


def today_in(election: Election, utc_ms: int) -> dt.date:
    """The date on the county's wall clock at an instant."""
    return Instant(utc_ms=utc_ms).local(election.zone_name).date()


def starter_edits() -> tuple[Edit, ...]:
    """The edits that put the list that ships into a county without tasks."""
    rows = csv.DictReader(io.StringIO(starter_text()))
    return tuple(add_row("tasks", {name: cell for name, cell in row.items() if cell}) for row in rows)
