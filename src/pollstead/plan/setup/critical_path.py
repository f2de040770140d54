"""Earliest and latest times of activities by precedence (the critical path method), and levelling by crew.

The method: Kelley and Walker, "Critical-path planning and scheduling", 1959 (from memory).
"""

from __future__ import annotations

import graphlib

from pollstead.election.values import Value, require


class Activity(Value, frozen=True, kw_only=True):
    """One piece of work: how long, how many people at once, what must be done before it."""

    id: str
    minutes: int
    people: int = 1
    after: tuple[str, ...] = ()


class Times(Value, frozen=True, kw_only=True):
    """Earliest and latest start and finish of one activity, in minutes from the start of the work."""

    id: str
    early_start: int
    early_finish: int
    late_start: int
    late_finish: int

    @property
    def slack(self) -> int:
        """How much later the activity may start without the whole work ending later."""
        return self.late_start - self.early_start

    @property
    def critical(self) -> bool:
        """Whether a delay of this activity delays the whole work."""
        return self.slack == 0


class WaitsForItself(ValueError):
    """Activities that wait for one another in a circle, so that none can begin; names them."""


def in_precedence(activities: tuple[Activity, ...]) -> tuple[Activity, ...]:
    """The activities so ordered that each comes after those it waits for; ties as given.

    Raises WaitsForItself naming the circle, ValueError naming an activity that is waited for and not there.
    """
    known = {activity.id: activity for activity in activities}
    sorter: graphlib.TopologicalSorter[str] = graphlib.TopologicalSorter()
    for activity in activities:
        for before in activity.after:
            require(before in known, f"activity {activity.id!r} waits for {before!r}, which is not there")
        sorter.add(activity.id, *activity.after)
    try:
        return tuple(known[name] for name in sorter.static_order())
    except graphlib.CycleError as error:
        circle = " → ".join(error.args[1])
        raise WaitsForItself(f"activities wait for one another in a circle: {circle}") from error


def critical_path(activities: tuple[Activity, ...]) -> tuple[Times, ...]:
    """The times of every activity, in the order given, with people enough for all at once.

    Raises as `in_precedence`.
    """
    ordered = in_precedence(activities)
    start: dict[str, int] = {}
    finish: dict[str, int] = {}
    for activity in ordered:
        start[activity.id] = max((finish[before] for before in activity.after), default=0)
        finish[activity.id] = start[activity.id] + activity.minutes
    end = max(finish.values(), default=0)
    late_finish = dict.fromkeys(finish, end)
    for activity in reversed(ordered):
        for before in activity.after:
            late_finish[before] = min(late_finish[before], late_finish[activity.id] - activity.minutes)
    return tuple(
        Times(
            id=a.id,
            early_start=start[a.id],
            early_finish=finish[a.id],
            late_start=late_finish[a.id] - a.minutes,
            late_finish=late_finish[a.id],
        )
        for a in activities
    )


def levelled(activities: tuple[Activity, ...], crew: int) -> dict[str, int]:
    """A start for every activity such that at no minute more than `crew` people are at work.

    A serial schedule: the activity with the least slack of those that may begin is placed first, as early as
    people allow. Not claimed to be the shortest. Raises ValueError where one activity needs more than `crew`.
    """
    for activity in activities:
        require(
            activity.people <= crew,
            f"activity {activity.id!r} needs {activity.people} people, the crew has {crew}",
        )
    slack = {times.id: (times.late_start, index) for index, times in enumerate(critical_path(activities))}
    by_id = {activity.id: activity for activity in activities}
    busy: list[int] = []
    start: dict[str, int] = {}
    waiting = set(by_id)
    while waiting:
        ready = [name for name in waiting if all(before in start for before in by_id[name].after)]
        activity = by_id[min(ready, key=lambda name: slack[name])]
        earliest = max((start[b] + by_id[b].minutes for b in activity.after), default=0)
        begin = _first_room(busy, activity, earliest, crew)
        busy += [0] * (begin + activity.minutes - len(busy))
        for minute in range(begin, begin + activity.minutes):
            busy[minute] += activity.people
        start[activity.id] = begin
        waiting.remove(activity.id)
    return start


def _first_room(busy: list[int], activity: Activity, earliest: int, crew: int) -> int:
    begin = earliest
    minute = begin
    while minute < begin + activity.minutes:
        if minute < len(busy) and busy[minute] + activity.people > crew:
            begin = minute + 1
        minute += 1
    return begin


def people_at_once(activities: tuple[Activity, ...], start: dict[str, int]) -> tuple[int, ...]:
    """How many people are at work in each minute, from the first to the last."""
    end = max((start[a.id] + a.minutes for a in activities), default=0)
    level = [0] * end
    for activity in activities:
        for minute in range(start[activity.id], start[activity.id] + activity.minutes):
            level[minute] += activity.people
    return tuple(level)
