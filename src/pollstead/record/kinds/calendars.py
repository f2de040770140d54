"""Events of the calendar: a task is done, with what shows it; a task is open again."""

from __future__ import annotations

from typing import Annotated, ClassVar

from msgspec import Meta

from pollstead.record.kinds.body import Body, Nature, Private, Reason, Sentence

IsoDate = Annotated[str, Meta(pattern=r"^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])\Z")]


class Evidence(Private, frozen=True, omit_defaults=True):
    """What shows that the task is done, in the person's own words."""

    evidence: Sentence


class TaskDone(Body, frozen=True, omit_defaults=True):
    """``task.done``: a person says that a task of the calendar is done since the date `on`.

    Subject: the task. What shows it stands in the private part.
    """

    kind: ClassVar[str] = "task.done"
    nature: ClassVar[Nature] = Nature.DECISION
    fact: ClassVar[str] = "task"
    private: ClassVar[type[Private] | None] = Evidence
    private_required: ClassVar[bool] = True
    subjects: ClassVar[tuple[str, ...]] = ("task",)

    on: IsoDate


class TaskReopened(Body, frozen=True, omit_defaults=True):
    """``task.reopened``: a task that was said to be done is open again. Subject: the task."""

    kind: ClassVar[str] = "task.reopened"
    nature: ClassVar[Nature] = Nature.DECISION
    fact: ClassVar[str] = "task"
    private: ClassVar[type[Private] | None] = Reason
    private_required: ClassVar[bool] = True
    subjects: ClassVar[tuple[str, ...]] = ("task",)
