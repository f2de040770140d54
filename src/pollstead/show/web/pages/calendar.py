"""What is due, and whose is it? Tasks by date, with owners and states; ticking them done with evidence."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from litestar import Request, Response, get, post

from pollstead.election.calendar import Task
from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.calendar.clocks import ClockChange
from pollstead.plan.calendar.conflicts import Conflict
from pollstead.plan.calendar.due import Circle
from pollstead.plan.calendar.states import Standing, TaskState
from pollstead.record.kinds.calendars import Evidence, TaskDone
from pollstead.show.calendar_words import (
    WEEKDAYS,
    clock_words,
    counted_from,
    is_owned_by,
    owner_key,
    owner_words,
    owners,
    week_of,
)
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.who_page import FieldFault
from pollstead.work.calendar_view import CalendarView, calendar_view, starter_edits, today_in

LONGEST_EVIDENCE = 2_000
STATES = (
    ("open", N_("Everything not done")),
    ("late", N_("Late")),
    ("due", N_("Due this week")),
    ("begin", N_("Should have begun")),
    ("unowned", N_("No owner")),
    ("unconfirmed", N_("Date not confirmed")),
    ("done", N_("Done")),
    ("all", N_("Everything")),
)
MARKS = {
    TaskState.DONE: "square",
    TaskState.LATE: "diamond",
    TaskState.DUE: "half",
    TaskState.BEGIN: "diamond",
    TaskState.LATER: "ring",
}


class TaskRow(Value, frozen=True, kw_only=True):
    """One task of the list."""

    id: str
    words: str
    date: dt.date
    weekday: str
    counted: str
    owner: str
    state: str
    mark: str
    slack: int
    done: bool
    unconfirmed: bool
    crossing: bool
    differs: bool
    waits_for: tuple[str, ...]


class Week(Value, frozen=True, kw_only=True):
    """The tasks of one week, and the clock change in it, if any."""

    begins: dt.date
    now: bool
    rows: tuple[TaskRow, ...]
    clocks: tuple[Message, ...]


class OwnerChoice(Value, frozen=True, kw_only=True):
    """An owner to choose: what stands in the address, and the words."""

    key: str
    words: str


class CalendarPage(Page, frozen=True, kw_only=True):
    """The list."""

    template: ClassVar[str] = "calendar.html"

    today: dt.date
    election_day: dt.date
    counts: tuple[tuple[str, str, int], ...]
    weeks: tuple[Week, ...]
    tasks: int
    owner_choices: tuple[OwnerChoice, ...]
    states: tuple[tuple[str, str], ...]
    owner: str
    state: str
    conflicts: tuple[Conflict, ...]
    circles: tuple[Circle, ...]
    clocks: tuple[tuple[ClockChange, Message], ...]
    cautions: tuple[Caution, ...]
    may_tick: bool
    may_start: bool
    faults: tuple[FieldFault, ...]
    typed: str
    typed_on: str
    ticked: tuple[str, ...]


def view_now(ask: Ask) -> tuple[Election, CalendarView]:
    """The county as its tables are now, and its calendar today; raises Trouble where they cannot be read."""
    election = ask.folder.tables_election()
    if election is None:
        raise Trouble(
            409,
            N_("The county's tables cannot be read."),
            N_("See what is open, and mend the tables."),
            link="/open",
        )
    return election, calendar_view(election, ask.folder.fold(), today_in(election, ask.folder.clock()))


def owner_said(ask: Ask, task: Task, election: Election) -> str:
    """The owner as this role may see it."""
    return owner_words(task, election, names=ask.may(Capability.SEE_PEOPLE))


def row_of(ask: Ask, election: Election, view: CalendarView, standing: Standing) -> TaskRow:
    """One row."""
    task, dates = standing.task, standing.dates
    return TaskRow(
        id=task.id,
        words=task.words,
        date=dates.by,
        weekday=WEEKDAYS[dates.by.weekday()],
        counted=counted_from(dates.by, view.election_day),
        owner=owner_said(ask, task, election),
        state=standing.state.value,
        mark=MARKS[standing.state],
        slack=dates.total_slack,
        done=dates.done,
        unconfirmed=standing.unconfirmed,
        crossing=any(one.task == task.id for one in view.conflicts),
        differs=task.id in view.differing,
        waits_for=standing.waits_for,
    )


def chosen(standing: Standing, state: str, owner: str) -> bool:
    """Whether a task is among those that were asked for."""
    if owner and not (is_owned_by(standing.task, owner) or (owner == "-" and not standing.owned)):
        return False
    return {
        "open": not standing.dates.done,
        "late": standing.state is TaskState.LATE,
        "due": standing.state is TaskState.DUE,
        "begin": standing.state is TaskState.BEGIN,
        "unowned": not standing.owned,
        "unconfirmed": standing.unconfirmed,
        "done": standing.dates.done,
        "all": True,
    }[state]


def calendar_page(
    ask: Ask,
    *,
    faults: tuple[FieldFault, ...] = (),
    typed: str = "",
    on: str = "",
    ticked: tuple[str, ...] = (),
) -> CalendarPage:
    """The list as things are now."""
    election, view = view_now(ask)
    state, owner = ask.query.get("state", "open"), ask.query.get("owner", "")
    state = state if state in dict(STATES) else "open"
    rows = [s for s in view.standings if chosen(s, state, owner)]
    clocks = tuple((change, clock_words(change.shift_min)) for change in view.changes)
    weeks = []
    for begins in sorted({week_of(s.dates.by) for s in rows}):
        weeks.append(
            Week(
                begins=begins,
                now=begins == week_of(view.today),
                rows=tuple(row_of(ask, election, view, s) for s in rows if week_of(s.dates.by) == begins),
                clocks=tuple(words for change, words in clocks if week_of(change.date) == begins),
            )
        )
    keys = owners(election.tasks)
    first = {key: next(t for t in election.tasks if owner_key(t) == key) for key in keys}
    return CalendarPage(
        **ask.frame(N_("What is due, and whose is it?")),
        today=view.today,
        election_day=view.election_day,
        counts=tuple(
            (key, words, sum(chosen(s, key, "") for s in view.standings))
            for key, words in STATES
            if key not in ("all", "open")
        ),
        weeks=tuple(weeks),
        tasks=len(election.tasks),
        owner_choices=tuple(
            OwnerChoice(key=key, words=owner_said(ask, first[key], election)) for key in keys if key
        ),
        states=STATES,
        owner=owner,
        state=state,
        conflicts=view.conflicts,
        circles=view.schedule.circles,
        clocks=clocks,
        cautions=for_place(Place.CALENDAR),
        may_tick=ask.may(Capability.TICK),
        may_start=ask.may(Capability.CHANGE),
        faults=faults,
        typed=typed,
        typed_on=on or view.today.isoformat(),
        ticked=ticked,
    )


@get("/calendar")
@in_thread
def calendar(request: Request[Any, Any, Any]) -> Response[str]:
    """The page."""
    ask = Ask(request)
    return answer(ask, calendar_page(ask))


@post("/calendar")
@in_thread
def tick_tasks(request: Request[Any, Any, Any]) -> Response[Any]:
    """Tick tasks done with what shows it, several at once."""
    ask = Ask(request)
    _, view = view_now(ask)
    names = tuple(s.task.id for s in view.standings if ask.form.text(f"task-{s.task.id}") == "yes")
    evidence, on = ask.form.text("evidence"), ask.form.text("on")
    faults = list(done_faults(evidence, on, view.today))
    if not names:
        first = view.standings[0].task.id if view.standings else "evidence"
        words = message(N_("Tick at least one task in the list."))
        faults.insert(0, FieldFault(field=f"task-{first}", words=words))
    if faults:
        page = calendar_page(ask, faults=tuple(faults), typed=evidence, on=on, ticked=names)
        return answer(ask, page, status=422)
    for name in names:
        write_done(ask, name, evidence, on)
    return go(own_list(ask))


def own_list(ask: Ask) -> str:
    """The list as it was asked for, after a form was taken."""
    return ask.address if ask.path == "/calendar" else "/calendar"


def done_faults(evidence: str, on: str, today: dt.date) -> tuple[FieldFault, ...]:
    """What needs another look before a task can be said to be done."""
    faults = []
    if not evidence or len(evidence) > LONGEST_EVIDENCE:
        words = message(N_("Write what shows that it is done, such as: signed list in the red binder."))
        faults.append(FieldFault(field="evidence", words=words))
    try:
        date = dt.date.fromisoformat(on)
    except ValueError:
        date = None
    if date is None or len(on) != len("2028-09-23"):
        words = message(N_("Type the date on which it was done, such as 2028-09-23."))
        faults.append(FieldFault(field="on", words=words))
    elif date > today:
        words = message(
            N_("Nothing can be done on a day to come: today is {today}."), today=today.isoformat()
        )
        faults.append(FieldFault(field="on", words=words))
    return tuple(faults)


def write_done(ask: Ask, task: str, evidence: str, on: str) -> None:
    """Record that a task is done."""
    subject = f"task/{task}"
    ask.folder.write(
        TaskDone(on=on),
        who=ask.person(),
        subject=subject,
        after=ask.folder.fold().heads(subject, "task"),
        private=Evidence(evidence=evidence),
    )


@post("/calendar/start")
@in_thread
def take_starter(request: Request[Any, Any, Any]) -> Response[Any]:
    """Put the list that ships into a county without tasks, by one event that can be undone."""
    ask = Ask(request)
    election, _ = view_now(ask)
    if election.tasks:
        raise Trouble(409, N_("This county has tasks already."), N_("Go back to the list."), link="/calendar")
    ask.folder.change_facts(
        starter_edits(),
        who=ask.person(),
        act="import",
        subject="facts",
        reason=ask.speak.plain(N_("List of tasks that ships as a start")),
    )
    return go("/calendar")
