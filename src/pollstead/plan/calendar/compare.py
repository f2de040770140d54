"""This election's list of tasks beside the last one's: what came, what went, what is dated or owned anew."""

from __future__ import annotations

from pollstead.election.calendar import Task
from pollstead.election.values import Value
from pollstead.election.words import N_

COMPARED = (
    ("offset_days", N_("Days from election day")),
    ("offset_counts", N_("How days count")),
    ("from_task", N_("Counted from")),
    ("roll", N_("On a day off")),
    ("timing", N_("By or on")),
    ("fixed_date", N_("Decided date")),
    ("kind", N_("Where the date comes from")),
    ("owner_role", N_("Role")),
    ("owner", N_("Person")),
    ("duration_days", N_("Days of work")),
    ("after", N_("Waits for")),
    ("source", N_("Source")),
)
"""Fields that are compared, with their words."""


class FieldChange(Value, frozen=True, kw_only=True):
    """One field of one task, before and now, as text; blank for none."""

    task: str
    field: str
    words: str
    before: str
    now: str


class ListDifference(Value, frozen=True, kw_only=True):
    """What differs between two lists of tasks, by id; `changed` in the order of ids, then of fields."""

    added: tuple[str, ...]
    gone: tuple[str, ...]
    changed: tuple[FieldChange, ...]

    @property
    def same(self) -> bool:
        """Whether nothing differs."""
        return not (self.added or self.gone or self.changed)


def compare_lists(before: tuple[Task, ...], now: tuple[Task, ...]) -> ListDifference:
    """What differs between the last list and this one."""
    old, new = {task.id: task for task in before}, {task.id: task for task in now}
    changed = [
        FieldChange(task=name, field=field, words=words, before=was, now=is_now)
        for name in sorted(old.keys() & new.keys())
        for field, words in COMPARED
        if (was := _text(old[name], field)) != (is_now := _text(new[name], field))
    ]
    return ListDifference(
        added=tuple(sorted(new.keys() - old.keys())),
        gone=tuple(sorted(old.keys() - new.keys())),
        changed=tuple(changed),
    )


def _text(task: Task, field: str) -> str:
    value = getattr(task, field)
    if value is None:
        return ""
    return " ".join(sorted(value)) if isinstance(value, tuple) else str(value)
