"""The calendar as lines of text: late first, then by week; slips; the last election's list."""

from __future__ import annotations

from typing import Any

from pollstead.election.county import Election
from pollstead.election.words import N_, message
from pollstead.plan.calendar.states import Standing, TaskState
from pollstead.show.calendar_words import (
    NO_OWNER,
    WEEKDAYS,
    clock_words,
    counted_from,
    is_owned_by,
    owner_words,
)
from pollstead.show.cautions import Place, for_place
from pollstead.show.words import fill, text
from pollstead.work.calendar_view import CalendarView

GROUPS = (
    (TaskState.LATE, N_("Late")),
    (TaskState.DUE, N_("Due this week")),
    (TaskState.BEGIN, N_("Should have begun")),
    (TaskState.LATER, N_("Later")),
    (TaskState.DONE, N_("Done")),
)


def print_calendar(election: Election, view: CalendarView, owner: str) -> None:
    """Print every group with its tasks, then what does not fit, then the caution."""
    if not election.tasks:
        print(text(N_("No tasks yet: fill tasks.csv, or take the list that ships by --starter --by ID.")))
        return
    print(
        fill(
            message(
                N_("As of {today}; election day is {day}"),
                today=view.today.isoformat(),
                day=view.election_day.isoformat(),
            )
        )
    )
    for state, title in GROUPS:
        rows = [s for s in view.in_state(state) if not owner or is_owned_by(s.task, owner)]
        if rows:
            print(fill(message(N_("{title} ({count})"), title=text(title), count=len(rows))))
            for standing in rows:
                _print_task(election, view, standing)
    for one in view.conflicts:
        words = N_("Dates cross: {task} is due on {due}, but {behind} needs it by {needed}")
        print(
            fill(
                message(
                    words,
                    task=one.task,
                    due=one.due.isoformat(),
                    behind=one.behind,
                    needed=one.needed.isoformat(),
                )
            )
        )
    for circle in view.schedule.circles:
        print(fill(message(N_("In a circle: {chain}"), chain=" → ".join(circle.tasks))))
    for change in view.changes:
        print(f"{change.date.isoformat()}: {fill(clock_words(change.shift_min))}")
    for caution in for_place(Place.CALENDAR):
        print(text(caution.words))


def _print_task(election: Election, view: CalendarView, standing: Standing) -> None:
    task, dates = standing.task, standing.dates
    owner = owner_words(task, election, names=True) or text(NO_OWNER)
    day = text(WEEKDAYS[dates.by.weekday()])[:3]
    print(f"  {dates.by.isoformat()} {day} {counted_from(dates.by, view.election_day):>6}  {task.words}")
    about = fill(
        message(
            N_("{task}; {owner}; slack {days} working days"),
            task=task.id,
            owner=owner,
            days=dates.total_slack,
        )
    )
    if standing.unconfirmed:
        about += "; " + text(N_("date not confirmed: call the office"))
    if standing.waits_for and standing.state is not TaskState.DONE:
        about += "; " + fill(message(N_("waits for {tasks}"), tasks=", ".join(standing.waits_for)))
    print(f"      {about}")


def print_slip(found: dict[str, Any]) -> None:
    """Print what a slip moves and breaks, and the least change found."""
    print(
        fill(
            message(
                N_(
                    "If {task} ends {days} working days late: tasks that move: {moved}; "
                    "dates that break: {broken}"
                ),
                task=found["task"],
                days=found["slip_days"],
                moved=len(found["moved"]),
                broken=sum(not one["before"] for one in found["broken"]),
            )
        )
    )
    late = sum(one["before"] for one in found["broken"])
    if late:
        print("  " + fill(message(N_("{count} dates are missed without this slip as well."), count=late)))
    for one in [one for one in found["broken"] if not one["before"]]:
        words = N_("{task} would end on {now}, {over} working days after {due}")
        print(
            "  "
            + fill(message(words, task=one["task"], now=one["now"], over=one["over_days"], due=one["due"]))
        )
    for one in found["repair"]:
        words = N_("Least change found: give {task} {days} working days less; {left} are left")
        print("  " + fill(message(words, task=one["task"], days=one["days"], left=one["left"])))
    if not found["repair_complete"]:
        print("  " + text(N_("No shorter work found keeps every date by law or directive: ask counsel.")))


def print_last_list(found: dict[str, Any]) -> None:
    """Print what differs from the last election's list."""
    print(text(N_("Compared with the last list:")))
    for name in found["added"]:
        print("  " + fill(message(N_("{task}: new"), task=name)))
    for name in found["gone"]:
        print("  " + fill(message(N_("{task}: no longer there"), task=name)))
    for one in found["changed"]:
        words = N_("{task}: {field} was {before}, is {now}")
        shown = {"before": one["before"] or "-", "now": one["now"] or "-"}
        print("  " + fill(message(words, task=one["task"], field=text(one["words"]), **shown)))
    if not (found["added"] or found["gone"] or found["changed"]):
        print("  " + text(N_("Nothing differs.")))
