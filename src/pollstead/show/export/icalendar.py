"""The calendar as one iCalendar file (RFC 5545): an all-day event for each task, holiday, change of clocks.

Names of owners come along only where the caller says so; telephone numbers never do.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator

from pollstead.election.county import Election
from pollstead.election.words import N_, message
from pollstead.plan.calendar.states import Standing, TaskState
from pollstead.show.calendar_words import (
    KIND_WORDS,
    NO_OWNER,
    clock_words,
    counted_from,
    is_owned_by,
    owner_words,
)
from pollstead.show.cautions import Place, for_place
from pollstead.show.words import fill, text
from pollstead.work.calendar_view import CalendarView

LONGEST_LINE = 75
"""Octets of a line without its end (RFC 5545, 3.1); longer ones are folded."""
PRODUCT = "-//Pollstead//Working-back calendar//EN"


def calendar_file(
    election: Election,
    view: CalendarView,
    *,
    owner: str = "",
    names: bool = False,
    alarm_days: int | None = None,
    language: str | None = None,
) -> bytes:
    """The file, for one owner (a person's id or a role) where given; the same input gives the same bytes.

    A task keeps its UID from one file to the next, so that a program which takes the file in again moves the
    event. `alarm_days` puts a reminder so many days before each open task.
    """
    key = hashlib.sha256(f"{election.county}\n{election.election_day}".encode()).hexdigest()[:16]
    stamp = f"{view.today:%Y%m%d}T000000Z"
    title = f"{election.county}, {election.name}"
    cautions = " ".join(text(caution.words, language) for caution in for_place(Place.CALENDAR))
    if election.practice:
        cautions = f"{text(N_('PRACTICE'), language)}. {cautions}"
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"]
    lines += [f"X-WR-CALNAME:{_escaped(title)}", f"X-WR-CALDESC:{_escaped(cautions)}"]
    for standing in view.standings:
        if not owner or is_owned_by(standing.task, owner):
            about = _about(election, view, standing, names, language)
            description = "\n".join((*about, cautions))
            lines += _event(
                f"task-{standing.task.id}-{key}",
                stamp,
                standing.dates.by,
                _summary(standing, language),
                description,
                tentative=standing.unconfirmed,
                alarm_days=None if standing.dates.done else alarm_days,
            )
    for name, date, summary in _days(election, view, language):
        lines += _event(f"{name}-{key}", stamp, date, summary, cautions)
    lines.append("END:VCALENDAR")
    return "".join(f"{folded}\r\n" for line in lines for folded in _folded(line)).encode("utf-8")


def _summary(standing: Standing, language: str | None) -> str:
    words = standing.task.words
    if standing.state is TaskState.DONE:
        return fill(message(N_("Done: {task}"), task=words), language)
    return words


def _about(
    election: Election, view: CalendarView, standing: Standing, names: bool, language: str | None
) -> Iterator[str]:
    task, dates = standing.task, standing.dates
    yield fill(
        message(N_("Task {id}, {counted}"), id=task.id, counted=counted_from(dates.by, view.election_day)),
        language,
    )
    owner = owner_words(task, election, names=names) or text(NO_OWNER, language)
    yield fill(message(N_("Owner: {owner}"), owner=owner), language)
    yield fill(
        message(N_("Where the date comes from: {kind}"), kind=text(KIND_WORDS[task.kind], language)), language
    )
    if task.bound:
        if task.confirmed and task.confirmed_on is not None:
            said = message(
                N_("Confirmed by {who} on {date}"), who=task.confirmed_by, date=task.confirmed_on.isoformat()
            )
        else:
            said = message(N_("Date not confirmed: call the office"))
        yield fill(said, language)
    if task.done_shown_by:
        yield fill(message(N_("Shown by: {evidence}"), evidence=task.done_shown_by), language)


def _days(election: Election, view: CalendarView, language: str | None) -> Iterator[tuple[str, dt.date, str]]:
    for holiday in election.holidays:
        words = N_("Office closed: {name}") if holiday.closed else N_("{name} (office works)")
        yield f"day-{holiday.date:%Y%m%d}", holiday.date, fill(message(words, name=holiday.name), language)
    for change in view.changes:
        yield f"clocks-{change.date:%Y%m%d}", change.date, fill(clock_words(change.shift_min), language)


def _event(
    uid: str,
    stamp: str,
    date: dt.date,
    summary: str,
    description: str,
    *,
    tentative: bool = False,
    alarm_days: int | None = None,
) -> list[str]:
    lines = [
        "BEGIN:VEVENT",
        f"UID:{uid}@pollstead.invalid",
        f"DTSTAMP:{stamp}",
        f"DTSTART;VALUE=DATE:{date:%Y%m%d}",
        f"DTEND;VALUE=DATE:{date + dt.timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{_escaped(summary)}",
        f"DESCRIPTION:{_escaped(description)}",
        f"STATUS:{'TENTATIVE' if tentative else 'CONFIRMED'}",
        "TRANSP:TRANSPARENT",
    ]
    if alarm_days is not None:
        lines += [
            "BEGIN:VALARM",
            "ACTION:DISPLAY",
            f"DESCRIPTION:{_escaped(summary)}",
            f"TRIGGER:-P{alarm_days}D",
            "END:VALARM",
        ]
    return [*lines, "END:VEVENT"]


def _escaped(value: str) -> str:
    """A TEXT value (RFC 5545, 3.3.11): backslash, semicolon, comma, line ends escaped; no controls."""
    value = value.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    value = value.replace("\r\n", "\n").replace("\n", "\\n")
    return "".join(char for char in value if char == "\t" or char.isprintable())


def _folded(line: str) -> Iterator[str]:
    """The line in pieces of at most 75 octets, each but the first after a blank; no letter is cut in two."""
    piece = ""
    for char in line:
        if len((piece + char).encode("utf-8")) > LONGEST_LINE:
            yield piece
            piece = " "
        piece += char
    yield piece
