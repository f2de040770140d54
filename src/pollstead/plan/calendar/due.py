"""The date of each task as the county's table gives it, with the steps that lead to it."""

from __future__ import annotations

import datetime as dt
import graphlib
import itertools
from collections.abc import Iterable, Mapping

from pollstead.election.calendar import Counted, Roll, Task
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.calendar.days import WorkingDays


class Step(Value, frozen=True, kw_only=True):
    """One step on the way to a date: what was done, and the date it gave."""

    text: Message
    date: dt.date | None = None


class Due(Value, frozen=True, kw_only=True):
    """The date of a task, None where its table gives none, and the steps to it."""

    task: str
    date: dt.date | None
    steps: tuple[Step, ...]


class Circle(Value, frozen=True, kw_only=True):
    """Tasks that wait for one another (`what` is ``after``) or count from one another (``from_task``)."""

    what: str
    tasks: tuple[str, ...]


Links = dict[str, tuple[str, ...]]


def without_circles(links: Mapping[str, Iterable[str]], what: str) -> tuple[Links, tuple[Circle, ...]]:
    """The links without those that close a circle, and every circle found; names not there are left out.

    All links of a circle are left out, since nobody knows which of them is wrong.
    """
    kept: Links = {
        name: tuple(other for other in dict.fromkeys(others) if other in links)
        for name, others in sorted(links.items())
    }
    circles: list[Circle] = []
    while True:
        try:
            tuple(graphlib.TopologicalSorter(kept).static_order())
        except graphlib.CycleError as error:
            # The names stand so that each is waited for by the next; the first comes again at the end.
            ring = tuple(str(name) for name in error.args[1])
            for before, name in itertools.pairwise(ring):
                kept[name] = tuple(other for other in kept[name] if other != before)
            least = ring.index(min(ring[:-1]))
            turned = ring[:-1][least:] + ring[:-1][:least]
            circles.append(Circle(what=what, tasks=tuple(reversed((*turned, turned[0])))))
            continue
        return kept, tuple(circles)


def due_dates(
    tasks: tuple[Task, ...], election_day: dt.date, days: WorkingDays
) -> tuple[dict[str, Due], tuple[Circle, ...]]:
    """The date of each task by its id, and the circles of tasks that count from one another."""
    by_id = {task.id: task for task in tasks}
    links, circles = without_circles(
        {task.id: (task.from_task,) if task.from_task else () for task in tasks}, "from_task"
    )
    found: dict[str, Due] = {}
    for name in graphlib.TopologicalSorter(links).static_order():
        task = by_id[name]
        anchored = not task.from_task or bool(links[name])
        found[name] = _due(
            task, election_day, days, found.get(task.from_task) if anchored else None, anchored
        )
    return {task.id: found[task.id] for task in tasks}, circles


def _due(task: Task, election_day: dt.date, days: WorkingDays, anchor: Due | None, anchored: bool) -> Due:
    if task.fixed_date is not None:
        said = message(N_("A person decided this date: {reason}"), reason=task.fixed_reason)
        return Due(task=task.id, date=task.fixed_date, steps=(Step(text=said, date=task.fixed_date),))
    if task.offset_days is None:
        said = message(N_("The table gives no date; it is due when the tasks that wait for it must begin."))
        return Due(task=task.id, date=None, steps=(Step(text=said),))
    base = election_day if not task.from_task else (anchor.date if anchor else None)
    if not anchored or base is None:
        said = message(N_("It counts from {task}, which gives no date."), task=task.from_task)
        return Due(task=task.id, date=None, steps=(Step(text=said),))
    steps = [_base(task, base, anchor)]
    raw = days.offset(base, task.offset_days, task.offset_counts)
    if task.offset_days:
        steps.append(Step(text=_counted(task.offset_days, task.offset_counts), date=raw))
    if not days.is_working(raw):
        steps.append(_rolled(task, raw, days))
    rolled = days.roll(raw, task.roll)
    return Due(task=task.id, date=rolled, steps=tuple(steps))


def _base(task: Task, base: dt.date, anchor: Due | None) -> Step:
    if anchor is None:
        return Step(text=message(N_("Election day is day 0.")), date=base)
    return Step(text=message(N_("It counts from {task}."), task=task.from_task), date=base)


def _counted(days: int, counted: str) -> Message:
    working = counted == Counted.WORKING.value
    if abs(days) == 1:
        if working:
            return message(N_("1 working day before it.") if days < 0 else N_("1 working day after it."))
        return message(N_("1 day before it.") if days < 0 else N_("1 day after it."))
    if working:
        template = N_("{n} working days before it.") if days < 0 else N_("{n} working days after it.")
    else:
        template = N_("{n} days before it.") if days < 0 else N_("{n} days after it.")
    return message(template, n=abs(days))


def _rolled(task: Task, raw: dt.date, days: WorkingDays) -> Step:
    if task.roll == Roll.NONE.value:
        return Step(
            text=message(N_("The office is closed then; the table says that the date stays.")), date=raw
        )
    moved = {
        Roll.NEXT.value: N_("The office is closed then; the table says: next working day."),
        Roll.PREVIOUS.value: N_("The office is closed then; the table says: previous working day."),
        Roll.NEAREST.value: N_("The office is closed then; the table says: nearest working day."),
    }
    return Step(text=message(moved[task.roll]), date=days.roll(raw, task.roll))
