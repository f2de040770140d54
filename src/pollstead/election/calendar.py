"""The working-back calendar as facts: tasks with owners and dates counted from election day, and holidays.

Election day is day 0; a day before it is negative (E-45 is `offset_days` -45), a day after it positive.
"""

from __future__ import annotations

import datetime as dt
import enum

from pollstead.election.identity import require_part
from pollstead.election.values import Value, require


class DateKind(enum.StrEnum):
    """Where a date comes from; the county says so, nobody else."""

    LAW = "law"
    DIRECTIVE = "directive"
    POLICY = "policy"
    PRACTICE = "practice"


class Counted(enum.StrEnum):
    """Whether days are counted one by one, or only those on which the office works."""

    CALENDAR = "calendar days"
    WORKING = "working days"


class Roll(enum.StrEnum):
    """What becomes of a date that falls on a day on which the office is closed."""

    NONE = "none"
    NEXT = "next working day"
    PREVIOUS = "previous working day"
    NEAREST = "nearest working day"


class Timing(enum.StrEnum):
    """Whether the date is the last day for the task, or the day on which it happens."""

    BY = "by"
    ON = "on"


class WorkingWeek(enum.StrEnum):
    """The days of the week on which the office works."""

    MONDAY_TO_FRIDAY = "Monday to Friday"
    MONDAY_TO_THURSDAY = "Monday to Thursday"
    MONDAY_TO_SATURDAY = "Monday to Saturday"
    EVERY_DAY = "every day"

    @property
    def weekdays(self) -> frozenset[int]:
        """Monday is 0, as in `datetime.date.weekday`."""
        last = {
            WorkingWeek.MONDAY_TO_THURSDAY: 4,
            WorkingWeek.MONDAY_TO_FRIDAY: 5,
            WorkingWeek.MONDAY_TO_SATURDAY: 6,
            WorkingWeek.EVERY_DAY: 7,
        }
        return frozenset(range(last[self]))


def _one_of(name: str, value: str, known: type[enum.StrEnum]) -> None:
    words = [str(one.value) for one in known]
    require(value in words, f"{name} must be one of {', '.join(words)}, got {value!r}")


LONGEST_DAYS = 1_500


class Task(Value, frozen=True, kw_only=True):
    """One task of the calendar.

    Its date is `fixed_date` (a person's decision, with `fixed_reason`), else `offset_days` from election day
    or from the date of the task `from_task`; with neither it has no date of its own and is due when those
    that wait for it must begin. `after` are the tasks that must be done first. It takes `duration_days`
    (0: a moment). `owner` is a person's id. `done_shown_by` says what would show that it is done.
    """

    id: str
    words: str
    owner_role: str = ""
    owner: str = ""
    offset_days: int | None = None
    from_task: str = ""
    offset_counts: str = Counted.CALENDAR.value
    timing: str = Timing.BY.value
    roll: str = Roll.NONE.value
    duration_days: int = 1
    duration_counts: str = Counted.WORKING.value
    after: tuple[str, ...] = ()
    kind: str = DateKind.PRACTICE.value
    fixed_date: dt.date | None = None
    fixed_reason: str = ""
    source: str = ""
    confirmed_by: str = ""
    confirmed_on: dt.date | None = None
    done_shown_by: str = ""

    def __post_init__(self) -> None:
        require_part(self.id, "a task's id")
        _one_of("kind", self.kind, DateKind)
        _one_of("offset_counts", self.offset_counts, Counted)
        _one_of("duration_counts", self.duration_counts, Counted)
        _one_of("roll", self.roll, Roll)
        _one_of("timing", self.timing, Timing)
        require(
            0 <= self.duration_days <= LONGEST_DAYS,
            f"duration_days must be 0 to {LONGEST_DAYS}, got {self.duration_days}",
        )
        require(
            self.offset_days is None or abs(self.offset_days) <= LONGEST_DAYS,
            f"offset_days must be within {LONGEST_DAYS} days of election day, got {self.offset_days}",
        )
        require(
            self.fixed_date is None or bool(self.fixed_reason.strip()),
            f"the fixed date of {self.id} needs a reason",
        )
        require(self.id not in (*self.after, self.from_task), f"task {self.id} waits for itself")

    @property
    def bound(self) -> bool:
        """Whether law or a directive sets the date, as the county says."""
        return self.kind in (DateKind.LAW.value, DateKind.DIRECTIVE.value)

    @property
    def confirmed(self) -> bool:
        """Whether somebody confirmed the date by name and day."""
        return bool(self.confirmed_by.strip()) and self.confirmed_on is not None


class Holiday(Value, frozen=True, kw_only=True):
    """A day with a name. `closed` says that the office does not work on it; no leaves it an ordinary day."""

    date: dt.date
    name: str
    closed: bool = True
