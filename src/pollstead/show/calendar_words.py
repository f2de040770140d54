"""How dates, owners and states of the calendar read, for pages, paper, files and the command line."""

from __future__ import annotations

import datetime as dt

from pollstead.election.calendar import DateKind, Task
from pollstead.election.county import Election
from pollstead.election.words import N_, Message, message

WEEKDAYS = (
    N_("Monday"),
    N_("Tuesday"),
    N_("Wednesday"),
    N_("Thursday"),
    N_("Friday"),
    N_("Saturday"),
    N_("Sunday"),
)
MONTHS = (
    N_("January"),
    N_("February"),
    N_("March"),
    N_("April"),
    N_("May"),
    N_("June"),
    N_("July"),
    N_("August"),
    N_("September"),
    N_("October"),
    N_("November"),
    N_("December"),
)
NO_OWNER = N_("no owner")
KIND_WORDS = {
    DateKind.LAW.value: N_("typed in as law"),
    DateKind.DIRECTIVE.value: N_("typed in as directive"),
    DateKind.POLICY.value: N_("county policy"),
    DateKind.PRACTICE.value: N_("practice"),
}


def counted_from(date: dt.date, election_day: dt.date) -> str:
    """``E-45``, ``E`` or ``E+3``."""
    days = (date - election_day).days
    return f"E{days:+d}" if days else "E"


def week_of(date: dt.date) -> dt.date:
    """The Sunday on which the week of `date` begins, as on wall calendars in the United States."""
    return date - dt.timedelta(days=(date.weekday() + 1) % 7)


def owner_key(task: Task) -> str:
    """What tells owners apart: the person's id, else the role, else nothing."""
    return task.owner or task.owner_role


def owner_words(task: Task, election: Election, *, names: bool) -> str:
    """The owner as people read it, "" for none. Without `names` a person is the role, or the id."""
    if task.owner:
        person = next((p for p in election.people if p.id == task.owner), None)
        name = person.name if person is not None and names else ""
        role = task.owner_role or (person.role if person is not None else "")
        return f"{name}, {role}" if name and role else name or role or task.owner
    return task.owner_role


def owners(tasks: tuple[Task, ...]) -> tuple[str, ...]:
    """Every owner's key, those without owner ("") last."""
    found = {owner_key(task) for task in tasks}
    return tuple(sorted(found - {""})) + (("",) if "" in found else ())


def is_owned_by(task: Task, owner: str) -> bool:
    """Whether `owner` (a person's id or a role) owns the task."""
    return owner in (task.owner, task.owner_role) and bool(owner)


def clock_words(shift_min: int) -> Message:
    """What the clocks do on a date."""
    if shift_min > 0:
        return message(N_("Clocks go back by {n} minutes; the night is longer than they say."), n=shift_min)
    return message(N_("Clocks go forward by {n} minutes; the night is shorter than they say."), n=-shift_min)
