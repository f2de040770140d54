"""What if a task slips: what moves, which dates break, and the least change found that keeps them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import msgspec

from pollstead.election.calendar import Counted, Task
from pollstead.election.values import Value, require
from pollstead.plan.calendar.days import ONE_DAY, WorkingDays
from pollstead.plan.calendar.network import Done, Network

MOST_SLIP_DAYS = 365
MOST_STEPS = 60


class Moved(Value, frozen=True, kw_only=True):
    """A task whose earliest end moves."""

    task: str
    before: dt.date
    now: dt.date


class Broken(Value, frozen=True, kw_only=True):
    """A task that would end after its date; `over_days` are working days, at least 1.

    `before` says that it would end too late without the slip as well.
    """

    task: str
    due: dt.date
    now: dt.date
    over_days: int
    bound: bool
    before: bool


class Shortened(Value, frozen=True, kw_only=True):
    """A task that is given `days` working days less; `left` are those that remain."""

    task: str
    days: int
    left: int


class WhatIf(Value, frozen=True, kw_only=True):
    """What a slip does. `absorbed`: nothing else moves and no date breaks.

    `repair` keeps every date by law or directive that the slip alone breaks; `repair_complete` is False
    where not even these changes keep them all: then somebody asks counsel.
    """

    task: str
    slip_days: int
    absorbed: bool
    moved: tuple[Moved, ...]
    broken: tuple[Broken, ...]
    repair: tuple[Shortened, ...]
    repair_complete: bool


def what_if_slips(
    tasks: tuple[Task, ...],
    election_day: dt.date,
    days: WorkingDays,
    *,
    task: str,
    slip_days: int,
    begin: dt.date,
    done: tuple[Done, ...] = (),
) -> WhatIf:
    """What happens where `task` ends `slip_days` working days later than it could, from `begin` on.

    A task ends, in this comparison, as late as its date or those that wait for it allow: people use the time
    that they have. Raises ValueError for an unknown task or a slip that is not 1 to 365 days.
    """
    require(any(one.id == task for one in tasks), f"no task has the id {task!r}")
    require(1 <= slip_days <= MOST_SLIP_DAYS, f"a slip must be 1 to {MOST_SLIP_DAYS} days, got {slip_days}")
    finished = {one.task: one.on for one in done}
    network = Network(tasks, election_day, days)
    latest, planned = network.backward(network.last_date, finished)
    plan = _Plan(
        election_day=election_day,
        days=days,
        boundary=begin - ONE_DAY,
        done=finished,
        latest=latest,
        planned=planned,
        slipping=task,
        slip_days=slip_days,
    )
    before, now = plan.ends(network, slips=False), plan.ends(network, slips=True)
    moved = tuple(
        Moved(task=name, before=before[name], now=now[name])
        for name in network.tasks
        if now[name] != before[name]
    )
    broken = plan.broken(network)
    repair, complete = _repair(plan, tasks, _all_behind(network, task))
    return WhatIf(
        task=task,
        slip_days=slip_days,
        absorbed=len(moved) <= 1 and all(one.before for one in broken),
        moved=tuple(sorted(moved, key=lambda one: (one.now, one.task))),
        broken=broken,
        repair=repair,
        repair_complete=complete,
    )


@dataclass(frozen=True, kw_only=True)
class _Plan:
    """The ends that people plan with, and the slip; stays the same while other durations are tried."""

    election_day: dt.date
    days: WorkingDays
    boundary: dt.date
    done: dict[str, dt.date]
    latest: dict[str, dt.date]
    planned: dict[str, dt.date]
    slipping: str
    slip_days: int

    def ends(self, network: Network, *, slips: bool) -> dict[str, dt.date]:
        """The end of each task where nobody hurries: as planned, or later where what it waits for is."""
        ends: dict[str, dt.date] = {}
        for name in network.order:
            if name in self.done:
                ends[name] = self.done[name]
                continue
            at = max([self.boundary, *(ends[first] for first in network.before[name])])
            ends[name] = max(network.ends(name, at, self.boundary, self.latest), self.planned[name])
            if slips and name == self.slipping:
                ends[name] = self.days.advance(ends[name], self.slip_days)
        return ends

    def broken(self, network: Network) -> tuple[Broken, ...]:
        """The tasks that end after their date, those by law and directive first."""
        before, now = self.ends(network, slips=False), self.ends(network, slips=True)
        found = []
        for name, task in network.tasks.items():
            due = network.dues[name].date
            if name in self.done or due is None or now[name] <= due:
                continue
            found.append(
                Broken(
                    task=name,
                    due=due,
                    now=now[name],
                    over_days=max(self.days.between(due, now[name]), 1),
                    bound=task.bound,
                    before=before[name] > due,
                )
            )
        return tuple(sorted(found, key=lambda one: (not one.bound, one.due, one.task)))

    def over(self, tasks: tuple[Task, ...]) -> int:
        """Working days by which the slip misses dates of law and directive that were kept before."""
        broken = self.broken(Network(tasks, self.election_day, self.days))
        return sum(one.over_days for one in broken if one.bound and not one.before)


def _repair(
    plan: _Plan, tasks: tuple[Task, ...], behind: frozenset[str]
) -> tuple[tuple[Shortened, ...], bool]:
    """The fewest days found to take from the work behind the slip; from one task alone where one is enough.

    Each try computes the calendar anew. Days come from tasks that are not done and keep at least one day.
    """
    missing = plan.over(tasks)
    if not missing:
        return (), True
    may_give = {
        task.id: task.duration_days - 1
        for task in tasks
        if task.id in behind
        and task.id != plan.slipping
        and task.id not in plan.done
        and task.duration_days > 1
        and task.duration_counts == Counted.WORKING.value
    }
    best: tuple[int, str] | None = None
    for name, most in may_give.items():
        for less in range(1, min(most, MOST_STEPS) + 1):
            if best is not None and less >= best[0]:
                break
            if not plan.over(_shorter(tasks, {name: less})):
                best = (less, name)
    if best is not None:
        return _named(tasks, {best[1]: best[0]}), True
    given: dict[str, int] = {}
    while missing and sum(given.values()) < MOST_STEPS:
        tries = [
            (plan.over(_shorter(tasks, {**given, name: given.get(name, 0) + 1})), name)
            for name, most in may_give.items()
            if given.get(name, 0) < most
        ]
        if not tries or min(tries)[0] >= missing:
            break
        missing, chosen = min(tries)
        given[chosen] = given.get(chosen, 0) + 1
    return _named(tasks, given), not missing


def _shorter(tasks: tuple[Task, ...], given: dict[str, int]) -> tuple[Task, ...]:
    return tuple(
        msgspec.structs.replace(task, duration_days=task.duration_days - given[task.id])
        if task.id in given
        else task
        for task in tasks
    )


def _named(tasks: tuple[Task, ...], given: dict[str, int]) -> tuple[Shortened, ...]:
    length = {task.id: task.duration_days for task in tasks}
    return tuple(
        Shortened(task=name, days=less, left=length[name] - less) for name, less in sorted(given.items())
    )


def _all_behind(network: Network, name: str) -> frozenset[str]:
    """`name` and every task that waits for it, directly or through others."""
    found, waiting = {name}, [name]
    while waiting:
        for behind in network.behind[waiting.pop()]:
            if behind not in found:
                found.add(behind)
                waiting.append(behind)
    return frozenset(found)
