"""Tables of the calendar: tasks counted back from election day, and holidays. Each may be left out."""

from __future__ import annotations

from pollstead.election.calendar import Holiday, Task
from pollstead.election.words import N_
from pollstead.intake.columns import Table, table_of

_OFFICIAL = N_("election official")

TABLES_OF_CALENDAR: tuple[Table, ...] = (
    table_of(
        "tasks",
        Task,
        N_("One row for each task of the calendar, with its owner and its date counted from election day."),
        {
            "id": N_("Short name of the task, never used again for another"),
            "words": N_("What is to be done, as its owner would say it"),
            "owner_role": N_("Role that owns it"),
            "owner": N_("Person who owns it, an id from people.csv; names decide over the role"),
            "offset_days": N_("Days from election day, which is 0; -45 is 45 days before it"),
            "from_task": N_("Task from whose date the days count instead; blank means election day"),
            "offset_counts": N_("How these days count: calendar days or working days"),
            "timing": N_("by: the last day for it; on: the day on which it happens"),
            "roll": N_(
                "Where the date falls on a day off: none, next working day, previous working day or "
                "nearest working day"
            ),
            "duration_days": N_("Days of work it takes; 0 is a moment"),
            "duration_counts": N_("How these days count: working days or calendar days"),
            "after": N_("Tasks that must be done first, ids from this table"),
            "kind": N_("Where the date comes from: law, directive, policy or practice"),
            "fixed_date": N_("Date that a person decided; it stands in place of the counted one"),
            "fixed_reason": N_("Reason for the decided date"),
            "source": N_("Where the date is written down"),
            "confirmed_by": N_("Who confirmed the date, such as counsel"),
            "confirmed_on": N_("Date of the confirmation"),
            "done_shown_by": N_("What shows that it is done"),
        },
        ids=("id", "from_task"),
        owner=_OFFICIAL,
    ),
    table_of(
        "holidays",
        Holiday,
        N_("Holidays and other days with a name; the county types them in."),
        {
            "date": N_("Date"),
            "name": N_("Name of the day"),
            "closed": N_("yes where the office does not work on it; blank means yes"),
        },
        owner=_OFFICIAL,
    ),
)
