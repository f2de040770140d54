"""One task of the calendar: why this date, who said what, what if it slips; done, or open again."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.calendar import Task
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.calendar.due import Step
from pollstead.plan.calendar.network import TaskDates
from pollstead.plan.calendar.what_if import MOST_SLIP_DAYS, WhatIf, what_if_slips
from pollstead.record.kinds.body import Reason
from pollstead.record.kinds.calendars import TaskReopened
from pollstead.show.calendar_words import KIND_WORDS, WEEKDAYS
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.calendar import (
    LONGEST_EVIDENCE,
    TaskRow,
    done_faults,
    row_of,
    view_now,
    write_done,
)
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.who_page import FieldFault
from pollstead.work.calendar_view import said_of


class StepRow(Value, frozen=True, kw_only=True):
    """One step to the date, with its weekday."""

    step: Step
    weekday: str


class SaidRow(Value, frozen=True, kw_only=True):
    """One entry about the task, as this role may see it."""

    utc_ms: int
    on: dt.date | None
    person: str
    why: str
    current: bool


class Neighbor(Value, frozen=True, kw_only=True):
    """A task before or behind this one."""

    id: str
    words: str
    date: dt.date
    done: bool


class TaskPage(Page, frozen=True, kw_only=True):
    """One task."""

    template: ClassVar[str] = "calendar_task.html"

    task: Task
    row: TaskRow
    dates: TaskDates
    kind_words: str
    steps: tuple[StepRow, ...]
    before: tuple[Neighbor, ...]
    behind: tuple[Neighbor, ...]
    said: tuple[SaidRow, ...]
    zone: str
    cautions: tuple[Caution, ...]
    may_tick: bool
    slip: str
    found: WhatIf | None
    words_of: tuple[tuple[str, str], ...]
    faults: tuple[FieldFault, ...]
    typed: str
    typed_on: str


def task_page(
    ask: Ask, name: str, *, faults: tuple[FieldFault, ...] = (), typed: str = "", on: str = ""
) -> TaskPage:
    """The page of one task; raises Trouble where there is no such task."""
    election, view = view_now(ask)
    standing = view.of(name)
    if standing is None:
        raise Trouble(404, N_("No task has this id."), N_("Look for it in the list."), link="/calendar")
    tasks = {task.id: task for task in election.tasks}

    def near(names: tuple[str, ...]) -> tuple[Neighbor, ...]:
        found = []
        for other in names:
            if other in tasks:
                dates = view.schedule.of(other)
                found.append(Neighbor(id=other, words=tasks[other].words, date=dates.by, done=dates.done))
        return tuple(sorted(found, key=lambda one: (one.date, one.id)))

    slip = ask.query.get("slip", "")
    found: WhatIf | None = None
    if slip:
        if slip.isascii() and slip.isdecimal() and 1 <= int(slip) <= MOST_SLIP_DAYS:
            found = what_if_slips(
                election.tasks,
                election.election_day,
                view.days,
                task=name,
                slip_days=int(slip),
                begin=view.today,
                done=view.done,
            )
        else:
            words = message(N_("Type working days, from 1 to {most}."), most=MOST_SLIP_DAYS)
            faults = (*faults, FieldFault(field="slip", words=words))
    return TaskPage(
        **ask.frame(N_("{task}: when, and why then?"), task=standing.task.words),
        task=standing.task,
        row=row_of(ask, election, view, standing),
        dates=standing.dates,
        kind_words=KIND_WORDS[standing.task.kind],
        steps=tuple(
            StepRow(step=step, weekday=WEEKDAYS[step.date.weekday()] if step.date else "")
            for step in view.schedule.due(name).steps
        ),
        before=near(standing.task.after),
        behind=near(tuple(task.id for task in election.tasks if name in task.after)),
        said=_said(ask, name),
        zone=ask.folder.zone_name,
        cautions=for_place(Place.CALENDAR),
        may_tick=ask.may(Capability.TICK),
        slip=slip,
        found=found,
        words_of=tuple((task.id, task.words) for task in election.tasks),
        faults=faults,
        typed=typed,
        typed_on=on or view.today.isoformat(),
    )


def _said(ask: Ask, name: str) -> tuple[SaidRow, ...]:
    """What was said, newest first; names and evidence only where the role sees names of people."""
    sees = ask.may(Capability.SEE_PEOPLE)
    held_back = ask.speak.plain(N_("Your role does not see this."))
    return tuple(
        SaidRow(
            utc_ms=one.utc_ms,
            on=one.on,
            person=ask.folder.person_name(one.person) if sees else one.person,
            why=(one.why or "") if sees else held_back,
            current=one.current,
        )
        for one in reversed(said_of(ask.folder.fold(), name))
    )


@get("/calendar/task/{task:str}")
@in_thread
def calendar_task(request: Request[Any, Any, Any], task: FromPath[str]) -> Response[str]:
    """The page."""
    ask = Ask(request)
    page = task_page(ask, task)
    return answer(ask, page, status=422 if page.faults else 200)


@post("/calendar/task/{task:str}")
@in_thread
def change_task(request: Request[Any, Any, Any], task: FromPath[str]) -> Response[Any]:
    """Say that the task is done, or that it is open again."""
    ask = Ask(request)
    _, view = view_now(ask)
    if view.of(task) is None:
        raise Trouble(404, N_("No task has this id."), N_("Look for it in the list."), link="/calendar")
    if ask.form.text("act") == "reopen":
        return _reopen(ask, task)
    evidence, on = ask.form.text("evidence"), ask.form.text("on")
    faults = done_faults(evidence, on, view.today)
    if faults:
        return answer(ask, task_page(ask, task, faults=faults, typed=evidence, on=on), status=422)
    write_done(ask, task, evidence, on)
    return go(f"/calendar/task/{task}")


def _reopen(ask: Ask, task: str) -> Response[Any]:
    reason = ask.form.text("reason")
    if not reason or len(reason) > LONGEST_EVIDENCE:
        words: Message = message(N_("Write why it is open again."))
        page = task_page(ask, task, faults=(FieldFault(field="reason", words=words),))
        return answer(ask, page, status=422)
    subject = f"task/{task}"
    ask.folder.write(
        TaskReopened(),
        who=ask.person(),
        subject=subject,
        after=ask.folder.fold().heads(subject, "task"),
        private=Reason(reason=reason),
    )
    return go(f"/calendar/task/{task}")
